"""Print the limits that a coach's rulings imply, and write them where he says."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path

from rich.console import Console

from posecheck.agreement.ruled import RuledRep, ruled_reps
from posecheck.agreement.tune import Agreement, Outcome, Proposal, Tuned, decided, enough, tune
from posecheck.agreement.tuning import MIN_EACH, MIN_RULINGS
from posecheck.agreement.written import write_limits
from posecheck.cli.exit_codes import ExitCode
from posecheck.cli.printing import called, counted, rep_name, say
from posecheck.errors import UsageError
from posecheck.files.whole_file import refuse_to_overwrite
from posecheck.judging.ruling import Tally
from posecheck.judging.thresholds import Limit, Thresholds, limit_words
from posecheck.judging.verdict import Call
from posecheck.maths.units import Units
from posecheck.measures.figures import digits, figure
from posecheck.pipeline.judge import rejudge
from posecheck.practice.practice import Practice
from posecheck.store.finding import find_record, measured_practices
from posecheck.store.record import Record


def tune_limits(folders: Sequence[Path], given: Thresholds | None, out: Path | None) -> ExitCode:
    """Tune over the practices of these folders.

    Args:
        folders: of practices, or of their results.
        given: the limits as they are, None for those that the practices were judged by.
        out: the file to write proposed limits to, None for none.

    Raises:
        UsageError: nothing is on record there, the practices were judged by different limits, or
            the file is there already.
        PosecheckError: a record or a settings file cannot be used.
    """
    console = Console()
    if out is not None:
        refuse_to_overwrite(out)
    paths = list(dict.fromkeys(find_record(folder).resolve() for folder in folders))
    reps: list[RuledRep] = []
    units: Units | None = None
    judged_by: set[Thresholds] = set()
    for path in paths:
        with Record(path) as record:
            for practice in measured_practices(record):
                reps += ruled_reps(record, practice)
                judged_by |= _judged_by(record, practice)
                units = units or practice.units
    stands = given or _the_one(judged_by)
    _say_rulings(console, reps)
    if not enough(reps):
        say(
            console,
            f"Not enough rulings: {decided(reps)} say right or wrong, and nothing is proposed "
            f"from fewer than {MIN_RULINGS}. Rule more reps with posecheck serve.",
        )
        return _nothing(console, out)
    tuned = tune(reps, stands)
    _say_limits(console, tuned, units or Units.METRES)
    _say_agreement(console, tuned)
    if tuned.proposed == stands:
        say(console, "No limit is proposed: leave them as they are.")
        return _nothing(console, out)
    _say_verdicts(console, paths, tuned)
    if out is None:
        say(
            console,
            "Nothing has been changed. To write the proposed limits into a file of your own: "
            "--out FILE",
        )
        return ExitCode.ALL_MEASURED
    write_limits(tuned, decided(reps), out)
    say(
        console,
        f"{out} is written; no verdict has been changed. To judge by it: posecheck rejudge FOLDER "
        f"--thresholds {out} --keep",
    )
    return ExitCode.ALL_MEASURED


def _nothing(console: Console, out: Path | None) -> ExitCode:
    if out is None:
        return ExitCode.ALL_MEASURED
    say(console, f"{out} is not written.")
    return ExitCode.FAILED


def _judged_by(record: Record, practice: Practice) -> set[Thresholds]:
    found = {record.thresholds(digest) for _, digest in record.clips(practice)}
    return {each for each in found if each is not None}


def _the_one(judged_by: set[Thresholds]) -> Thresholds:
    if len(judged_by) > 1:
        raise UsageError(
            "These practices were judged by different limits; say with --thresholds FILE which to "
            "start from."
        )
    return next(iter(judged_by), Thresholds())


def _say_rulings(console: Console, reps: Sequence[RuledRep]) -> None:
    say(console, Tally.of(rep.ruling for rep in reps).words)


_HEADING = {
    Outcome.PROPOSED: "Proposed, each with the other limits as they are, and the 90 % interval:",
    Outcome.AGREES: "Left as they are, since your rulings do not clearly differ:",
    Outcome.OUT_OF_ORDER: "Left as they are, since it would cross another limit:",
    Outcome.TOO_WIDE: "Left as they are, since your rulings leave too much open:",
    Outcome.TOO_FEW: f"Not enough rulings, which want {MIN_EACH} with the fault named and "
    f"{MIN_EACH} without it:",
}


def _say_limits(console: Console, tuned: Tuned, units: Units) -> None:
    for outcome, heading in _HEADING.items():
        own = [each for each in tuned.proposals if each.outcome is outcome]
        if own:
            say(console, heading)
        for each in own:
            say(console, f"    {_limit_words(each, units)}")


def _limit_words(each: Proposal, units: Units) -> str:
    words, now = limit_words(each.name, each.stands, units)
    counts = f"{each.seen} with, {each.unseen} without"
    if each.fit is None:
        return f"{words} {now}: {counts}"
    key = Limit.named(each.name).quantity.key
    match each.fit.low, each.fit.high:
        case None, None:
            where = "yours may be anything"
        case float(low), None:
            where = f"yours is at least {figure(key, low, units)}"
        case None, float(high):
            where = f"yours is at most {figure(key, high, units)}"
        case float(low), float(high):
            where = f"yours is {digits(key, low, units)} to {figure(key, high, units)}"
    if each.value is None:
        return f"{words} {now}: {where} ({counts})"
    return f"{words} {figure(key, each.value, units)} instead of {now}: {where} ({counts})"


def _say_agreement(console: Console, tuned: Tuned) -> None:
    say(console, f"Calls by the limits as they are: {_agreement_words(tuned.now)}")
    if tuned.then is not None:
        say(
            console,
            f"By proposed limits, on reps kept out of the fit: {_agreement_words(tuned.then)}",
        )


def _agreement_words(agreement: Agreement) -> str:
    share = agreement.share
    if share is None:
        return "your rulings say nothing that a call could agree with."
    low, high = (f"{100 * end:.0f}" for end in share)
    total = agreement.same + agreement.against + agreement.open
    return (
        f"{agreement.same} of {total} as you rule ({low} to {high} %), {agreement.against} against "
        f"you, {agreement.open} can't tell."
    )


def _say_verdicts(console: Console, paths: Sequence[Path], tuned: Tuned) -> None:
    """What the proposed limits would change on every rep on record, ruled or not."""
    moves: Counter[tuple[Call, Call]] = Counter()
    n_reps = 0
    say(console, "Reps that would get another call:")
    for path in paths:
        with Record(path) as record:
            for practice in measured_practices(record):
                before = rejudge(record, practice, tuned.stands)
                after = rejudge(record, practice, tuned.proposed)
                n_reps += len(after)
                in_clip = Counter(each.rep.clip for each in after)
                for old, new in zip(before, after, strict=True):
                    if old.verdict.call is new.verdict.call:
                        continue
                    moves[old.verdict.call, new.verdict.call] += 1
                    clip, number = new.rep.clip, new.rep.number
                    name = rep_name(practice, clip, number, alone=in_clip[clip] == 1)
                    player = practice.notes_for(clip).defender_name
                    calls = (called(old.verdict.call), " -> ", called(new.verdict.call))
                    say(console, f"    {name}  {player}  ", *calls, f"  {new.verdict.headline}")
    if not moves:
        say(console, f"    none of {counted(n_reps, 'rep')}")
        return
    ways = ", ".join(f"{count} from {a} to {b}" for (a, b), count in moves.most_common())
    say(console, f"{moves.total()} of {counted(n_reps, 'rep')}: {ways}.")
