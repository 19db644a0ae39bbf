"""What the coach decides about reps on served pages: rulings and stars, kept in the record.

A rep goes by the key that pages know it by, ``<digest of the clip>/<number>``.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from starlette.routing import BaseRoute

from posecheck.judging.ruling import Ruling, Tally
from posecheck.practice.practice import Practice
from posecheck.store.record import Record
from posecheck.web.app import Query, reads, writes


def rulings_routes(path: Path) -> list[BaseRoute]:
    """Read and set rulings and stars.

    Args:
        path: the record's database. It is opened for each request, so that a check can write to it
            meanwhile.
    """

    def rulings(query: Query) -> dict[str, Any]:
        with Record(path) as record:
            return _rulings(record)

    def rule(given: dict[str, Any]) -> dict[str, Any]:
        digest, number = _rep(given["key"])
        with Record(path) as record:
            if given["ruling"] is None:
                record.unrule(digest, number)
            else:
                record.rule(digest, number, Ruling(given["ruling"]), given.get("instead"))
            return _rulings(record)

    def stars(query: Query) -> dict[str, Any]:
        with Record(path) as record:
            return _stars(record)

    def star(given: dict[str, Any]) -> dict[str, Any]:
        digest, number = _rep(given["key"])
        if not isinstance(given["starred"], bool):
            raise ValueError("a star is there or not")
        with Record(path) as record:
            (record.star if given["starred"] else record.unstar)(digest, number)
            return _stars(record)

    return [
        reads("/api/rulings", rulings),
        writes("/api/rulings", rule),
        reads("/api/stars", stars),
        writes("/api/stars", star),
    ]


def _rulings(record: Record) -> dict[str, Any]:
    ruled = [each for practice in _practices(record) for each in record.rulings(practice).items()]
    verdicts = {digest: record.verdicts(digest) for digest in {key[0] for key, _ in ruled}}
    return {
        "count": Tally.of(ruling for _, ruling in ruled).words,
        "rulings": {
            f"{digest}/{number}": {
                "ruling": ruling.ruling,
                "instead": ruling.instead,
                "words": ruling.beside(verdicts[digest].get(number)),
            }
            for (digest, number), ruling in ruled
        },
    }


def _stars(record: Record) -> dict[str, Any]:
    keys = [key for practice in _practices(record) for key in record.stars(practice)]
    return {"stars": [f"{digest}/{number}" for digest, number in keys]}


def _practices(record: Record) -> list[Practice]:
    # Of a practice only its folder is asked for: what its settings say plays no part here.
    return [Practice(folder, folder.name) for folder in record.practice_folders()]


def _rep(key: str) -> tuple[str, int]:
    digest, _, number = key.partition("/")
    return digest, int(number)
