"""Keeping records: verify, backup, restore, erase."""
