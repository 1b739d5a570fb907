"""Wrong patient, wrong side, idle screen."""
