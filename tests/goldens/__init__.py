"""Text of whole screens, kept word for word."""
