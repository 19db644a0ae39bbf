"""How far off the figures are, on film of known truth; how fast a check is."""
