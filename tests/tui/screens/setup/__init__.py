"""Tests of the setup screen."""
