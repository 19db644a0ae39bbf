"""posecheck: breakdown stance and closeout, measured from practice clips."""

__version__ = "0.4.0"
