"""Truth from two or more phones that filmed the same rep."""
