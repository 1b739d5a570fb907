"""What screens are made of: canvas, styles, forms, help."""
