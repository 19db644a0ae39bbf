"""What the coach sets of long films on their page: start and end of reps, what is a rep.

Kept in the practice's ``cuts.toml``; the page is written again at once, reps by the next check.
"""

from __future__ import annotations

import math
import threading
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from starlette.responses import Response
from starlette.routing import BaseRoute

from posecheck.errors import SettingsError, UsageError
from posecheck.files.cut_name import clock, span
from posecheck.judging.thresholds import DEFAULT_THRESHOLDS
from posecheck.pages.publish import write_films
from posecheck.practice.cuts import FilmCuts, SetBy, SetStretch, Stretch, StretchKind
from posecheck.practice.found_cuts import read_cuts
from posecheck.practice.reading import read_practice
from posecheck.practice.set_cuts import read_set, write_set
from posecheck.printable import printable
from posecheck.store.record import Record
from posecheck.video.seeking import pictures_at
from posecheck.web.app import Query, reads, writes
from posecheck.web.tuning import FILM_PICTURE_PX, LEAST_STRETCH_S, LONGEST_REP_S


class LongFilms:
    """The long films of one practice while it is set what is a rep in them.

    Args:
        folder: of the practice.
        record: its record.
    """

    def __init__(self, folder: Path, record: Path) -> None:
        self.folder = folder.resolve()
        self.record = record
        self._lock = threading.Lock()
        self._decoding = threading.Lock()

    def picture(self, film: str, time_s: float) -> bytes:
        """The picture on show at a moment of a film, as JPEG.

        Args:
            film: digest of its content, by which the page knows it.
            time_s: seconds of the film.

        Raises:
            UsageError: there is no such film.
            UnreadableClip: it cannot be read.
        """
        import cv2

        path = self.folder / self._cuts(film).film
        with self._decoding:  # a browser asks for many at once
            (rgb,) = pictures_at(path, [time_s], FILM_PICTURE_PX)
        _, jpeg = cv2.imencode(".jpg", cv2.cvtColor(rgb, cv2.COLOR_RGB2BGR))
        return bytes(jpeg.tobytes())

    def set(self, given: Mapping[str, Any]) -> None:
        """Keep what was set of one stretch.

        Args:
            given: ``film`` as for :meth:`picture`, ``from_s``, ``to_s``, ``kind`` ("rep" or "none")
                and ``instead``: start and end of the stretch that it stands in place of, None for
                one that is added.

        Raises:
            SettingsError: that cannot be.
            UsageError: there is no such film or stretch.
            RecordError: it cannot be kept.
        """
        cuts, kind = self._cuts(str(given["film"])), StretchKind(given["kind"])
        if kind is StretchKind.UNSURE:
            raise ValueError("the coach is sure")
        from_s, to_s = _times(given, cuts, kind)
        with self._lock:
            by_film = read_set(self.folder)
            before = by_film.get(cuts.film, ())
            his, found = before, None
            if given["instead"] is not None:
                old = _stretch_at(cuts.as_set(before), *given["instead"])
                if old.set_by is SetBy.COACH:
                    replaced = _set_at(before, old)
                    found = replaced.found
                    his = tuple(each for each in before if each is not replaced)
                else:
                    found = (old.from_s, old.to_s)
            new = SetStretch(from_s, to_s, kind, found)
            _refuse_overlap(new, cuts.as_set(his))
            self._keep({**by_film, cuts.film: (*his, new)})

    def take_back(self, given: Mapping[str, Any]) -> None:
        """Forget what was set of a stretch: what was found there holds again.

        Args:
            given: ``film`` as for :meth:`picture`, ``from_s``, ``to_s``.

        Raises:
            UsageError: there is no such film or stretch.
            RecordError: it cannot be kept.
        """
        cuts = self._cuts(str(given["film"]))
        with self._lock:
            by_film = read_set(self.folder)
            before = by_film.get(cuts.film, ())
            old = _stretch_at(cuts.as_set(before), given["from_s"], given["to_s"])
            gone = _set_at(before, old)
            left = tuple(each for each in before if each is not gone)
            self._keep({**by_film, cuts.film: left})

    def _keep(self, by_film: Mapping[str, tuple[SetStretch, ...]]) -> None:
        write_set(self.folder, by_film)
        with Record(self.record) as record:
            practice = read_practice(self.folder)
            limits = record.last_thresholds(practice) or DEFAULT_THRESHOLDS
            write_films(record, practice, limits)

    def _cuts(self, film: str) -> FilmCuts:
        """What was found in a film that the page may ask for.

        Raises:
            UsageError: there is none.
        """
        for cuts in read_cuts(self.record.parent):
            if cuts.digest == film:
                return cuts
        raise UsageError("There is no such film; reload the page.")


