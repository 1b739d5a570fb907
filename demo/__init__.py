"""An invented clinic to try limbscribe on, and the scripts that measure it."""
