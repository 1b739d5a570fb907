"""Handing records over: CSV, wide CSV, data package, FHIR, and tables of other people."""
