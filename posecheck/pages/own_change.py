"""What changed since a player's earlier practices, as far as it may be called a change."""

from __future__ import annotations

from dataclasses import replace

from posecheck.habits.changes import Question, changes
from posecheck.habits.habit import habits
from posecheck.habits.season import PlayerId, Season
from posecheck.habits.words import amount
from posecheck.judging.thresholds import Thresholds
from posecheck.practice.practice import Practice


def changes_of(
    season: Season, practice: Practice, limits: Thresholds
) -> dict[PlayerId, tuple[str, ...]]:
    """Sentences for each player who was at this practice and at an earlier one.

    Said is what :class:`posecheck.habits.changes.Question.LAST` calls a change (how it is called
    stands there); later practices play no part.

    Args:
        season: this practice among earlier ones.
        practice: the one his file is of.
        limits: say what is better.

    Returns:
        By player; no sentence where he has earlier practices and nothing may be called.
    """
    this = next(
        (each for each in season.practices if each.described.folder == practice.folder), None
    )
    if this is None:
        return {}
    earlier = tuple(each for each in season.practices if each.date < this.date)
    known = {rep.who for each in earlier for rep in each.reps} - {None}
    here = {rep.who for rep in this.reps if rep.who is not None}
    said: dict[PlayerId, list[str]] = {who: [] for who in here if who in known}
    until_now = replace(season, practices=(*earlier, this))
    for change in changes(until_now, habits(limits)):
        if change.question is Question.LAST and change.called and change.who in said:
            much, (before, now) = amount(change, practice.units), change.n
            said[change.who].append(
                f"{change.habit.label}: {much} than in your earlier practices; {now} reps against "
                f"{before}."
            )
    return {who: tuple(sentences) for who, sentences in said.items()}
