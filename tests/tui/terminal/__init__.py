"""Tests of what talks to the terminal."""
