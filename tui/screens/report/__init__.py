"""The report of a session on screen: read it, save it, copy it."""
