"""Tests of the whole program, and of what goes wrong around it."""
