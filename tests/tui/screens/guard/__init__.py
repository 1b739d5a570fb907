"""Tests of the questions and the lock before patients are shown."""
