"""Workers by processors and memory."""

from __future__ import annotations

from pathlib import Path

import pytest

from posecheck.pipeline import capacity
from posecheck.pipeline.limits import WORKER_BYTES


@pytest.mark.parametrize(
    ("processors", "free", "workers"),
    [
        (8, 100 * WORKER_BYTES, 8),
        (8, 3 * WORKER_BYTES + 1, 3),
        (8, WORKER_BYTES // 2, 1),
        (1, 100 * WORKER_BYTES, 1),
    ],
)
def test_workers_as_far_as_memory_lasts(processors: int, free: int, workers: int) -> None:
    assert capacity.workers_at_once(processors, free) == workers


def test_this_machine_has_some_of_both() -> None:
    assert capacity.processors() >= 1
    assert 0 < capacity.free_bytes() < 2**50


def group(folder: Path, most: str, used: int, in_files: int) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "memory.max").write_text(f"{most}\n")
    (folder / "memory.current").write_text(f"{used}\n")
    (folder / "memory.stat").write_text(f"anon 5\ninactive_file {in_files}\n")


def test_limits_of_a_container_and_of_what_is_around_it(tmp_path: Path) -> None:
    """Version 2 of the kernel's control groups."""
    own = tmp_path / "cgroup"
    own.write_text("0::/pod/one\n")
    group(tmp_path / "pod" / "one", "3000", 1000, 200)
    group(tmp_path / "pod", "max", 5000, 0)
    group(tmp_path, "9000", 8500, 100)
    assert sorted(capacity._left_in_groups(tmp_path, own)) == [600, 2200]


def test_the_older_control_groups(tmp_path: Path) -> None:
    own = tmp_path / "cgroup"
    own.write_text("4:cpu,cpuacct:/\n3:memory:/one\n1:name=systemd:/\n0::/\n")
    folder = tmp_path / "memory" / "one"
    folder.mkdir(parents=True)
    (folder / "memory.limit_in_bytes").write_text("3000\n")
    (folder / "memory.usage_in_bytes").write_text("3500\n")
    (folder / "memory.stat").write_text("total_inactive_file 100\n")
    assert capacity._left_in_groups(tmp_path, own) == [0]


def test_a_system_without_control_groups(tmp_path: Path) -> None:
    assert capacity._left_in_groups(tmp_path, tmp_path / "cgroup") == []
