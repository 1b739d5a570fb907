"""Tests of the form for details."""
