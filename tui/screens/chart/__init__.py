"""The chart of one patient: trends, numbers and sessions."""
