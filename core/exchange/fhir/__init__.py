"""Readings and treatment dates as FHIR R4 resources."""
