"""A shelf on a server."""
