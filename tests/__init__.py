"""Tests of limbscribe."""
