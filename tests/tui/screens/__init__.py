"""Tests of the screens, one folder a screen."""
