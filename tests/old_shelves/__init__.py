"""Shelves, journals and backups made by earlier versions, and what they have to read as."""
