"""The coach's rulings against the machine's calls, and the limits that they imply."""
