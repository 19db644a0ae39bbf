"""Keypoints: the landmarks of defender and attacker through a clip, read and smoothed."""
