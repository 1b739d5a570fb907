"""Text made to act on the terminal, through every screen and command."""
