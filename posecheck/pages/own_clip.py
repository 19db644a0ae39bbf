"""The film of one rep for the player it is of: he alone is sharp, and it says nothing of itself.

No sound, no tags, no times of day, no word of the encoder's; pictures hold pixels and nothing
else. How far others are blurred, and what is not promised, stands in ``blurring.py``.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

import cv2
import numpy as np
import numpy.typing as npt

from posecheck.errors import UnreadableClip
from posecheck.maths.arrays import FloatArray
from posecheck.maths.boxes import overlap
from posecheck.maths.timeline import nearest_frame
from posecheck.measures.result import RepResult, Series
from posecheck.pages import overlay
from posecheck.pages.blurring import cell_px, shown_alone
from posecheck.pages.cut import Cut
from posecheck.pages.tuning import (
    BRIDGED_S,
    CLIP_MAX_RATE_HZ,
    HIMSELF_OVERLAP,
    JPEG_QUALITY,
    OTHERS_MARGIN,
    OWN_CLIP_PX,
    OWN_CLIP_RATE_HZ,
    OWN_LEAD_HEIGHTS,
    OWN_WINDOW_HEIGHTS,
    OWN_WINDOW_LEAST_PX,
    OWN_WINDOW_S,
    POST_DASHES,
    SLOW_WINDOW_S,
)
from posecheck.players.track import Followed
from posecheck.pose.skeleton import SKELETON
from posecheck.video.clip import Clip
from posecheck.video.own_film import METADATA

Picture = npt.NDArray[np.uint8]

_FEET = SKELETON.indices("left_ankle", "right_ankle")
_HEAD = SKELETON.indices("left_ear", "right_ear")
_TIME_BASE = Fraction(1, 90_000)
_SEI = 6
"""The unit of an H.264 stream in which the encoder writes about itself.