def long_films_routes(films: LongFilms) -> list[BaseRoute]:
    """What the page of long films asks for."""

    def picture(query: Query) -> Response:
        jpeg = films.picture(query["film"], float(query["t_s"]))
        return Response(jpeg, media_type="image/jpeg")

    def set_stretch(given: Any) -> Any:
        films.set(given)
        return {}

    def take_back(given: Any) -> Any:
        films.take_back(given)
        return {}

    return [
        reads("/api/films/picture", picture),
        writes("/api/films/set", set_stretch),
        writes("/api/films/take-back", take_back),
    ]


def _times(given: Mapping[str, Any], cuts: FilmCuts, kind: StretchKind) -> tuple[float, float]:
    """Start and end as given, to the millisecond.

    Raises:
        SettingsError: they cannot be.
    """
    from_s, to_s = (_number(given[name]) for name in ("from_s", "to_s"))
    if not (0 <= from_s <= cuts.duration_s and 0 <= to_s <= cuts.duration_s):
        film, length = printable(cuts.film), clock(cuts.duration_s)
        raise SettingsError(f"{film} is {length} long; give a start and an end within it.")
    if to_s - from_s < LEAST_STRETCH_S:
        raise SettingsError(
            f"The end must be {LEAST_STRETCH_S:g} second or more after the start; change one."
        )
    if kind is StretchKind.REP and to_s - from_s > LONGEST_REP_S:
        raise SettingsError(
            f"A rep is {LONGEST_REP_S:g} seconds long at most; set a start and an end for each rep."
        )
    return from_s, to_s


def _number(value: Any) -> float:
    if not isinstance(value, int | float) or isinstance(value, bool) or not math.isfinite(value):
        raise SettingsError("A start and an end are numbers; write them as 14:32.5.")
    return round(float(value), 3)


def _refuse_overlap(new: SetStretch, others: tuple[Stretch, ...]) -> None:
    """Refuse what runs into another stretch, except where no rep was found, or what it replaces.

    Raises:
        SettingsError: it does.
    """
    for each in others:
        by_coach = each.set_by is SetBy.COACH
        settled = each.kind is StretchKind.NONE or _overlap(each, new.found)
        if _overlap(each, (new.from_s, new.to_s)) and (by_coach or not settled):
            raise SettingsError(
                f"It runs into the stretch from {span(each.from_s, each.to_s)}; change "
                "that one, or give other times."
            )


def _overlap(stretch: Stretch, times_s: tuple[float, float] | None) -> bool:
    return times_s is not None and stretch.from_s < times_s[1] and times_s[0] < stretch.to_s


def _stretch_at(stretches: tuple[Stretch, ...], from_s: Any, to_s: Any) -> Stretch:
    for each in stretches:
        if _is_at(each, from_s, to_s):
            return each
    raise UsageError("The page is older than what was set; reload it.")


def _set_at(his: tuple[SetStretch, ...], stretch: Stretch) -> SetStretch:
    for each in his:
        if _is_at(stretch, each.from_s, each.to_s):
            return each
    raise UsageError("Nothing was set of that stretch; reload the page.")


def _is_at(stretch: Stretch, from_s: Any, to_s: Any) -> bool:
    return round(stretch.from_s, 3) == round(_number(from_s), 3) and round(
        stretch.to_s, 3
    ) == round(_number(to_s), 3)
