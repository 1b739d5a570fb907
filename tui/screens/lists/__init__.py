"""Checklists made and changed in the program."""
