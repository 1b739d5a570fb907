"""Tests of comparing sessions, treatment dates and the worklist."""
