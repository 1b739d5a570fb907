"""Tests of the encrypted shelf."""
