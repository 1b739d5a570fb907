"""Attacks that worked once, and the classes they belong to."""
