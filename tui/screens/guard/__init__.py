"""What guards against the wrong patient: the code typed again, and the lock of an idle screen."""
