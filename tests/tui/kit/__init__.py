"""Tests of what screens are made of."""
