"""Tests of the pace screen."""
