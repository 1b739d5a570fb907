"""Tests of the lists screen."""
