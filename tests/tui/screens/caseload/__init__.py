"""Tests of the caseload screen."""
