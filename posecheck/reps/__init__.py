"""A clip cut into reps, and the moments of each."""
