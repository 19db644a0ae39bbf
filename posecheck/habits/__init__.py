"""Habits of players over practices: means with error bars, and what may be called a change."""
