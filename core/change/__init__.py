"""What happened between sessions: comparison, trend, history, who is due."""
