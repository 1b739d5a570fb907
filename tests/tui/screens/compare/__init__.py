"""Tests of the compare screen."""
