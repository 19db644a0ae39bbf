"""Clips and their frames."""
