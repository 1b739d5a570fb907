"""Files for other programs: CSV, JSON, FHIR, foreign tables."""
