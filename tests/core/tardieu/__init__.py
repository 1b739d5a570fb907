"""Tests of the scale itself."""
