"""Tests of the report screen."""
