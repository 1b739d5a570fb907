"""Tests of agreement between raters."""
