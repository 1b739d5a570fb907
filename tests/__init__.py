"""Tests of limbscribe; the folders mirror those of the source."""

from pathlib import Path

ROOT = Path(__file__).parents[1]
"""The checkout."""
