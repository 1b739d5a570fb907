"""The domain of limbscribe: angles, readings, checks and records, without any screen."""
