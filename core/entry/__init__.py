"""Typing a session: a frozen state, one key, a new state. Pure."""
