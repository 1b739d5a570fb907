"""Tests of installing the program away from any index."""
