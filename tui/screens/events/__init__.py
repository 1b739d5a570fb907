"""Treatment dates of one patient: the list of events, a new one, striking a wrong one."""
