"""Tests of keymap and key profiles."""
