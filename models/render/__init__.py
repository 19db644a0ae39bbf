"""Renders the sample practice: bodies, motion, outfits, field, film."""
