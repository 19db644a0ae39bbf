"""Files: their names, settings written by people, whole-file writes, digests."""
