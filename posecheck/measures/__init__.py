"""The measures of a rep: pure functions of arrays."""
