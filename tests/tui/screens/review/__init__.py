"""Tests of the review screen."""
