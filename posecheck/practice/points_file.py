"""points.toml: where known points are seen, as set with ``posecheck points``.

A file of its own, so that ``practice.toml`` with its comments is never written to::

    [clips]                        # which camera position filmed a clip
    "clips/rep-01.mp4" = "sideline"

    [[views]]                      # as in practice.toml
    name = "sideline"
    size = [1920, 1080]
    time_s = 0.8
    [views.marks]
    "top" = [1519.9, 660.1]

``read_practice`` reads it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path

from posecheck.files.names import POINTS_FILE
from posecheck.files.toml_table import toml_text
from posecheck.files.whole_file import write_whole
from posecheck.practice.notes import View

_HEADING = """\
# Where known points of the field are seen, set with `posecheck points`.
# These views replace those of practice.toml; delete this file to go back to those.
"""


def write_points(folder: Path, views: Iterable[View], view_of_clip: Mapping[str, str]) -> Path:
    """Write the file, in place of the one that was there.

    Args:
        folder: of the practice.
        views: the camera positions.
        view_of_clip: name of the camera position by clip path (relative to the folder, POSIX
            form).

    Returns:
        The file.

    Raises:
        RecordError: it cannot be written.
    """
    lines = [_HEADING]
    if view_of_clip:
        lines += ["[clips]"]
        lines += [
            f"{toml_text(clip)} = {toml_text(name)}" for clip, name in sorted(view_of_clip.items())
        ]
        lines += [""]
    for view in views:
        lines += ["[[views]]", f"name = {toml_text(view.name)}"]
        if view.size is not None:
            lines += [f"size = [{view.size[0]}, {view.size[1]}]", f"time_s = {view.time_s:.4f}"]
            lines += ["[views.marks]"]
            lines += [
                f"{toml_text(mark)} = [{x:.2f}, {y:.2f}]" for mark, (x, y) in view.marks.items()
            ]
        lines += [""]
    path = folder / POINTS_FILE
    write_whole(path, lambda file: file.write("\n".join(lines).encode("utf-8")))
    return path
