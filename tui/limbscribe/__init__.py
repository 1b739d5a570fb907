"""Keyboard entry and records for Tardieu-scale measurements of spasticity, in a terminal."""

__version__ = "0.1.0"
