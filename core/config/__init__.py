"""The clinic's own: settings, muscle groups, checklists, measurement errors."""
