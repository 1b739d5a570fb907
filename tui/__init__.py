"""The terminal front of limbscribe: the Textual app and the command line."""
