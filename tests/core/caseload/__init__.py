"""Tests of many patients at once."""
