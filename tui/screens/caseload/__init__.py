"""Many patients at once."""
