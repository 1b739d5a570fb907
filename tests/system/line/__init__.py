"""Tests of losing the line: however the program ends, the terminal and the data are whole."""
