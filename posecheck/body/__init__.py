"""The body as it is seen: views along the line of sight, nets, the stance over time."""
