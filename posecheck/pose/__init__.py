"""The pose model: its files, its landmarks, reading a picture."""
