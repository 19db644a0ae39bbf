"""Find people in a square picture with the pose model's detector (LiteRT).

Source: the pose library's ``pose_detection`` graph and its calculators for anchors, boxes and
weighted non-maximum suppression (Apache-2.0).
"""

from __future__ import annotations

from functools import cache

import numpy as np
import numpy.typing as npt

from posecheck.maths.arrays import FloatArray, Image
from posecheck.maths.boxes import overlap
from posecheck.pose.network import Float32Array, Network
from posecheck.pose.region import WHOLE, Region
from posecheck.pose.tuning import DETECTOR_SIDE_PX, DETECTOR_STRIDES, MIN_CONFIDENCE, SAME_DETECTION


class Detector:
    """The detector.

    Args:
        content: its network, a TFLite file.
        threads: as :class:`Network` takes them.

    Raises:
        ValueError: the content is no network.
    """

    def __init__(self, content: bytes, threads: int = 1) -> None:
        self._network = Network(content, darkest=-1.0, brightest=1.0, threads=threads)

    def people(self, picture_rgb: Image) -> list[Region]:
        """The region of everyone found in a square picture, the surest first."""
        small = WHOLE.pixels(picture_rgb, DETECTOR_SIDE_PX, black_beyond=True)
        raw, logits = self._network.outputs(small)
        score = 1 / (1 + np.exp(-np.clip(logits[:, 0].astype(np.float64), -100, 100)))
        (sure,) = np.nonzero(score >= MIN_CONFIDENCE)
        found = np.concatenate([_decoded(raw[sure], sure), score[sure, None]], axis=1)
        return [Region.of_person(each[4:6], each[6:8]) for each in merged(found)]


def _decoded(raw: Float32Array, anchors: npt.NDArray[np.intp]) -> FloatArray:
    """Left, top, right, bottom and both points of a region, ``(n, 8)`` in shares of the picture.

    Args:
        raw: ``(n, 12)`` the network's numbers: middle and size of a box, then four points, of which
            the first two give the region.
        anchors: ``(n,)`` which anchors they belong to.
    """
    numbers = raw.astype(np.float64) / DETECTOR_SIDE_PX
    at = anchor_centres()[anchors]
    middle, half = numbers[:, 0:2] + at, numbers[:, 2:4] / 2
    return np.concatenate(
        [middle - half, middle + half, numbers[:, 4:6] + at, numbers[:, 6:8] + at], axis=1
    )


@cache
def anchor_centres() -> FloatArray:
    """``(2254, 2)`` where the network's anchors are, in shares of the picture.

    Row by row over a grid for each stride: two at a place for each time that the stride is named.
    """
    grids = []
    for stride in sorted(set(DETECTOR_STRIDES)):
        n = DETECTOR_SIDE_PX // stride
        y, x = (np.indices((n, n)) + 0.5) / n
        at = np.stack([x.ravel(), y.ravel()], axis=1)
        grids.append(np.repeat(at, 2 * DETECTOR_STRIDES.count(stride), axis=0))
    return np.concatenate(grids)


def merged(found: FloatArray) -> list[FloatArray]:
    """One detection for each person: those that overlap the surest, as a mean by their scores.

    Args:
        found: ``(n, 9)`` box, two points, score.

    Returns:
        ``(8,)`` each, box and points, the surest first.
    """
    whole = np.all(found[:, 2:4] >= found[:, 0:2], axis=1)
    left = list(found[whole][np.argsort(-found[whole, 8], kind="stable")])
    people = []
    while left:
        same = [overlap(each[:4], left[0][:4]) > SAME_DETECTION for each in left]
        if not any(same):  # a box of no area overlaps nothing, not even itself
            same[0] = True
        one = np.array([each for each, is_same in zip(left, same, strict=True) if is_same])
        people.append(np.average(one[:, :8], axis=0, weights=one[:, 8]))
        left = [each for each, is_same in zip(left, same, strict=True) if not is_same]
    return people
