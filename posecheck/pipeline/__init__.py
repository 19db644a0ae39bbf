"""The stages strung together: one clip, many clips, judging again."""
