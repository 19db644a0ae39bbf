"""Which reps a coach looks at first, and the proof that stands on the card of each rep."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from posecheck.judging.verdict import Call
from posecheck.measures.figures import fixed
from posecheck.pages.like_rep import like_clean_reps
from posecheck.pages.rep_data import seriousness
from posecheck.pages.rep_view import RepView
from posecheck.pages.stills import Still
from posecheck.pages.tuning import MOST_CARDS, SAME_MOMENT_S


@dataclass(frozen=True)
class Moment:
    """One column of the proof: the same moment of two reps, each in a picture of its own.

    Attributes:
        words: when it is.
        own: of the rep on the card.
        like: of the clean rep below it, None when there is none or its film does not show it.
    """

    words: str
    own: Still
    like: Still | None


@dataclass(frozen=True)
class Card:
    """A rep and its proof.

    Attributes:
        rep: itself.
        like: the clean rep it is compared with, None when none was filmed alike.
        moments: the proof, in order of time; empty when no stills were drawn.
    """

    rep: RepView
    like: RepView | None
    moments: tuple[Moment, ...]

    @property
    def whose(self) -> str:
        """Whose rep the clean one is, in words."""
        assert self.like is not None
        return "his own" if self.like.player == self.rep.player else self.like.player


def look_first(reps: Sequence[RepView]) -> list[Card]:
    """The few reps to look at first, most serious on top.

    Of reps with the same fault, one of each player comes before anybody's second.
    """
    flagged = [rep for rep in reps if rep.call is Call.FLAGGED]
    flagged.sort(key=lambda rep: (*seriousness(rep.verdict), rep.number))
    turns: Counter[tuple[str, str]] = Counter()
    order: list[tuple[int, int, int]] = []
    for rep in flagged:
        whose = (rep.group, rep.player)
        order.append((seriousness(rep.verdict)[0], turns[whose], len(order)))
        turns[whose] += 1
    likes = like_clean_reps(reps)
    first = [flagged[place] for _, _, place in sorted(order)[:MOST_CARDS]]
    return [compared(rep, likes.get(rep.number)) for rep in first]


def compared(rep: RepView, like: RepView | None) -> Card:
    """A rep beside the clean one that is most like it, of which it may have none."""
    cells = like.stills.cells if like is not None else ()
    return Card(
        rep,
        like if cells else None,
        tuple(
            Moment(moment_words(own.offset_s), own, _nearest(own, cells))
            for own in rep.stills.cells
        ),
    )


def _nearest(own: Still, cells: Sequence[Still]) -> Still | None:
    """Of another rep's cells the one that shows the same moment."""
    nearest = min(cells, key=lambda cell: abs(cell.offset_s - own.offset_s), default=None)
    near = nearest is not None and abs(nearest.offset_s - own.offset_s) <= SAME_MOMENT_S
    return nearest if near else None


def moment_words(offset_s: float) -> str:
    """A moment as it stands over its column: "arrival", "+0.2 s"."""
    if abs(offset_s) < 0.02:  # no more than half a frame of most film
        return "arrival"
    return f"{fixed(offset_s, 1 if abs(offset_s) >= 0.1 else 2, signed=True)} s"
