"""Read a roster: the ``[[players]]`` of any settings file."""

from __future__ import annotations

from posecheck.files.toml_table import TomlTable
from posecheck.maths.units import INCH_M
from posecheck.practice.roster import Player


def players_in(top: TomlTable) -> dict[int, Player]:
    """The players that a settings file lists, by jersey number.

    Raises:
        SettingsError: an entry cannot be used.
    """
    players: dict[int, Player] = {}
    for table in top.tables("players"):
        table.allow("number", "name", "role", "strong_hand", "height_m", "height_in")
        number, name = table.whole("number"), table.text("name")
        if number is None:
            table.refuse("number", "is missing", "give the player's jersey number")
        if not name:
            table.refuse("name", "is missing", "give the player's name")
        if number in players:
            table.refuse("number", f"{number} is already {players[number].name}'s", "change one")
        height_m, height_in = table.number("height_m", 1, 2.5), table.number("height_in", 40, 98)
        if height_m is not None and height_in is not None:
            table.refuse("height_m", "and height_in are both given", "leave one out")
        players[number] = Player(
            number=number,
            name=name,
            role=table.text("role"),
            strong_hand=table.choice("strong_hand", ("left", "right")),
            height_m=height_in * INCH_M if height_in is not None else height_m,
        )
    return players
