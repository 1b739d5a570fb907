"""The entry screen: one station at a time, everything else in view."""
