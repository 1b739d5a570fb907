"""Tests of settings and own lists."""
