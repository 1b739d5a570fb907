"""Work on a shelf as a whole: backup, restore, verify, erase, set aside."""
