"""Render the sample practice: `python -m models.render [rep-01 ...]`; skips what is done."""

from __future__ import annotations

import argparse
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

from . import practice


def main() -> None:
    """Read the command line and render what is missing."""
    parser = argparse.ArgumentParser(prog="python -m models.render", description=__doc__)
    parser.add_argument("names", nargs="*", help="clips to render; all when none is named")
    parser.add_argument("--workers", type=int, default=2)
    given = parser.parse_args()
    root = Path(__file__).parents[2] / "sample_clips"
    known = [rep.name for rep in practice.REPS]
    unknown = set(given.names) - set(known)
    if unknown:
        parser.error(f"no such clip: {', '.join(sorted(unknown))}; there are {', '.join(known)}")
    wanted = [r for r in practice.REPS if not given.names or r.name in given.names]
    todo = [r for r in wanted if not practice.is_done(root, r)]
    # Clips of one view go to one worker: they share the empty field.
    views = sorted({r.view for r in todo}, key=lambda v: -sum(r.view == v for r in todo))
    shares: list[list[str]] = [[] for _ in range(given.workers)]
    for view in views:
        min(shares, key=len).extend(r.name for r in todo if r.view == view)
    with ProcessPoolExecutor(given.workers, mp_context=get_context("spawn")) as pool:
        for job in [pool.submit(practice.work, str(root), share) for share in shares if share]:
            job.result()
    practice.write_practice(root)


if __name__ == "__main__":
    main()
