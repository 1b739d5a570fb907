"""Tests of exports and imports."""
