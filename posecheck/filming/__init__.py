"""How good the film of a rep is, and what would make it better."""
