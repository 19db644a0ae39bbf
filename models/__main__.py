"""The steps that make the models, in the order in which they are run."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from models.fit.folds import Part
from models.recipe import recipe
from posecheck.errors import PosecheckError

app = typer.Typer(
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    help="Make posecheck's models, from rendered pictures to the cards that say how good they "
    "are.\n\nWhoever wants the nets again runs `fit`: it needs nothing but rows in models/rows. "
    "`render` and `gather` make those rows; `read`, `bars` and `cards` follow a fit.",
)

Workers = Annotated[int, typer.Option(min=1, help="Processes, one thread each.")]


class Film(StrEnum):
    """What there is to render."""

    STILLS = "stills"
    SPREAD = "spread"
    MOVING = "moving"
    CAPTURED = "captured"
    FOREIGN = "foreign"
    DATABASE = "database"
    PRACTICE = "practice"


class Net(StrEnum):
    """Nets to fit."""

    ALL = "all"
    STANCE = "stance"
    BASE = "base"
    FEET = "feet"


@app.command()
def render(
    what: Film,
    folder: Annotated[
        Path | None, typer.Argument(help="Where to; `practice` goes into sample_clips.")
    ] = None,
    first: Annotated[
        int | None, typer.Option(help="Only from this number on (stills and clips).")
    ] = None,
    count: Annotated[int | None, typer.Option(min=1, help="Only so many numbers.")] = None,
    name: Annotated[
        list[str] | None, typer.Option(help="Only these clips of the practice.")
    ] = None,
    workers: Workers = 2,
) -> None:
    """Render what recipe.toml lists and FOLDER lacks; can be stopped and goes on where it was.

    stills: single pictures, each read by the pose model at once (needs `posecheck model`; some
    2 s of processor time a picture). spread: short reps from tripods all round. moving: reps by a
    phone held in several ways. captured: captured running, walking and jumping. database:
    movement from a motion database, whose file POSECHECK_MOTION names; so do the stills of it.
    foreign: closeouts through any lens, of bodies that nothing is fitted on. practice: the sample
    practice. All need the extra "models" and no graphics card.
    """
    from models.render import run

    if what is Film.PRACTICE:
        run.practice(name or [], workers)
        return
    if folder is None:
        raise typer.BadParameter("name the folder to render into", param_hint="FOLDER")
    end = None if first is None or count is None else first + count
    chosen = range(first or 0, 1 << 30 if end is None else end)
    {
        Film.STILLS: run.stills,
        Film.SPREAD: run.spread,
        Film.MOVING: run.moving,
        Film.CAPTURED: run.captured,
        Film.FOREIGN: run.foreign,
        Film.DATABASE: run.database,
    }[what](folder, chosen, workers)


@app.command()
def gather(
    folders: Annotated[list[Path], typer.Argument(help="Folders with cast-NNNN.npz of `render`.")],
) -> None:
    """Write the rows in models/rows from rendered stills, and their digests into recipe.toml."""
    from models.data.gather import gather as gather_rows
    from models.files import write_digests

    for path in gather_rows(folders, recipe().stills):
        typer.echo(f"{path.name}: {path.stat().st_size / 1e6:.2f} MB")
    write_digests()


@app.command()
def fit(
    net: Annotated[Net, typer.Argument(help="Which net.")] = Net.ALL,
    workers: Workers = 2,
    part: Annotated[
        Part, typer.Option(help="The nets alone, or what the cards need of other folds alone.")
    ] = Part.ALL,
) -> None:
    """Fit the nets from the rows in models/rows alone; the same bytes every time.

    Needs the extra "models", at the versions that it pins. Writes stance_net.npz and feet_net.npz
    into posecheck/body, and into models/rows what nets of other folds read of each body, which the
    cards are made from. About half an hour on two cores, ten minutes with --part net.
    """
    from models.fit.run import fit_base, fit_feet, fit_stance

    if net in (Net.ALL, Net.STANCE):
        typer.echo(f"stance_net.npz {fit_stance(recipe(), workers, part)}")
    if net in (Net.ALL, Net.BASE) and part is not Part.LEFT_OUT:
        typer.echo(f"base_net.npz {fit_base(recipe(), workers)}")
    if net in (Net.ALL, Net.FEET):
        typer.echo(f"feet_net.npz {fit_feet(recipe(), workers, part)}")


@app.command()
def read(
    folders: Annotated[
        list[Path], typer.Argument(help="Folders of `render spread|moving|captured`, sample_clips.")
    ],
    kept: Annotated[
        Path, typer.Option(help="Where landmarks and readings are kept from run to run.")
    ],
    workers: Workers = 2,
    ground: Annotated[
        bool, typer.Option(help="Ground measures too, from every source of metres.")
    ] = True,
) -> None:
    """Read clips with the nets in the tree: stance windows and ground measures, as rows.

    Needs the clips, and `posecheck model`. Rows of collections that are not named stay, if these
    nets read them. Some 15 s of processor time a clip the first time, less with landmarks kept.
    """
    from models.data.read_clips import read_folders

    read_folders(folders, kept, workers, ground=ground)


@app.command()
def bars(
    ground: Annotated[bool, typer.Option(help="Those of ground measures too.")] = True,
) -> None:
    """Fit the 90 % intervals in posecheck/measures/intervals.toml from the rows of `read`.

    Rows that other nets read than those in the tree are refused.
    """
    from models.fit.run import fit_intervals

    typer.echo(fit_intervals(recipe(), ground=ground))


@app.command()
def limits(
    kept: Annotated[Path, typer.Option(help="Where landmarks are kept from run to run.")],
) -> None:
    """Measure how blurred, dark or burnt out a film may be, on the sample clips; keeps rows.

    Needs `posecheck model`; about ten minutes. `cards film` writes the card.
    """
    from models.data.film_limits import measure_film_limits

    measure_film_limits(kept)


@app.command()
def lens(
    folders: Annotated[
        list[Path] | None,
        typer.Argument(help="Folders of film whose landmarks `read` keeps; none for marks only."),
    ] = None,
    kept: Annotated[
        Path | None, typer.Option(help="Where landmarks are kept from run to run.")
    ] = None,
    draws: Annotated[int, typer.Option(min=1, help="Lenses for each rep.")] = 1,
) -> None:
    """Print how far off metres are through lenses of every kind, by simulation.

    Cameras drawn at random with marks that somebody might set, and reps of known truth seen again
    through other lenses: nothing is rendered. Some 2 s of processor time a rep.
    """
    from models.score.lens import marks_table, seen_outcomes, seen_table

    typer.echo(marks_table().round(3).to_string())
    if folders and kept:
        for distorted in (False, True):
            typer.echo(f"\n{'Lenses that bend lines' if distorted else 'Straight lenses'}")
            found = seen_outcomes(folders, kept, draws, distorted)
            typer.echo(seen_table(found).round(3).to_string())


@app.command()
def foreign(
    folders: Annotated[
        list[Path], typer.Argument(help="Folders of `render foreign`, sample_clips, ...")
    ],
    kept: Annotated[
        Path, typer.Option(help="Where landmarks and results are kept from run to run.")
    ],
    workers: Workers = 2,
) -> None:
    """Measure and judge reps end to end, beside their truth: what ACCURACY.md is made from.

    Needs the clips, and `posecheck model` with npm installed, for both pose models. Some 20 s of
    processor time a clip.
    """
    from models.data.bench import bench_folders

    bench_folders(folders, kept, workers)


@app.command()
def real(
    folder: Annotated[Path, typer.Argument(help="Real clips, and balance/truth.json.gz.")],
) -> None:
    """Read real film beside what is known of it: a part of ACCURACY.md.

    The film is in no repository. About two minutes.
    """
    from models.data.real import read_real

    windows, empty = read_real(folder)
    typer.echo(f"{len(windows)} windows; {sum(each.reps for each in empty)} reps found")


@app.command("long-film")
def long_film(
    folders: Annotated[
        list[Path],
        typer.Argument(help="Folders of `render`, sample_clips."),
    ],
    into: Annotated[Path, typer.Option(help="Where the film is made, or has been made.")],
    others: Annotated[
        list[Path] | None, typer.Option(help="Folders of other film for the pauses: real people.")
    ] = None,
    minutes: Annotated[float, typer.Option(min=0.5, help="How long it is.")] = 40.0,
    seed: Annotated[int, typer.Option(help="Of all that is left to chance.")] = 14,
    jobs: Annotated[int, typer.Option(min=1, help="Processes of the check.")] = 2,
    only_make: Annotated[bool, typer.Option("--only-make", help="Make the film, no more.")] = False,
) -> None:
    """Make a long film from rendered reps with pauses between, check it, print how well it is cut.

    What is made is used again. Making 40 minutes takes some ten minutes of processor time. `cards
    accuracy` puts the figures into ACCURACY.md.
    """
    from models.data.long_film import make_long_film
    from models.data.long_film_check import check_long_film
    from models.score.long_film import asked, figures

    film = make_long_film(folders, others or [], into, minutes, seed)
    typer.echo(f"{film.path}: {film.duration_s / 60:.1f} minutes, {len(film.reps)} reps")
    if only_make:
        return
    checked = check_long_film(film, jobs)
    for each in asked(checked):
        typer.echo(f"{each.what}: {each.figure} of {each.n}, {each.wanted}")
    typer.echo(figures(checked).to_string(header=False))
    for at_s, what in checked.false:
        typer.echo(f"false at {at_s:.1f} s: {what}")
    for rep in checked.reps:
        if rep.outcome != "found":
            typer.echo(f"{rep.outcome}: {rep.clip} at {rep.arrival_s:.1f} s")


@app.command()
def reencodes(
    kept: Annotated[Path, typer.Option(help="Where outcomes are kept from run to run.")],
    workers: Workers = 2,
    kind: Annotated[list[str] | None, typer.Option(help="Only these ways of encoding.")] = None,
    clip: Annotated[list[str] | None, typer.Option(help="Only these sample clips.")] = None,
) -> None:
    """Encode sample clips again in 33 ways and check them: does a verdict turn?

    Writes REENCODED.md. Needs `posecheck model`; can be stopped and goes on where it was. Some 30 s
    of processor time a film, three films for each way.
    """
    from models.data.reencoded import TABLE, check_reencoded, outside, table

    outcomes = check_reencoded(kept, workers, kind or (), clip or ())
    TABLE.write_text(table(outcomes), "utf-8")
    for (how, name), measures in outside(outcomes).items():
        typer.echo(f"{how}, {name}: outside the error bar as filmed: {', '.join(measures)}")
    typer.echo(str(TABLE))


@app.command()
def cards(
    names: Annotated[
        list[str] | None,
        typer.Argument(
            help="stance, feet, intervals, ground, captured, film, accuracy; all by default."
        ),
    ] = None,
) -> None:
    """Write the cards from the rows: what each model is, and how far off it is.

    Needs the rows of `fit`, `read` and `limits`, read with the nets in the tree.
    """
    from models.cards.write import CARDS, write_card

    unknown = set(names or []) - CARDS.keys()
    if unknown:
        raise typer.BadParameter(
            f"no card {', '.join(sorted(unknown))}; there are {', '.join(CARDS)}"
        )
    for card in names or CARDS:
        typer.echo(write_card(card, recipe()))


def main() -> None:
    """Run a step; what whoever runs it can put right is said in one sentence."""
    try:
        app(prog_name="python -m models")
    except (ValueError, OSError, PosecheckError) as error:
        typer.echo(f"Error: {error}", err=True)
        raise SystemExit(1) from None


if __name__ == "__main__":
    main()
