"""The matrix: terminals, locales, sizes and colours, each walked through from start to end."""
