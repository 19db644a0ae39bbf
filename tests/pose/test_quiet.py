from __future__ import annotations

import os

import pytest

from posecheck.pose.quiet import quiet_native

ROUTINE = b"INFO: Created TensorFlow Lite XNNPACK delegate for CPU.\n"
TROUBLE = b"E0000 something is really wrong\n"


def test_routine_lines_go_and_everything_else_stays(capfd: pytest.CaptureFixture[str]) -> None:
    with quiet_native():
        os.write(2, ROUTINE)
        os.write(2, TROUBLE)
    os.write(2, b"after\n")
    assert capfd.readouterr().err == TROUBLE.decode() + "after\n"


def test_nothing_is_lost_when_the_block_fails(capfd: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(RuntimeError), quiet_native():
        os.write(2, TROUBLE)
        raise RuntimeError
    assert capfd.readouterr().err == TROUBLE.decode()
