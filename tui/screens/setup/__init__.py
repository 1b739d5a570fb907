"""The set-up of a session: who, what, under which conditions, and the cautions."""
