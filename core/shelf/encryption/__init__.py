"""An encrypted shelf: its key file, its cipher, switching it on and off."""
