"""Data sets: rows of single pictures and of clips, as Parquet, and how they are read."""
