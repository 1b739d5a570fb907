"""A shelf in PostgreSQL: the same documents, journals and records of erasing, in tables."""
