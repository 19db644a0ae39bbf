"""Read the files that describe a practice: ``practice.toml``, ``points.toml``, ``clips.toml``.

Nothing in ``practice.toml`` is compulsory::

    name = "Tuesday one-on-ones"
    club = "Harbour Lacrosse"
    date = 2026-05-12
    units = "yd"               # yards and mph, or "m": metres and m/s
    slow_motion = 8            # times slower than life: film of 240 frames a second, played at 30
    whole_picture = true       # annotated clips show all of the film, and do not follow the players
    lens = 1                   # zoom as the phone's screen shows it: 0.5, 1, 2, 3 ...; or
                               # focal_35mm = 26, in millimetres
    age_group = "high school"  # or "under-10", "under-12", "under-14", "adults"; or about how tall
                               # they are, height_m = 1.75 or height_in = 69

    [layout]
    preset = "five-spots"      # ready-made cones, goal and crease; or "two-cones". The rest of the
                               # layout may then be left out
    units = "m"                # of the cones below, where they differ from the practice's
    goal = true                # the goal stands at [0, 0]
    crease = "us"              # radius 9 ft; "world" for 3 m

    [layout.cones]             # right of the goal as the keeper looks out, then upfield
    inside = [0, 4]
    top = [0, 16]

    [plan]                     # by spot, force him: "down the alley", "to the middle", or
    top = "to his weak hand"   # "to his weak hand"; "alley", "middle" and "weak-hand" for short

    [[players]]
    number = 12
    name = "Robin Vale"
    role = "long pole"
    strong_hand = "left"
    height_m = 1.83            # or height_in = 72

    [[views]]                  # one for each place a camera stood
    name = "sideline"
    size = [1920, 1080]        # of the picture the marks below were read from
    time_s = 0.0               # and its moment
    [views.marks]              # at least four known points: pixels right and down
    top = [1512, 488]
    goal-left = [203, 611]

    [[clips]]
    file = "clips/rep-01.mp4"
    view = "sideline"
    spot = "top"
    defender = 12
    attacker = 7
    lens = 2                   # or focal_35mm, where it is another than the practice's
    slow_motion = 1            # likewise; 1 for a clip that plays at the speed of life
    slow_in_part = true        # where only a part of it plays slower

Views and marks need not be written by hand: ``posecheck points`` sets them in a picture and keeps
them in ``points.toml`` beside it (see ``points_file``), whose views come first. What is said of
clips on the page of ``posecheck names`` is kept in ``clips.toml`` (see ``clips_file``), and comes
first too.

The folder of a season, right above those of its practices, may hold a ``season.toml`` (see
``season_file``): its club and roster hold for every practice, unless its own file says otherwise of
the club or of a jersey number.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace
from pathlib import Path

from posecheck.camera.lens import Lens, lens_of_35mm, stated_lens
from posecheck.files.names import CLIPS_FILE, POINTS_FILE, PRACTICE_FILE
from posecheck.files.places import there
from posecheck.files.toml_table import TomlTable, read_toml, suggestion
from posecheck.maths.units import INCH_M, Units
from posecheck.practice.clips_file import Said
from posecheck.practice.layout import Layout
from posecheck.practice.notes import ClipNotes, PointedOut, View
from posecheck.practice.plan import Plan
from posecheck.practice.practice import Practice, key_of, relative_to
from posecheck.practice.roster import Player
from posecheck.practice.roster_file import players_in
from posecheck.practice.season_file import read_season_file
from posecheck.practice.stature import AGE_GROUPS, Stature, of_a_team
from posecheck.practice.tuning import (
    FOCAL_35MM_RANGE,
    LENS_RANGE,
    SLOW_MOTION_RANGE,
    TEAM_HEIGHT_RANGE_M,
)
from posecheck.printable import printable


def read_practice(folder: Path) -> Practice:
    """Read the practice that a folder holds.

    Without a ``practice.toml`` the practice is named after the folder and nothing else is known
    about it.

    Raises:
        SettingsError: a file cannot be used; names the key and what to write instead.
        UsageError: the folder cannot be looked into.
    """
    folder = folder.resolve()
    path = folder / PRACTICE_FILE
    top = read_toml(path) if there(path) else TomlTable(path, "", {})
    top.allow(
        "name", "club", "date", "units", "slow_motion", "whole_picture", "lens", "focal_35mm",
        "age_group", "height_m", "height_in", "layout", "plan", "players", "views", "clips",
    )  # fmt: skip
    units = _units(top) or _units(top.table("layout"))
    layout = _layout(top.table("layout"), units)
    spots = layout.spots
    season = read_season_file(folder.parent)
    players = {**season.players, **players_in(top)}
    views = _views(top, layout)
    notes = _notes(top, views, spots, players)
    if there(folder / POINTS_FILE):
        views, notes = _with_points(read_toml(folder / POINTS_FILE), layout, views, notes)
    named = frozenset(key for key, note in notes.items() if note.defender is not None)
    if there(folder / CLIPS_FILE):
        said = read_toml(folder / CLIPS_FILE)
        players |= _players_added(said, players)
        notes = _with_said(said_of_clips(said, spots, players), players, notes)
    return Practice(
        folder=folder,
        name=top.text("name") or printable(folder.name),
        club=top.text("club") or season.club,
        date=top.date("date"),
        layout=layout,
        plan=_plan(top.table("plan"), spots),
        players=players,
        views=views,
        notes=notes,
        named_in_file=named,
        slow_motion=top.number("slow_motion", *SLOW_MOTION_RANGE),
        lens=_lens(top),
        stature=_stature(top),
        units=units or Units.METRES,
        whole_picture=top.flag("whole_picture"),
    )


def _units(table: TomlTable) -> Units | None:
    chosen = table.choice("units", [each.value for each in Units])
    return None if chosen is None else Units(chosen)


def _lens(table: TomlTable) -> Lens | None:
    zoom = table.number("lens", *LENS_RANGE)
    focal_35mm = table.number("focal_35mm", *FOCAL_35MM_RANGE)
    if zoom is not None and focal_35mm is not None:
        table.refuse("lens", "and focal_35mm are both given", "leave one out")
    if zoom is not None:
        return stated_lens(zoom)
    return None if focal_35mm is None else lens_of_35mm(focal_35mm, "stated")


def _stature(top: TomlTable) -> Stature | None:
    """Of players whose own height is not on the roster."""
    age_group = top.choice("age_group", AGE_GROUPS)
    least_m, most_m = TEAM_HEIGHT_RANGE_M
    height_m = top.number("height_m", least_m, most_m)
    height_in = top.number("height_in", round(least_m / INCH_M), round(most_m / INCH_M))
    given = {"age_group": age_group, "height_m": height_m, "height_in": height_in}
    said = [key for key, value in given.items() if value is not None]
    if len(said) > 1:
        top.refuse(said[0], f"and {said[1]} are both given", "leave one out")
    if age_group is not None:
        return AGE_GROUPS[age_group]
    if height_in is not None:
        height_m = height_in * INCH_M
    return None if height_m is None else of_a_team(height_m)


def _layout(table: TomlTable, of_practice: Units | None) -> Layout:
    from posecheck.practice.field import (
        CREASE_RADIUS_US_M,
        CREASE_RADIUS_WORLD_M,
        PRESETS,
        layout_points,
    )

    table.allow("preset", "units", "goal", "crease", "cones")
    preset = table.choice("preset", PRESETS)
    units = _units(table) or of_practice
    cones = table.table("cones")
    if cones.values and units is None:
        table.refuse("units", "is missing", "say whether the cones are in 'm' or 'yd'")
    goal = table.flag("goal") or (preset is not None and "goal" not in table.values)
    world = table.choice("crease", ("us", "world")) == "world"
    field_points = layout_points(CREASE_RADIUS_WORLD_M if world else CREASE_RADIUS_US_M)
    placed = {} if preset is None else dict(PRESETS[preset])
    for name in cones.values:
        if name in field_points:
            cones.refuse(name, "is the name of a point of the goal", "give it another name")
        x, y = cones.point(name)
        assert units is not None  # asked for above
        placed[name] = (units.metres(x), units.metres(y))
    return Layout((dict(field_points) if goal else {}) | placed, goal, frozenset(placed))


def _plan(table: TomlTable, spots: Collection[str]) -> dict[str, Plan]:
    for spot in table.values:
        if spot not in spots:
            table.refuse(spot, "is not a known spot", suggestion(spot, spots))
    written = Plan.written()
    chosen = {spot: table.choice(spot, written) or "" for spot in table.values}
    return {spot: written[where] for spot, where in chosen.items()}


def _views(top: TomlTable, layout: Layout) -> dict[str, View]:
    views: dict[str, View] = {}
    for table in top.tables("views"):
        table.allow("name", "size", "time_s", "marks")
        name = table.text("name")
        if not name:
            table.refuse("name", "is missing", "give the camera position a name")
        if name in views:
            table.refuse("name", f"{name!r} is used twice", "change one")
        marks = table.table("marks")
        if "size" not in table.values:
            if marks.values:
                table.refuse("size", "is missing", "give the picture's width and height in pixels")
            views[name] = View(name, None, 0.0, {})
            continue
        width, height = map(int, table.point("size"))
        for mark in marks.values:
            if mark not in layout.points:
                marks.refuse(mark, "is not a point of the layout", suggestion(mark, layout.points))
            x, y = marks.point(mark)
            if not (0 <= x < width and 0 <= y < height):
                marks.refuse(
                    mark,
                    f"is outside the picture of {width} x {height} pixels",
                    "give pixels counted right and down from the top left corner",
                )
        time_s = table.number("time_s", 0) or 0.0
        seen = {mark: marks.point(mark) for mark in marks.values}
        views[name] = View(name, (width, height), time_s, seen)
    return views


def _notes(
    top: TomlTable,
    views: Mapping[str, View],
    spots: Collection[str],
    players: Mapping[int, Player],
) -> dict[str, ClipNotes]:
    def player(table: TomlTable, key: str) -> Player | None:
        number = _on_roster(table, key, players)
        return None if number is None else players[number]

    notes: dict[str, ClipNotes] = {}
    for table in top.tables("clips"):
        table.allow(
            "file", "view", "spot", "defender", "attacker", "lens", "focal_35mm", "slow_motion",
            "slow_in_part",
        )  # fmt: skip
        key = _clip_of(table, notes)
        view = table.choice("view", views)
        notes[key] = ClipNotes(
            view=None if view is None else views[view],
            spot=table.choice("spot", spots),
            defender=player(table, "defender"),
            attacker=player(table, "attacker"),
            lens=_lens(table),
            slow_motion=table.number("slow_motion", *SLOW_MOTION_RANGE),
            slow_in_part=table.flag("slow_in_part") or None,
        )
    return notes


def _with_points(
    top: TomlTable, layout: Layout, views: Mapping[str, View], notes: Mapping[str, ClipNotes]
) -> tuple[dict[str, View], dict[str, ClipNotes]]:
    """Views and notes with those of ``points.toml`` in place of them."""
    top.allow("views", "clips")
    merged = {**views, **_views(top, layout)}
    placed = dict(notes)
    clips = top.table("clips")
    for clip in clips.values:
        view = clips.choice(clip, merged)
        key = _key(top, clip)
        placed[key] = replace(placed.get(key, ClipNotes()), view=merged[view or ""])
    for key, note in placed.items():
        if note.view is not None:
            placed[key] = replace(note, view=merged[note.view.name])
    return merged, placed


def read_said(folder: Path, practice: Practice) -> tuple[dict[int, Player], dict[str, Said]]:
    """What ``clips.toml`` alone says: players it puts on the roster, and each clip by its key.

    Args:
        folder: of the practice.
        practice: as read from it.

    Raises:
        SettingsError: the file cannot be used.
    """
    path = folder / CLIPS_FILE
    if not there(path):
        return {}, {}
    top = read_toml(path)
    return _players_added(top, {}), said_of_clips(top, practice.layout.spots, practice.players)


def said_of_clips(
    top: TomlTable, spots: Collection[str], players: Mapping[int, Player]
) -> dict[str, Said]:
    """The clips of ``clips.toml`` by key.

    Raises:
        SettingsError: an entry cannot be used.
    """
    top.allow("players", "clips")
    said: dict[str, Said] = {}
    for table in top.tables("clips"):
        table.allow("file", "spot", "defender", "attacker", "arrival_s", "defender_at")
        key = _clip_of(table, said)
        numbers = {each: _on_roster(table, each, players) for each in ("defender", "attacker")}
        said[key] = Said(
            spot=table.choice("spot", spots),
            defender=numbers["defender"],
            attacker=numbers["attacker"],
            arrival_s=table.number("arrival_s", 0),
            defender_at=_pointed_out(table),
        )
    return said


def _with_said(
    said: Mapping[str, Said], players: Mapping[int, Player], notes: Mapping[str, ClipNotes]
) -> dict[str, ClipNotes]:
    """Notes with what ``clips.toml`` says in place of them."""
    placed = dict(notes)
    for key, each in said.items():
        before = placed.get(key, ClipNotes())
        placed[key] = replace(
            before,
            spot=each.spot or before.spot,
            defender=before.defender if each.defender is None else players[each.defender],
            attacker=before.attacker if each.attacker is None else players[each.attacker],
            arrival_s=each.arrival_s,
            defender_at=each.defender_at,
        )
    return placed


def _players_added(top: TomlTable, known: Mapping[int, Player]) -> dict[int, Player]:
    """Those that ``clips.toml`` puts on the roster; practice.toml may name them since."""
    return {number: who for number, who in players_in(top).items() if number not in known}


def _pointed_out(clip: TomlTable) -> PointedOut | None:
    if "defender_at" not in clip.values:
        return None
    table = clip.table("defender_at")
    table.allow("t_s", "x_px", "y_px")
    numbers = [table.number(key) for key in ("t_s", "x_px", "y_px")]
    t_s, x_px, y_px = numbers
    if t_s is None or x_px is None or y_px is None:
        clip.refuse("defender_at", "is not whole", "give t_s, x_px and y_px")
    return PointedOut(t_s, x_px, y_px)


def _clip_of(table: TomlTable, known: Collection[str]) -> str:
    file = table.text("file")
    if not file:
        table.refuse("file", "is missing", "give the clip's file name")
    key = _key(table, file)
    if key in known:
        table.refuse("file", f"{file!r} is listed twice", "leave one out")
    return key


def _key(table: TomlTable, file: str) -> str:
    """A clip's key, however its path is written: a whole one is the same clip."""
    folder = table.path.parent
    return key_of(relative_to(folder, folder / file))


def _on_roster(table: TomlTable, key: str, players: Mapping[int, Player]) -> int | None:
    number = table.whole(key)
    if number is not None and number not in players:
        table.refuse(key, f"is {number}, who is not on the roster", "add a [[players]] entry")
    return number
