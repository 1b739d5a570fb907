"""Tests of the drill."""
