"""Agreement between raters, from the pairs of sessions on the shelf."""
