"""Landmarks of defender and attacker through a clip: which frames are read, and smoothing."""
