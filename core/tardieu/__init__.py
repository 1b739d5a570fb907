"""The scale itself: angles, readings, checks, reference ranges, measurement error, falls. Pure."""
