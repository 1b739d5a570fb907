"""Tests of the fall, the pace screen and the timed speed."""
