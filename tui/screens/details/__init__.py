"""The form that puts a patient's details right."""
