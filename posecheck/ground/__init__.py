"""Pixels to metres: the camera, the field's known points, players on the ground."""
