"""Trends and pairs of ratings drawn as lines of text; frame.py alone knows plotext."""
