"""Scores: what readings are worth, as data frames."""
