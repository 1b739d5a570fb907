"""Tests of keys, settings, checklists made in the app, and the commands about them."""
