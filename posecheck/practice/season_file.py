"""What the practices of a season share: ``season.toml`` in the folder right above theirs.

Nothing in it is compulsory::

    name = "Fall 2026"
    club = "Harbor Point Herons"   # of every practice that states no other

    [[players]]                    # on the roster of every practice
    number = 12
    name = "Robin Vale"
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from posecheck.files.names import SEASON_FILE
from posecheck.files.places import there
from posecheck.files.toml_table import TomlTable, read_toml
from posecheck.practice.roster import Player
from posecheck.practice.roster_file import players_in


@dataclass(frozen=True)
class SeasonFile:
    """What the practices of a season share.

    Attributes:
        name: of the season, the folder's where not stated.
        club: of every practice that states no other.
        players: on the roster of every practice.
    """

    name: str
    club: str
    players: Mapping[int, Player]


def read_season_file(folder: Path) -> SeasonFile:
    """What ``season.toml`` in a folder says; nothing but the folder's name where there is none.

    Raises:
        SettingsError: the file cannot be used.
    """
    path = folder / SEASON_FILE
    top = read_toml(path) if there(path) else TomlTable(path, "", {})
    top.allow("name", "club", "players")
    return SeasonFile(top.text("name") or folder.name, top.text("club") or "", players_in(top))
