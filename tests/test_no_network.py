"""The pose model runs without a network, watched from outside the process.

The watcher is the operating system's own: ``strace`` lists every network call of the process and
all its threads. Where tracing is not allowed, the model runs in a network namespace with nothing
in it, which shows that it needs no network (though not that it does not try).
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

READ_A_PICTURE = """
import sys
from pathlib import Path
import numpy as np
from posecheck.keypoints.pose import PlayerReader, PoseReader

model = Path(sys.argv[1])
frame = np.random.default_rng(0).integers(0, 255, (480, 640, 3), dtype=np.uint8)
with PoseReader(model) as reader, PlayerReader(model) as player:
    reader.read(frame)
    for _ in range(5):
        player.read(frame, (200, 100, 320, 420))
print("done")
"""

REACH_OUT = """
import socket
with socket.socket() as s:
    s.connect_ex(("127.0.0.1", 9))
print("done")
"""


def run(command: list[str]) -> subprocess.CompletedProcess[str]:
    return subprocess.run(command, capture_output=True, text=True, timeout=300)


def traced(log: Path, *python: str) -> tuple[str, list[str]]:
    """Output of a Python program, and the network calls it made to the outside.

    Sockets within the machine's own kernel (AF_UNIX, AF_NETLINK) are not network.
    """
    done = run(
        ["strace", "-f", "-qq", "-e", "trace=network", "-o", str(log), sys.executable, *python]
    )
    assert done.returncode == 0, done.stderr
    return done.stdout, [line for line in log.read_text().splitlines() if "AF_INET" in line]


def can_trace() -> bool:
    return shutil.which("strace") is not None and run(["strace", "-qq", "true"]).returncode == 0


def can_isolate() -> bool:
    return shutil.which("unshare") is not None and run(["unshare", "-rn", "true"]).returncode == 0


@pytest.mark.film
def test_reading_poses_opens_no_connection(pose_model: Path, tmp_path: Path) -> None:
    if can_trace():
        # The watcher must see a call when there is one, or its silence says nothing.
        _, calls = traced(tmp_path / "control.log", "-c", REACH_OUT)
        assert any("connect(" in call for call in calls)

        output, calls = traced(tmp_path / "model.log", "-c", READ_A_PICTURE, str(pose_model))
        assert output == "done\n"
        assert calls == []
    elif can_isolate():
        python = [sys.executable, "-c", READ_A_PICTURE, str(pose_model)]
        done = run(["unshare", "-rn", *python])
        assert done.stdout == "done\n", done.stderr
    elif os.environ.get("CI"):
        pytest.fail("neither strace nor unshare works here: install strace for this check")
    else:
        pytest.skip("needs strace or unshare to watch the process")
