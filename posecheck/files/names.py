"""Names of the files and folders that posecheck reads and writes.

A practice's folder holds ``PRACTICE_FILE`` and, when things were set on a page, ``POINTS_FILE``,
``CLIPS_FILE`` and ``CUTS_FILE``; a coach with limits of his own may put ``THRESHOLDS_FILE`` there.
An output folder, by default ``OUTPUT_FOLDER`` inside the practice's, holds everything else.
"""

from __future__ import annotations

import re

PRACTICE_FILE = "practice.toml"

SEASON_FILE = "season.toml"
"""In a folder of practices: its name, and the roster and club that all of them share."""

POINTS_FILE = "points.toml"
"""Views and marks as set with ``posecheck points``."""

CLIPS_FILE = "clips.toml"
"""Who is in which clip, as set with ``posecheck names``."""

CUTS_FILE = "cuts.toml"
"""Where reps of long films begin and end, as set on the page of long films."""

THRESHOLDS_FILE = "thresholds.toml"
"""The coach's own limits, as ``posecheck thresholds`` writes them to be edited."""

OUTPUT_FOLDER = "checked"
"""Where results go inside a practice's folder unless another place is named."""

RECORD_FILE = "record.sqlite"
"""Practices, clips, reps, measures, verdicts; an output folder is recognised by it."""

KEYPOINTS_FOLDER = "keypoints"
"""Landmarks, one Parquet file for each clip."""

SERIES_FOLDER = "series"
"""Every rep over time, one Parquet file for each clip."""

PICTURES_FOLDER = "pictures"
"""The arrival of every rep, as JPEG."""

CLIPS_FOLDER = "clips"
"""Annotated clips, one for each rep; the page plays them."""

CUTS_FOLDER = "cuts"
"""What was cut out of long films: a clip for each stretch, and for each film what was found."""

FILM_STRIPS_FOLDER = "strips"
"""Small pictures along long films, one JPEG for each row of a strip."""

STILLS_FOLDER = "stills"
"""Small pictures of every rep: the defender around his arrival, and a thumbnail."""

PAGE_FILE = "practice.html"

SEASON_PAGE_FILE = "season.html"
"""Links to the pages of a season's practices."""

CLIPBOARD_FILE = "clipboard.html"
"""The sheet to print, beside the page."""

FILMS_PAGE_FILE = "films.html"
"""Long films as strips, with the reps that were found in them."""

PLAYERS_FOLDER = "players"
"""A player's own file for each who was given one."""

HABITS_FOLDER = "habits"
"""Where ``posecheck habits`` writes unless another place is named."""

HABITS_PAGE_FILE = "habits.html"

HABITS_SHEET_FILE = "habits-sheet.html"
"""The same on one sheet of paper."""

HABITS_TABLE = "habits"
"""Name of the table of habits by date, without the ending of its format."""

CHANGES_TABLE = "habits-changes"
"""The same of differences and what is called of them."""

LOCK_FILE = ".lock"
"""Held by the check that writes into an output folder."""

LOG_FILE = "posecheck.log"
"""What happened inside when posecheck itself failed."""


def is_text(name: str) -> bool:
    """Whether the name of a file is text; else it is bytes that are no UTF-8, which neither a
    settings file nor a browser can hold."""
    try:
        name.encode()
    except UnicodeEncodeError:
        return False
    return True


def in_order(name: str) -> tuple[str | int, ...]:
    """What names are sorted by: numbers in them as numbers, so that clip 9 is before clip 10."""
    parts = re.split(r"([0-9]+)", name)
    # Text and numbers take turns, so that only like is compared with like.
    return (*(int(part) if at % 2 else part for at, part in enumerate(parts)), 0, name)
