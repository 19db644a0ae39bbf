"""Long films scanned for the stretches that may hold a rep."""
