"""Shared test set-up."""
