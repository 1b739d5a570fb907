"""Amendments, history, and what notices that a record was tampered with."""
