"""Place the 33 landmarks of the person in a region with the pose model's second network (LiteRT).

Source: the pose library's ``tensors_to_pose_landmarks_and_segmentation`` graph and its calculators
for heatmaps and projections (Apache-2.0).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from posecheck.maths.arrays import FloatArray, Image
from posecheck.pose.network import Float32Array, Network
from posecheck.pose.region import Region
from posecheck.pose.track import N_KEYPOINTS
from posecheck.pose.tuning import (
    HEATMAP_REACH,
    LANDMARKS_SIDE_PX,
    MIN_CONFIDENCE,
    MIN_HEAT,
)


@dataclass(frozen=True)
class Body:
    """A person as the network sees him, on the axes of the picture.

    Attributes:
        xy: ``(33, 2)`` landmarks in shares of the picture.
        world_m: ``(33, 3)`` metres from the middle of the hips.
        visibility: ``(33,)`` probability that the landmark is in the picture and not occluded.
        region: where to look for him in the next picture.
    """

    xy: FloatArray
    world_m: FloatArray
    visibility: FloatArray
    region: Region


class LandmarkModel:
    """The landmark network without its mask (:mod:`posecheck.pose.cutting`).

    Args:
        content: the network, a TFLite file.
        threads: as :class:`Network` takes them.

    Raises:
        ValueError: the content is no network.
    """

    def __init__(self, content: bytes, threads: int = 1) -> None:
        self._network = Network(content, darkest=0.0, brightest=1.0, threads=threads)

    def body(self, picture_rgb: Image, region: Region) -> Body | None:
        """The person in a region of a square picture, None when the network sees nobody there."""
        upright = region.pixels(picture_rgb, LANDMARKS_SIDE_PX, black_beyond=False)
        numbers, presence, heatmaps, world = self._network.outputs(upright)
        if not presence[0] > MIN_CONFIDENCE:
            return None
        # Behind the landmarks come the two points of a region; what follows them is unused.
        points = numbers.reshape(-1, 5)[: N_KEYPOINTS + 2].astype(np.float64)
        unit = refined(points[:, :2] / LANDMARKS_SIDE_PX, heatmaps)
        world_m = world.reshape(-1, 3)[:N_KEYPOINTS].astype(np.float64)
        xy = region.to_picture(unit)
        world_m[:, :2] = region.turned(world_m[:, :2])
        return Body(
            xy[:N_KEYPOINTS],
            world_m,
            _sigmoid(points[:N_KEYPOINTS, 3]),
            Region.of_person(xy[N_KEYPOINTS], xy[N_KEYPOINTS + 1]),
        )


def refined(unit_xy: FloatArray, heatmaps: Float32Array) -> FloatArray:
    """Points moved to the middle of the heat around them, where there is enough of it.

    Args:
        unit_xy: ``(n, 2)`` points, in shares of the region.
        heatmaps: ``(rows, columns, at least n)`` heat as logits, a map for each point.
    """
    n, (rows, columns) = len(unit_xy), heatmaps.shape[:2]
    column, row = np.trunc(unit_xy * (columns, rows)).astype(int).T
    reach = np.arange(-HEATMAP_REACH, HEATMAP_REACH + 1)
    # (n, rows around, columns around); what lies beyond the map is not there
    around_row = row[:, None, None] + reach[:, None]
    around_column = column[:, None, None] + reach
    there = (around_row >= 0) & (around_row < rows)
    there = there & (around_column >= 0) & (around_column < columns)
    heat = np.where(
        there,
        _sigmoid(
            heatmaps[
                np.clip(around_row, 0, rows - 1),
                np.clip(around_column, 0, columns - 1),
                np.arange(n)[:, None, None],
            ].astype(np.float64)
        ),
        0.0,
    )
    total = heat.sum(axis=(1, 2))
    # As in the library, a point beyond the map's lower edge may still have heat around it.
    moved = (column >= 0) & (column < columns) & (row >= 0)
    moved &= heat.max(axis=(1, 2)) >= MIN_HEAT
    middle = (
        np.stack(
            [(heat * around_column).sum(axis=(1, 2)), (heat * around_row).sum(axis=(1, 2))], axis=1
        )
        / np.where(total > 0, total, 1.0)[:, None]
    )
    return np.where(moved[:, None], middle / (columns, rows), unit_xy)


def _sigmoid(logits: FloatArray) -> FloatArray:
    return np.asarray(1 / (1 + np.exp(-logits)))
