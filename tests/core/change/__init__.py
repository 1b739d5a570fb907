"""Tests of what happened between sessions."""
