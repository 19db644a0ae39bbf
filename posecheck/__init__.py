"""posecheck: breakdown stance and closeout, measured from practice clips."""

__version__ = "0.3.0"
