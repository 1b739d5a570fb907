"""Withdrawing a closed session, or moving it to the chart of another patient."""
