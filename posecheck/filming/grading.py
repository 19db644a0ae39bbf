"""Grade the film of a rep before anything is judged.

Film that is too poor lies beyond the limits of ``limits.py``, where measures are missing, with the
reason: nothing is guessed from it.
"""

from __future__ import annotations

import math

import numpy as np

from posecheck.body.stance_track import StanceTrack
from posecheck.camera.motion import CameraMotion
from posecheck.filming.conditions import Conditions
from posecheck.filming.limits import seen_enough
from posecheck.filming.look import Looks
from posecheck.filming.quality import Aspect, FilmQuality, Grade, Graded
from posecheck.filming.stance_reading import stance_reading
from posecheck.filming.steps import Steps
from posecheck.filming.tuning import (
    FULL_HD_PX,
    GOOD_BLUR,
    GOOD_BURNT,
    GOOD_DIP_DEG,
    GOOD_HEIGHT_PX,
    GOOD_LIGHT,
    GOOD_RATE_HZ,
    GOOD_SCORE,
    GOOD_SEEN_SHARE,
    GOOD_VIEW_DEG,
    MAX_BLUR,
    MAX_BURNT,
    MIN_HEIGHT_PX,
    MIN_LIGHT,
    MIN_RATE_HZ,
    MIN_SCORE,
    MIN_SEEN_SHARE,
    SHARP_PX,
)
from posecheck.maths.arrays import BoolArray
from posecheck.maths.timeline import in_window
from posecheck.reps.rep import Rep, arrival_window
from posecheck.reps.tuning import AFTERMATH_S


def grade_film(
    rep: Rep,
    stance: StanceTrack,
    motion: CameraMotion,
    looks: Looks,
    *,
    size_px: tuple[int, int],
    distance_m: float = math.nan,
    phone_m: float = math.nan,
    steps: Steps | None = None,
    slow_in_part: str | None = None,
) -> FilmQuality:
    """Grade the film of a rep.

    Args:
        rep: its moments.
        stance: the defender's, over the clip's frames.
        motion: the camera's, over the same frames.
        looks: sharpness and light of the defender in the pictures around the arrival.
        size_px: width and height of the picture.
        distance_m: from the camera to the defender's feet at arrival, NaN when not known.
        phone_m: how high the camera is over the ground, NaN when not known.
        steps: his steps, where they show that the film plays slower than life.
        slow_in_part: what shows that a part of it does, None when nothing does.
    """
    during = in_window(stance.t_s, rep.start_s, rep.end_s)
    arrival_s = rep.end_s - AFTERMATH_S if rep.arrival_s is None else rep.arrival_s
    window = arrival_window(arrival_s)
    seen = stance_reading("knee_bend_deg", stance, window, looks).conditions
    inside = in_window(stance.t_s, *window)
    followed = _share(motion.tracked, during), _share(motion.tracked, inside)
    read = _share(np.isfinite(stance.knee_bend_deg), during & motion.tracked)
    rate_hz = round(1 / float(np.median(np.diff(stance.t_s))), 1)
    grades = (
        _size(seen, size_px, distance_m),
        _view(seen),
        _height(phone_m, distance_m),
        _sharpness(seen),
        _rate(rate_hz),
        _legs(seen, read, followed[1]),
        _light(seen),
        _steadiness(*followed),
        None if steps is None else _speed_of_play(steps),
        None if slow_in_part is None else _slow_in_part(slow_in_part),
    )
    return FilmQuality(tuple(each for each in grades if each is not None))


def _size(seen: Conditions, size_px: tuple[int, int], distance_m: float) -> Graded | None:
    tall = seen.height_px
    if math.isnan(tall):
        return None
    grade = _of(good=tall >= GOOD_HEIGHT_PX, usable=tall >= MIN_HEIGHT_PX)
    return _graded(
        Aspect.SIZE,
        grade,
        f"he is {tall:.0f} px tall at arrival",
        _nearer(tall, size_px, distance_m),
    )


def _nearer(tall: float, size_px: tuple[int, int], distance_m: float) -> str:
    finer = tall * FULL_HD_PX / min(size_px)
    if min(size_px) < FULL_HD_PX and finer >= GOOD_HEIGHT_PX:
        return f"Set the phone to 1080p: he would be {finer:.0f} px tall."
    # Size in the picture is inversely proportional to the distance.
    metres = math.nan if math.isnan(distance_m) else distance_m * (1 - tall / GOOD_HEIGHT_PX)
    if math.isnan(metres):
        return f"Film from nearer, so that he is {GOOD_HEIGHT_PX} px tall or more."
    return f"Move {max(1, math.ceil(metres))} m nearer, so that he is {GOOD_HEIGHT_PX} px tall."


def _view(seen: Conditions) -> Graded | None:
    if math.isnan(seen.view_deg):
        return None
    low, high = GOOD_VIEW_DEG
    return _graded(
        Aspect.VIEW,
        _of(good=low <= seen.view_deg <= high, usable=True),
        f"he is seen {seen.view_words}, {seen.view_deg:.0f}° from straight on",
        "Film from the side, square to his run.",
    )


