"""Tests of one patient's record."""
