"""Tests of the drawn trends."""
