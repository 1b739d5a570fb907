"""The command line: one file a command, none of which knows Textual unless the app opens."""
