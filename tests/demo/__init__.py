"""Tests of the invented clinic and the simulations."""
