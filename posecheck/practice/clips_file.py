"""clips.toml: what was said of each clip with ``posecheck names``.

A file of its own, so that ``practice.toml`` with its comments is never written to. What stands
here goes before what stands there::

    [[players]]                    # put on the roster besides those of practice.toml
    number = 31
    name = "Toby Reed"

    [[clips]]
    file = "clips/rep-01.mp4"
    spot = "top"
    defender = 31
    attacker = 7
    arrival_s = 2.3667             # moment at which the defender arrives, in clip time
    defender_at = { t_s = 1.2, x_px = 512.0, y_px = 300.5 }    # he is seen there

``read_practice`` reads it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from posecheck.files.names import CLIPS_FILE
from posecheck.files.toml_table import toml_text
from posecheck.files.whole_file import write_whole
from posecheck.practice.notes import PointedOut
from posecheck.practice.roster import Player

_HEADING = """\
# Who is in which clip, and what else was put right, set with `posecheck names`.
# It goes before practice.toml; delete this file to go back to that.
"""


@dataclass(frozen=True)
class Said:
    """What was said of one clip; None for what was not.

    Attributes:
        spot: name of the cone at which the attacker waits.
        defender, attacker: jersey numbers.
        arrival_s: moment of arrival, seconds of clip time.
        defender_at: where the defender is seen.
    """

    spot: str | None = None
    defender: int | None = None
    attacker: int | None = None
    arrival_s: float | None = None
    defender_at: PointedOut | None = None


def write_clips(folder: Path, players: Iterable[Player], said: Mapping[str, Said]) -> Path:
    """Write the file, in place of the one that was there.

    Args:
        folder: of the practice.
        players: put on the roster besides those of ``practice.toml``; number and name are kept.
        said: by clip path (relative to the folder, POSIX form).

    Returns:
        The file.

    Raises:
        RecordError: it cannot be written.
    """
    lines = [_HEADING]
    for player in players:
        lines += ["[[players]]", f"number = {player.number}", f"name = {toml_text(player.name)}"]
        lines += [""]
    for clip, each in sorted(said.items()):
        if each == Said():
            continue
        lines += ["[[clips]]", f"file = {toml_text(clip)}"]
        if each.spot is not None:
            lines += [f"spot = {toml_text(each.spot)}"]
        if each.defender is not None:
            lines += [f"defender = {each.defender}"]
        if each.attacker is not None:
            lines += [f"attacker = {each.attacker}"]
        if each.arrival_s is not None:
            lines += [f"arrival_s = {each.arrival_s:.6f}"]
        if each.defender_at is not None:
            at = each.defender_at
            where = f"t_s = {at.t_s:.6f}, x_px = {at.x_px:.1f}, y_px = {at.y_px:.1f}"
            lines += [f"defender_at = {{ {where} }}"]
        lines += [""]
    path = folder / CLIPS_FILE
    write_whole(path, lambda file: file.write("\n".join(lines).encode("utf-8")))
    return path
