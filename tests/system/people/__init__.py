"""Tests of several people at work at once: nothing lost, nothing doubled, nothing unreadable."""
