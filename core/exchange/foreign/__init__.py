"""Tables of other programs, read with a mapping that the user describes."""
