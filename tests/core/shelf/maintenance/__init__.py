"""Tests of verify, backup, restore, salvage and erase."""