Source: definition (ITU-T H.264, table 7-1)
"""


@dataclass(frozen=True)
class OwnFilm:
    """A rep's film for its player.

    Attributes:
        mp4: H.264, ``OWN_CLIP_PX`` wide and high.
        jpeg: its frame at arrival, or in its middle when arrival was not seen; the same size.
    """

    mp4: bytes
    jpeg: bytes


def own_film(clip: Clip, rep: RepResult, followed: Followed) -> OwnFilm:
    """Draw the film of a rep, from its start to its end, for the player it is of.

    Args:
        clip: the film.
        rep: what was measured in it.
        followed: everybody in the clip.

    Raises:
        UnreadableClip: the clip has changed or vanished, or has no frame within the rep.
    """
    still_s = rep.picture_t_s if rep.picture_t_s is not None else rep.rep.arrival_s
    if still_s is None:
        still_s = (rep.rep.start_s + rep.rep.end_s) / 2
    still: tuple[float, Picture] | None = None

    def noting_the_still() -> Iterator[tuple[float, Picture]]:
        nonlocal still
        for t_s, picture in _pictures(clip, rep, followed):
            if still is None or abs(t_s - still_s) < abs(still[0] - still_s):
                still = t_s, picture
            yield t_s, picture

    mp4 = _encoded(noting_the_still())
    if still is None:
        raise UnreadableClip(clip.path, "no frame of the rep is left in it", "check the clip again")
    bgr = cv2.cvtColor(still[1], cv2.COLOR_RGB2BGR)
    _, jpeg = cv2.imencode(".jpg", bgr, [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY])
    return OwnFilm(mp4, jpeg.tobytes())


def others_px(followed: Followed, rep: RepResult) -> list[FloatArray]:
    """Where everybody else is in each frame of the rep.

    Whoever is lost for a while counts as still where he was seen last, or will be seen next.

    Args:
        followed: everybody in the clip.
        rep: gives the landmarks of the player and of his attacker.

    Returns:
        For each frame of the rep's series the boxes ``(n_others, 4)``.
    """
    series = rep.series
    frames = np.array([nearest_frame(followed.t_s, t_s) for t_s in series.t_s], dtype=int)
    himself = _around(series.defender_xy_px)
    tracks = [track.box_xyxy[frames] for track in followed.tracks]
    others = [
        _filled(boxes, series.t_s)
        for boxes in [*tracks, _around(series.attacker_xy_px)]
        if not _same(boxes, himself)
    ]
    return [
        np.array([each[i] for each in others if np.isfinite(each[i]).all()]).reshape(-1, 4)
        for i in range(len(series.t_s))
    ]


def standing_px(series: Series) -> FloatArray:
    """``(n,)`` about how tall the defender stands in the picture, NaN when not seen for a while."""
    seen = np.isfinite(series.defender_xy_px[..., 1])
    rows = series.defender_xy_px[..., 1]
    top = np.where(seen, rows, np.inf).min(axis=1)
    bottom = np.where(seen, rows, -np.inf).max(axis=1)
    tall = np.where(seen.any(axis=1), bottom - top, np.nan)
    result = np.full(len(tall), np.nan)
    for i, now_s in enumerate(series.t_s):
        near = tall[np.abs(series.t_s - now_s) <= OWN_WINDOW_S]
        if np.isfinite(near).any():
            result[i] = np.nanmax(near)
    return result


def _pictures(clip: Clip, rep: RepResult, followed: Followed) -> Iterator[tuple[float, Picture]]:
    """Painted frames with their times in the clip."""
    series = rep.series
    if len(series.t_s) == 0:
        return
    tall, boxes = standing_px(series), others_px(followed, rep)
    cuts = windows(series, tall, (clip.width_px, clip.height_px))
    outlines, attacker = (
        bridged(series.t_s, xy_px) for xy_px in (series.defender_xy_px, series.attacker_xy_px)
    )
    half_frame = 0.51 * (float(np.median(np.diff(series.t_s))) if len(series.t_s) > 1 else 0.0)
    last = -np.inf
    for frame in clip.frames(series.t_s[0] - half_frame, series.t_s[-1] + half_frame):
        arrives = rep.rep.arrival_s is not None and (
            SLOW_WINDOW_S[0] <= frame.t_s - rep.rep.arrival_s <= SLOW_WINDOW_S[1]
        )
        rate_hz = CLIP_MAX_RATE_HZ if arrives else OWN_CLIP_RATE_HZ
        if frame.t_s - last < 0.9 / rate_hz:
            continue
        last = frame.t_s
        i = nearest_frame(series.t_s, frame.t_s)
        if abs(series.t_s[i] - frame.t_s) > half_frame:
            continue  # a frame that was not measured: where he is in it is not known
        body = series.defender_xy_px[i]
        cut = cuts[i]
        corner = np.array([cut.left, cut.top])
        alone = shown_alone(
            frame.rgb[cut.top : cut.bottom, cut.left : cut.right],
            outlines[i] - corner,
            tall[i],
            boxes[i] - np.tile(corner, 2),
            cell_px(clip.height_px, tall[i]),
        )
        large = cv2.resize(alone, OWN_CLIP_PX, interpolation=cv2.INTER_CUBIC)
        picture = with_post(large.astype(np.uint8), cut.points(attacker[i]))
        yield frame.t_s, overlay.draw_body(picture, cut.points(body))


def bridged(t_s: FloatArray, xy_px: FloatArray) -> FloatArray:
    """Landmarks ``(n, 33, 2)`` with gaps of up to ``BRIDGED_S`` filled in a straight line.

    For the outline and the attacker's upright only: he is not blurred for the frames in which a
    landmark was not believed.
    """
    filled = xy_px.copy()
    for joint in range(xy_px.shape[1]):
        known = np.flatnonzero(np.isfinite(xy_px[:, joint]).all(axis=1))
        for before, after in pairwise(known):
            if after - before > 1 and t_s[after] - t_s[before] <= BRIDGED_S:
                gap = np.arange(before + 1, after)
                share = ((t_s[gap] - t_s[before]) / (t_s[after] - t_s[before]))[:, None]
                step = xy_px[after, joint] - xy_px[before, joint]
                filled[gap, joint] = xy_px[before, joint] + share * step
    return filled


def windows(series: Series, tall: FloatArray, size_px: tuple[int, int]) -> list[Cut]:
    """The piece of each frame that is shown, always of about the same size.

    He stands in it as far off the middle as holds the attacker's place when he arrives.

    Args:
        series: gives the landmarks of the player and of his attacker.
        tall: ``(n,)`` from :func:`standing_px`.
        size_px: width and height of the film.
    """
    width, height = OWN_CLIP_PX
    t_s, most = series.t_s, min(size_px)
    boxes = _filled(_around(series.defender_xy_px), t_s)
    if not np.isfinite(boxes).all():
        boxes = np.tile([0.0, 0.0, *size_px], (len(t_s), 1))
    middle = (boxes[:, :2] + boxes[:, 2:]) / 2
    attacker = _filled(_around(series.attacker_xy_px), t_s)
    if np.isfinite(attacker).all():
        halfway = (attacker[:, 0] + attacker[:, 2]) / 4 - middle[:, 0] / 2
        lead = OWN_LEAD_HEIGHTS * np.nan_to_num(tall)
        middle[:, 0] += np.clip(halfway, -lead, lead)
    sides = np.where(np.isfinite(tall), OWN_WINDOW_HEIGHTS * tall, most)
    wanted = _glided(t_s, np.column_stack([middle, sides]))
    cuts = []
    for x, y, side in wanted:
        side = round(np.clip(side, OWN_WINDOW_LEAST_PX, most))
        left = int(np.clip(round(x - side / 2), 0, size_px[0] - side))
        top = int(np.clip(round(y - side / 2), 0, size_px[1] - side))
        cuts.append(Cut(left, top, left + side, top + side, width, height))
    return cuts


def _glided(t_s: FloatArray, values: FloatArray) -> FloatArray:
    """Values ``(n, k)`` on a straight line through those within ``OWN_WINDOW_S`` of each moment."""
    result = values.copy()
    for i, now_s in enumerate(t_s):
        near = np.abs(t_s - now_s) <= OWN_WINDOW_S
        if near.sum() > 2:
            result[i] = np.polyfit(t_s[near] - now_s, values[near], 1)[1]
    return result


def with_post(picture: Picture, attacker_px: FloatArray) -> Picture:
    """A dashed upright where the attacker is, of whom nothing else can be made out.

    It reaches from his feet to his head, or over whatever is seen of him.

    Args:
        picture: to paint a copy of.
        attacker_px: ``(33, 2)`` his landmarks in the picture, NaN where not seen.
    """
    seen = np.isfinite(attacker_px).all(axis=1)
    feet, head = (
        attacker_px[those] if len(those) else attacker_px[seen]
        for those in (np.intersect1d(which, np.flatnonzero(seen)) for which in (_FEET, _HEAD))
    )
    if not len(feet):
        return picture
    x, bottom, top = feet[:, 0].mean(), feet[:, 1].max(), head[:, 1].min()
    painted = picture.copy()
    stops = np.linspace(bottom, top, 2 * POST_DASHES)
    for low, high in zip(stops[::2], stops[1::2], strict=True):
        start, end = (round(float(x)), round(float(low))), (round(float(x)), round(float(high)))
        for tone, width in ((overlay.SHADE, 7), (overlay.ATTACKER, 3)):
            cv2.line(painted, start, end, tone, width, cv2.LINE_AA)
    return painted


def _around(xy_px: FloatArray) -> FloatArray:
    """``(n, 4)`` boxes around landmarks ``(n, 33, 2)``, NaN where none is seen."""
    boxes = np.full((len(xy_px), 4), np.nan)
    for i, points in enumerate(xy_px):
        seen = points[np.isfinite(points).all(axis=1)]
        if len(seen):
            boxes[i] = [*seen.min(axis=0), *seen.max(axis=0)]
    margin = OTHERS_MARGIN * (boxes[:, 3] - boxes[:, 1])[:, None]
    return np.asarray(boxes + np.array([-1, -1, 1, 1]) * margin)


def _filled(boxes: FloatArray, t_s: FloatArray) -> FloatArray:
    """Gaps of ``(n, 4)`` boxes with the nearest in time; all NaN when there is none."""
    known = np.flatnonzero(np.isfinite(boxes).all(axis=1))
    if len(known) == 0:
        return boxes
    nearest = known[np.abs(t_s[:, None] - t_s[known]).argmin(axis=1)]
    return np.asarray(boxes[nearest])


def _same(boxes: FloatArray, himself: FloatArray) -> bool:
    """Whether boxes ``(n, 4)`` are the player's own in most frames that show both."""
    both = np.isfinite(boxes).all(axis=1) & np.isfinite(himself).all(axis=1)
    shared = [
        overlap(one, other) > HIMSELF_OVERLAP
        for one, other in zip(boxes[both], himself[both], strict=True)
    ]
    return bool(shared) and float(np.mean(shared)) > 0.5


