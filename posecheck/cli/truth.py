"""The work of ``posecheck truth``: rep after rep, what is said of each, what it comes to."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from rich.console import Console

from posecheck.cli.exit_codes import ExitCode
from posecheck.cli.printing import counted, progress_bar, say
from posecheck.errors import ClipError, UsageError
from posecheck.judging.thresholds import Thresholds
from posecheck.measures.figures import figure, interval_in_words
from posecheck.measures.quantities import QUANTITY
from posecheck.multiview.measured import Measured
from posecheck.multiview.pairing import pair_films
from posecheck.multiview.take import Take, measure_take
from posecheck.multiview.written import FIGURES_FILE, write_figures, write_truth
from posecheck.pipeline.judge import judge_rep
from posecheck.pipeline.read import open_reader
from posecheck.pipeline.settings import Settings
from posecheck.practice.practice import Practice
from posecheck.practice.reading import read_practice
from posecheck.practice.season_folder import practice_folder


def make_truth(places: Sequence[Path], out: Path, settings: Settings) -> ExitCode:
    """Measure every rep from all phones together, and write it as the truth of each film.

    Args:
        places: for each phone its folder, or one film.
        out: where the truth goes; a folder for each phone is made in it.
        settings: of the run.

    Raises:
        UsageError: the films cannot be matched, or the truth would go among them.
    """
    console = Console()
    practices = [read_practice(practice_folder([place])) for place in places]
    _require_elsewhere(out, practices)
    pairing = pair_films(places)
    folders = [out / f"phone-{number}" for number in range(1, len(places) + 1)]
    matched = f"{counted(len(pairing.takes), 'rep')} matched by {pairing.by}"
    say(console, f"{matched}; {counted(len(pairing.alone), 'film')} without a match.")
    rows: list[tuple[str, Measured]] = []
    with open_reader(settings) as reader, progress_bar(console) as progress:
        task = progress.add_task("Measuring", total=len(pairing.takes))
        for films in pairing.takes:
            try:
                take = measure_take(films, practices, settings, reader)
            except ClipError as error:
                say(console, str(error))
            else:
                _write(folders, films, practices, take)
                rows.append((films[0].stem, take.measured))
                _say_take(console, films[0].stem, take)
            progress.advance(task)
    if not rows:
        return ExitCode.NOTHING_USABLE
    write_figures(out / FIGURES_FILE, rows)
    say(console, f"All measures with their intervals: {out / FIGURES_FILE}")
    for folder in folders:
        say(console, f"How far off one phone is: posecheck accuracy {folder}")
    return ExitCode.ALL_MEASURED if len(rows) == len(pairing.takes) else ExitCode.SOME_FAILED


def _require_elsewhere(out: Path, practices: Sequence[Practice]) -> None:
    for practice in practices:
        if out.resolve() == practice.folder or practice.folder.is_relative_to(out.resolve()):
            raise UsageError(
                f"{out}: the films are here, and the truth would go among them; name another "
                "folder with --out."
            )


def _write(
    folders: Sequence[Path], films: Sequence[Path], practices: Sequence[Practice], take: Take
) -> None:
    for number, (folder, film, practice) in enumerate(zip(folders, films, practices, strict=True)):
        verdict = judge_rep(take.measured.measures, practice, film, Thresholds())
        keypoints = take.keypoints[number]
        write_truth(folder, number, practice, film, keypoints, take.set_up, take.measured, verdict)


def _say_take(console: Console, name: str, take: Take) -> None:
    together, fitted = take.set_up, take.set_up.calibration
    clocks = ", ".join(
        f"{late:+.3f} ± {sd:.3f} s by {by}"
        for late, sd, by in zip(
            fitted.rig.later_s[1:], fitted.later_sd_s[1:], together.clocks_by, strict=True
        )
    )
    say(
        console,
        f"{name}  seen from {together.angle_deg:.0f}° apart; clocks {clocks}; lines of sight meet "
        f"within {100 * fitted.typical_miss_m:.1f} cm; lengths good to {fitted.scale_sd:.0%}; "
        f"his thighs and shanks vary by {together.limb_spread:.0%}.",
    )
    for key in ("knee_bend_deg", "trunk_lean_deg", "closeout_speed_mps", "arrival_speed_mps"):
        measure = take.measured.measures[key]
        shown = (
            measure.missing_because
            if measure.value is None
            else f"{figure(key, measure.value)} ({interval_in_words(measure)})"
        )
        say(console, f"    {QUANTITY[key].label}: {shown}")
    for remark in take.remarks:
        say(console, f"    {remark}")
