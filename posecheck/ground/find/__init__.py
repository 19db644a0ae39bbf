"""Known points of the field, found in the picture."""
