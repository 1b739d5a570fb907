"""Two sessions of a chart side by side."""
