"""What is kept: one SQLite database and the keypoints beside it."""
