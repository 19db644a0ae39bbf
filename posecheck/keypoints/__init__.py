"""Keypoints: the pose model, its set-up, and the arrays it gives."""
