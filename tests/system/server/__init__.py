"""A shelf on a server that fails, is attacked, or is far away."""
