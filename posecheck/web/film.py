"""Frames of a practice's clips for a page to step through."""

from __future__ import annotations

import threading
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import numpy as np

from posecheck.errors import UsageError
from posecheck.files.names import is_text
from posecheck.maths.timeline import nearest_frame
from posecheck.practice.practice import Practice
from posecheck.video.clip import Clip, open_clip
from posecheck.web.tuning import FRAME_WIDTH_PX, KEPT_FRAMES


class Film:
    """The clips of one practice, decoded by one at a time: a browser asks for several at once.

    Args:
        practice: whose clips.
        clips: the files; one whose name is no text cannot be asked for, and is left out.
    """

    def __init__(self, practice: Practice, clips: Iterable[Path]) -> None:
        self.lock = threading.Lock()
        by_key = {practice.clip_key(path): path for path in clips}
        self.paths = {key: path for key, path in by_key.items() if is_text(key)}
        self._practice = practice
        self._clips: dict[str, Clip] = {}
        self._frames: dict[tuple[str, int], bytes] = {}

    def clip(self, key: str) -> Clip:
        """A clip by its key; hold :attr:`lock` meanwhile.

        Raises:
            ClipError: it cannot be read.
            UsageError: there is no such clip.
        """
        if key not in self.paths:
            raise UsageError(f"{key}: there is no such clip; reload the page.")
        if key not in self._clips:
            path = self.paths[key]
            self._clips[key] = open_clip(path, self._practice.slow_motion_for(path))
        return self._clips[key]

    def about(self, key: str) -> dict[str, Any]:
        """A clip's picture size, its length, and the time of each frame.

        Raises:
            ClipError: it cannot be read.
            UsageError: there is no such clip.
        """
        with self.lock:
            clip = self.clip(key)
        return {"size": [clip.width_px, clip.height_px], "t_s": clip.t_s.round(4).tolist()}

    def frame(self, key: str, time_s: float) -> bytes:
        """The frame nearest to a moment, as JPEG.

        Raises:
            ClipError: it cannot be read.
            UsageError: there is no such clip.
        """
        import cv2

        with self.lock:
            clip = self.clip(key)
            index = nearest_frame(clip.t_s, time_s)
            if (key, index) not in self._frames:
                which = np.arange(clip.n_frames) == index
                picture = next(clip.frames(which=which)).rgb
                shrink = min(1.0, FRAME_WIDTH_PX / clip.width_px)
                size = (round(clip.width_px * shrink), round(clip.height_px * shrink))
                small = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
                _, jpeg = cv2.imencode(".jpg", cv2.cvtColor(small, cv2.COLOR_RGB2BGR))
                while len(self._frames) >= KEPT_FRAMES:
                    self._frames.pop(next(iter(self._frames)))
                self._frames[key, index] = jpeg.tobytes()
            return self._frames[key, index]
