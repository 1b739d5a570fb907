"""What leaves the program: readings as CSV rows and as JSON."""
