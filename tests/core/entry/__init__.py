"""Tests of typing a session."""
