"""One network of the pose model, as LiteRT computes it."""

from __future__ import annotations

import zipfile
from pathlib import Path

import numpy as np

from posecheck.pose.bundle import LANDMARKS_MEMBER
from posecheck.pose.network import Network


def test_what_a_network_gave_may_be_held_while_it_reads_on(pose_model: Path) -> None:
    with zipfile.ZipFile(pose_model) as bundle:
        network = Network(bundle.read(LANDMARKS_MEMBER), 0.0, 1.0)
    dark = np.zeros((256, 256, 3), dtype=np.uint8)
    held = network.outputs(dark)
    before = [each.copy() for each in held]
    network.outputs(np.full_like(dark, 255))
    for kept, was in zip(held, before, strict=True):
        np.testing.assert_array_equal(kept, was)
