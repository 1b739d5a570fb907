"""Trends: what is drawn, with which signs, and where events and bands come from."""
