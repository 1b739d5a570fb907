"""Work on all charts of a shelf at once: backup, restore, verify, erase, set aside."""