def _encoded(pictures: Iterator[tuple[float, Picture]]) -> bytes:
    """An MP4 of pictures at their own times, counted from the first."""
    import av
    from av.bitstream import BitStreamFilterContext

    file = io.BytesIO()
    options = {"fflags": "+bitexact"}
    with av.open(file, "w", format="mp4", options=options) as container:
        container.metadata.update(METADATA)
        stream = container.add_stream("libx264", rate=30)
        stream.width, stream.height = OWN_CLIP_PX
        stream.pix_fmt = "yuv420p"
        stream.options = {"preset": "medium", "crf": "27", "flags": "+bitexact"}
        stream.codec_context.time_base = _TIME_BASE
        stream.codec_context.thread_count = 2
        wordless = BitStreamFilterContext(f"filter_units=remove_types={_SEI}", stream)
        first: float | None = None
        for t_s, picture in pictures:
            first = t_s if first is None else first
            frame = av.VideoFrame.from_ndarray(picture, format="rgb24")
            frame.pts = round((t_s - first) / _TIME_BASE)
            frame.time_base = _TIME_BASE
            for packet in stream.encode(frame):
                container.mux(wordless.filter(packet))
        for packet in stream.encode(None):
            container.mux(wordless.filter(packet))
        container.mux(wordless.filter(None))
    return file.getvalue()
