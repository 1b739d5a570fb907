"""Tests of the raters screen."""
