"""Small pieces of mathematics on plain arrays."""
