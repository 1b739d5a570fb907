"""Many patients at once: treatment cycles, muscle groups and windows."""
