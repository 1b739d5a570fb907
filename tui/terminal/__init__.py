"""What talks to the terminal: line, paste, type-ahead, output."""
