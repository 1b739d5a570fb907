"""Tests of the drill screen."""