def _height(phone_m: float, distance_m: float) -> Graded | None:
    if not 0 < phone_m < distance_m:  # not known, either of them
        return None
    dip = math.asin(phone_m / distance_m)
    # As far away over the ground as now.
    higher_m = distance_m * math.cos(dip) * math.tan(math.radians(GOOD_DIP_DEG))
    return _graded(
        Aspect.HEIGHT,
        _of(good=math.degrees(dip) >= GOOD_DIP_DEG, usable=True),
        f"the phone looks down at his feet by {math.degrees(dip):.0f}°",
        f"Hold the phone {math.ceil(10 * higher_m) / 10:.1f} m or more above the ground, overhead "
        "or from the stands, to show better where both are.",
    )


def _sharpness(seen: Conditions) -> Graded | None:
    blur = seen.look.blur
    if math.isnan(blur):
        return None
    return _graded(
        Aspect.SHARPNESS,
        _of(good=blur <= max(GOOD_BLUR, SHARP_PX / seen.height_px), usable=blur <= MAX_BLUR),
        f"his edges are {blur:.1%} of his height wide",
        "Press on him in the picture so that the phone focuses there, wipe the lens, and film in "
        "more light.",
    )


def _rate(rate_hz: float) -> Graded:
    return _graded(
        Aspect.RATE,
        _of(good=rate_hz >= GOOD_RATE_HZ, usable=rate_hz >= MIN_RATE_HZ),
        f"the film has {rate_hz:.0f} frames a second",
        "Set the phone to 60 frames a second.",
    )


def _legs(seen: Conditions, read: float, followed: float) -> Graded:
    # Frames lost with the background are not the legs' fault.
    hidden = not seen.seen or (not seen_enough(seen) and followed >= MIN_SEEN_SHARE)
    unsure = seen.seen > 0 and seen.score < MIN_SCORE
    # A window may begin or end between two frames.
    enough = seen.seen + 1 >= GOOD_SEEN_SHARE * followed * seen.of and read >= GOOD_SEEN_SHARE
    sure = seen.score >= GOOD_SCORE and enough
    return _graded(
        Aspect.LEGS,
        _of(good=sure, usable=not (hidden or unsure)),
        f"his legs are read in {read:.0%} of the rep and in {seen.seen} of {seen.of} frames at "
        "arrival",
        "Film from where nobody stands in front of him, with his feet in the picture all through.",
    )


def _light(seen: Conditions) -> Graded | None:
    light, burnt = seen.look.light, seen.look.burnt
    if math.isnan(light) or math.isnan(burnt):
        return None
    # He may be burnt out here and dark there: what the stance is refused for comes first.
    if burnt > MAX_BURNT or (burnt > GOOD_BURNT and light >= MIN_LIGHT):
        return _graded(
            Aspect.LIGHT,
            _of(good=False, usable=burnt <= MAX_BURNT),
            f"{burnt:.0%} of him is burnt out",
            "Press on him in the picture so that the phone sets its light to him.",
        )
    return _graded(
        Aspect.LIGHT,
        _of(good=light >= GOOD_LIGHT, usable=light >= MIN_LIGHT),
        f"he is {'well lit' if light >= GOOD_LIGHT else 'almost black'}",
        "Hold the sun behind you, or film earlier in the day.",
    )


def _steadiness(during: float, at_arrival: float) -> Graded:
    return _graded(
        Aspect.STEADINESS,
        _of(good=during == 1, usable=at_arrival >= MIN_SEEN_SHARE),
        f"the background is followed in {during:.0%} of the rep",
        "Hold the phone still or use a tripod.",
    )


def _speed_of_play(steps: Steps) -> Graded:
    return _graded(
        Aspect.SPEED,
        Grade.TOO_POOR,
        f"it looks like slow motion: {steps.described}",
        f"Write in practice.toml how many times slower than life it plays: "
        f"slow_motion = {steps.times_slower} by the look of it, or 1 if it does not.",
    )


def _slow_in_part(shown: str) -> Graded:
    return _graded(
        Aspect.SLOW_PART,
        Grade.USABLE,
        f"a part of it plays in slow motion: {shown}",
        "Take the slow motion out on the phone and copy the clip again; if he really moved like "
        "that, write slow_motion = 1 under it in practice.toml.",
    )


def _of(*, good: bool, usable: bool) -> Grade:
    return Grade.GOOD if good else Grade.USABLE if usable else Grade.TOO_POOR


def _graded(aspect: Aspect, grade: Grade, found: str, fix: str) -> Graded:
    return Graded(aspect, grade, found, "" if grade is Grade.GOOD else fix)


def _share(of: BoolArray, where: BoolArray) -> float:
    """Share True among the frames, 0 when there are none."""
    return float(np.mean(of[where])) if where.any() else 0.0
