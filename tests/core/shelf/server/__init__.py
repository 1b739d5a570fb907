"""Tests of a shelf in PostgreSQL, by servers of our own."""
