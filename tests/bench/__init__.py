"""Figures to print, not to assert."""
