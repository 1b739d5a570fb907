"""Tests of the opening screen."""
