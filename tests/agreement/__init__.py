"""Agreement between raters."""
