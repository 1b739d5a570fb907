"""The pace screen: cues at V1 and V2, and the speed of a stretch by two taps."""
