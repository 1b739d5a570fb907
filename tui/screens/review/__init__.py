"""The review: every station in one table, before the session is closed and afterwards."""
