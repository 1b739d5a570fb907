"""One folder a screen."""
