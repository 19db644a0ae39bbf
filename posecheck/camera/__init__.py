"""The camera: where it stands and looks, and how the picture moves."""
