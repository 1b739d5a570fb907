"""Tests of the events screen."""
