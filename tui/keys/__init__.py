"""What keys do: the keymap, profiles for other hands, the tables of keys."""
