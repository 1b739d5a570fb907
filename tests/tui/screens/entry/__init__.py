"""Tests of the entry screen."""
