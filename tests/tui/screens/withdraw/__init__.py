"""Withdrawing and moving sessions in the program."""
