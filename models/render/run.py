"""Render what is missing, several at a time; a stopped run goes on where it was."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

from models.recipe import FOLDER, Recipe, StillsSet, recipe

SAMPLE = FOLDER.parent / "sample_clips"
CASTS_PER_PROCESS = 6
"""Windows off screen are not given back while a process lives, so processes are replaced."""

RenderClip = Callable[[Path, int, Recipe], None]


def stills(folder: Path, numbers: range, workers: int) -> None:
    """Single pictures of every cast in the recipe's sets whose number is among these."""
    from models.render.stills import cast_file

    folder.mkdir(parents=True, exist_ok=True)
    missing = [
        (each, cast)
        for each, cast in in_step(recipe().stills.sets, numbers)
        if not cast_file(folder, cast).exists()
    ]
    print(f"{len(missing)} casts to render", flush=True)
    step = CASTS_PER_PROCESS * workers
    for start in range(0, len(missing), step):
        with _pool(workers) as pool:
            jobs = [pool.submit(_cast, folder, *each) for each in missing[start : start + step]]
            for job in jobs:
                job.result()


def in_step(sets: Sequence[StillsSet], numbers: range) -> list[tuple[StillsSet, int]]:
    """The sets' casts whose number is among these, the sets dealt in step.

    Whatever part of the run from its beginning is done holds the sets in proportion.
    """
    chosen = [[cast for cast in each.numbers if cast in numbers] for each in sets]
    dealt = [
        ((place + 0.5) / len(casts), order, each, cast)
        for order, (each, casts) in enumerate(zip(sets, chosen, strict=True))
        for place, cast in enumerate(casts)
    ]
    return [(each, cast) for _, _, each, cast in sorted(dealt, key=lambda deal: deal[:2])]


def _cast(folder: Path, stills_set: StillsSet, cast: int) -> None:
    from models.render.stills import render_cast
    from posecheck.pose.model_files import pose_model_path

    _one_thread()
    made = recipe().stills
    sizes = [made.pose_model, *([made.second_model] if stills_set.camera == "wide" else [])]
    models = [pose_model_path(size) for size in sizes]
    try:
        render_cast(folder, cast, stills_set, made, models)
    except ValueError as error:
        print(f"cast {cast} left out: {error}", flush=True)


def spread(folder: Path, numbers: range, workers: int) -> None:
    """Short reps from tripods all round."""
    from models.render import spread as room

    chosen = [n for n in recipe().clips.spread.all_numbers if n in numbers]
    _clips(room.render, folder, chosen, workers)


def moving(folder: Path, numbers: range, workers: int) -> None:
    """Reps by a phone held in several ways."""
    from models.render import moving as room

    chosen = [n for n in recipe().clips.moving.reps if n in numbers]
    _clips(room.render, folder, chosen, workers)


def captured(folder: Path, numbers: range, workers: int) -> None:
    """Clips of captured movement."""
    from models.render import travelling

    chosen = [n for n in range(recipe().clips.captured.clips) if n in numbers]
    _clips(travelling.render, folder, chosen, workers)


def foreign(folder: Path, numbers: range, workers: int) -> None:
    """Closeouts of families that nothing is fitted on."""
    from models.render import foreign as room

    chosen = [n for n in range(recipe().clips.foreign.clips) if n in numbers]
    _clips(room.render, folder, chosen, workers)


def database(folder: Path, numbers: range, workers: int) -> None:
    """Clips of movement from a motion database; POSECHECK_MOTION names its file."""
    from models.render import database_clips

    chosen = [n for n in range(len(recipe().clips.database.kinds)) if n in numbers]
    _clips(database_clips.render, folder, chosen, workers)


def _clips(render: RenderClip, folder: Path, numbers: Sequence[int], workers: int) -> None:
    shares = [numbers[i::workers] for i in range(workers)]
    with _pool(workers) as pool:
        for job in [pool.submit(_share, render, folder, share) for share in shares if share]:
            job.result()


def _share(render: RenderClip, folder: Path, numbers: Sequence[int]) -> None:
    _one_thread()
    for number in numbers:
        try:
            render(folder, number, recipe())
        except ValueError as error:  # a body that cannot take the stance asked for
            print(f"{number:03d} left out: {error}", flush=True)


def practice(names: Sequence[str], workers: int, root: Path = SAMPLE) -> None:
    """The sample practice: these of its clips, or all, that are missing or out of date.

    Raises:
        ValueError: it has no clip of a name.
    """
    from models.render import practice as room
    from models.render.script import REPS

    known = [rep.name for rep in REPS]
    unknown = sorted(set(names) - set(known))
    if unknown:
        raise ValueError(f"no such clip: {', '.join(unknown)}; there are {', '.join(known)}")
    wanted = [rep for rep in REPS if not names or rep.name in names]
    todo = [rep for rep in wanted if not room.is_done(root, rep)]
    # Clips of one view go to one worker: they share the empty field.
    views = sorted({r.view for r in todo}, key=lambda v: -sum(r.view == v for r in todo))
    shares: list[list[str]] = [[] for _ in range(workers)]
    for view in views:
        min(shares, key=len).extend(rep.name for rep in todo if rep.view == view)
    with _pool(workers) as pool:
        for job in [pool.submit(_reps, root, share) for share in shares if share]:
            job.result()
    room.write_practice(root)


def _reps(root: Path, names: Sequence[str]) -> None:
    from models.render import practice as room
    from models.render.script import REPS

    _one_thread()
    room.make(root, [rep for rep in REPS if rep.name in names])


def _pool(workers: int) -> ProcessPoolExecutor:
    return ProcessPoolExecutor(workers, mp_context=get_context("spawn"))


def _one_thread() -> None:
    import cv2
    import torch

    cv2.setNumThreads(1)
    torch.set_num_threads(1)
