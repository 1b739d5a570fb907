"""A shelf in PostgreSQL."""
