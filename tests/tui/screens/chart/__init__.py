"""Tests of the chart screen."""
