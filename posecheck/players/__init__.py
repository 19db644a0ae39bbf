"""Find the people in a clip, follow them, and say who is defending."""
