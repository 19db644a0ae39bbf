"""Nothing goes out: neither reading poses nor serving pages, watched from outside the process.

The watcher is the operating system's own: ``strace`` lists every network call of the process and
all its threads. Where tracing is not allowed, the model runs in a network namespace with nothing
in it, which shows that it needs no network (though not that it does not try).
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import urllib.request
from collections.abc import Callable
from pathlib import Path

import pytest

from posecheck.pose.reader_choice import Reader

CLIP = Path(__file__).parents[1] / "sample_clips" / "clips" / "rep-01.mp4"

READ_A_CLIP = """
import sys
from pathlib import Path
import numpy as np
from posecheck.video.clip import open_clip
from posecheck.pose.reader import PlayerReader, PoseReader

model, film = map(Path, sys.argv[1:])
clip = open_clip(film)
with PoseReader(model) as reader, PlayerReader(model) as player:
    for frame in clip.frames(which=np.arange(clip.n_frames) >= clip.n_frames - 5):
        found = reader.find_people(frame.rgb, [(0, 0, clip.width_px - 1, clip.height_px - 1)])
        if found:
            player.read(frame.rgb, found[0].box_xyxy)
print("read" if found else "nobody found")
libraries = {name.partition(".")[0] for name in sys.modules} & {"mediapipe", "ai_edge_litert"}
print("with", *libraries)
"""

REACH_OUT = """
import socket
with socket.socket() as s:
    s.connect_ex(("127.0.0.1", 9))
print("done")
"""

SERVE = """
import sys, threading
from posecheck.web.app import LocalServer, own_files

with LocalServer(own_files("points.html", "points.css", "points.js")) as server:
    thread = threading.Thread(target=server.serve)
    thread.start()
    print(sys.stdin.readline().strip(), server.address, flush=True)
    sys.stdin.readline()
    server.stop()
    thread.join()
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
@pytest.mark.parametrize(
    ("reader", "library"), [(Reader.LITERT, "ai_edge_litert"), (Reader.LIBRARY, "mediapipe")]
)
def test_reading_poses_opens_no_connection(
    pose_models: Callable[[Reader], Path], tmp_path: Path, reader: Reader, library: str
) -> None:
    """With either reader, and with nothing of the other one's loaded."""
    program = ["-c", READ_A_CLIP, str(pose_models(reader)), str(CLIP)]
    expected = f"read\nwith {library}\n"
    if can_trace():
        # The watcher must see a call when there is one, or its silence says nothing.
        _, calls = traced(tmp_path / "control.log", "-c", REACH_OUT)
        assert any("connect(" in call for call in calls)

        output, calls = traced(tmp_path / "model.log", *program)
        assert output == expected
        assert calls == []
    elif can_isolate():
        done = run(["unshare", "-rn", sys.executable, *program])
        assert done.stdout == expected, done.stderr
    elif os.environ.get("CI"):
        pytest.fail("neither strace nor unshare works here: install strace for this check")
    else:
        pytest.skip("needs strace or unshare to watch the process")


def test_serving_pages_opens_no_connection(tmp_path: Path) -> None:
    if not can_trace():
        if os.environ.get("CI"):
            pytest.fail("strace does not work here: install it for this check")
        pytest.skip("needs strace to watch the process")
    log = tmp_path / "serve.log"
    command = ["strace", "-f", "-qq", "-e", "trace=network", "-o", str(log)]
    with subprocess.Popen(
        [*command, sys.executable, "-c", SERVE],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as served:
        assert served.stdin is not None and served.stdout is not None
        print("at", file=served.stdin, flush=True)
        address = served.stdout.readline().split()[1]
        for name in ("", "points.js"):
            with urllib.request.urlopen(f"{address}{name}", timeout=30) as answer:
                assert answer.status == 200
        print("done", file=served.stdin, flush=True)
        assert served.wait(timeout=60) == 0
    calls = [line for line in log.read_text().splitlines() if "AF_INET" in line]
    # What is seen when somebody asks, and nothing besides: a socket that listens on this machine.
    assert any("bind(" in call for call in calls)
    assert [call for call in calls if "connect(" in call or "sendto(" in call] == []
    named = {place for call in calls for place in re.findall(r'inet_addr\("([^"]+)"\)', call)}
    assert named == {"127.0.0.1"}
