"""Builders of invented records and drivers of the program, shared by all tests."""
