"""Correcting a closed session."""
