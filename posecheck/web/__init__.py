"""Pages served on this machine only."""
