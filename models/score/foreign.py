"""Film that no fit has seen beside film like that of the fit, and what is asked of each figure."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import pandas as pd

from models.data.bench import MARKS, BenchRep
from models.data.ground import SHOWN_JOINTS
from models.score.ground import NEAR_MPS, NEAR_SHARE, PLAYERS_SHARE, SIDE_FROM_M
from models.score.summary import TALL_PX, error
from posecheck.filming.tuning import GOOD_DIP_DEG
from posecheck.judging.asked import Asked as Wanted
from posecheck.judging.odds import chance
from posecheck.judging.rules import HEADLINE_RULE, faults_of, rules
from posecheck.judging.thresholds import DEFAULT_THRESHOLDS
from posecheck.judging.verdict import Call, judge, with_every_quantity
from posecheck.measures.measure import Measure, missing

KNEE, LEAN, SPEED, SIDE = (
    "knee_bend_deg",
    "trunk_lean_deg",
    "closeout_speed_mps",
    "approach_offset_m",
)
LATER_KNEE = "late_knee_bend_deg"
STANCE_BESIDE = (
    ("hip drop", "hip_drop", "{:.3f}"),
    ("hands out", "hand_reach", "{:.3f}"),
    ("base", "base_width", "{:.2f} pelvis widths"),
)
"""What else is seen of a stance: name, key, and how its error is written."""

STRAIGHT_DEG = 10.0
"""Knees truly straighter than this are straight legs."""
CLEAN_DEG = (54.0, 65.0)
"""True knee bend of a clean breakdown."""
ON_TIME_FRAMES = 2.0
CORE = ("upright_run_out", "ran_past", "never_braked", "late_breakdown", "no_breakdown")
BENT_DEG = 30.0
DIPS = {
    "under 3°": (0.0, 3.0),
    f"3 to {GOOD_DIP_DEG:.0f}°": (3.0, GOOD_DIP_DEG),
    f"{GOOD_DIP_DEG:.0f} to 12°": (GOOD_DIP_DEG, 12.0),
    "12° and more": (12.0, 91.0),
}
CHANCES = (0.0, 0.01, 0.05, 0.2, 0.5, 0.8, 0.95, 0.99, 1.0)
"""Edges between which faults of several measures are counted by how likely they are said to be."""
ALONG_DEG = 25.0
"""A run is seen along the line of sight by who sees the runner no further than this from straight
on or from right behind."""
SIDES = {"from the front": (0, 45), "from the side": (45, 105), "from behind": (105, 181)}


@dataclass(frozen=True)
class Asked:
    """One thing that is asked of the figures.

    Attributes:
        what: in words.
        n: of how many.
        figure: as measured.
        wanted: in words.
        reached: whether it is so.
    """

    what: str
    n: int
    figure: str
    wanted: str
    reached: bool


def reps_frame(reps: Sequence[BenchRep]) -> pd.DataFrame:
    """One row a rep and source; each measure in ``KEY.value``, ``.low``, ``.high``, ``.truth``."""
    rows = []
    for each in reps:
        row = {
            "collection": each.collection, "clip": each.clip, "source": each.source,
            "kind": each.kind, "focal": each.focal, "k1": each.k1, "look": each.look,
            "dress": each.dress, "camera_height_m": each.camera_height_m,
            "height_px": each.height_px, "view_deg": each.view_deg, "dip_deg": each.dip_deg,
            "shown": each.shown >= SHOWN_JOINTS, "refused": each.refused,
            "call": each.call, "arrival_off_frames": each.arrival_off_frames,
            "arrival_bar_frames": each.arrival_bar_frames,
            "chances": _chances(each), "upright": HEADLINE_RULE in each.flags_expected,
            "flagged_upright": HEADLINE_RULE in each.flags, "faults": list(each.flags),
        }  # fmt: skip
        for key, read in each.figures.items():
            row |= {
                f"{key}.{part}": getattr(read, part) for part in ("value", "low", "high", "truth")
            }
        rows.append(row)
    frame = pd.DataFrame(rows)
    frame["marks"] = frame.source == MARKS
    frame["read"] = frame.refused.isna()
    frame["tall"] = frame.height_px >= TALL_PX
    return frame


def _chances(rep: BenchRep) -> list[tuple[float, bool]]:
    """How likely each fault of several measures is said to be, and whether it is there, where all
    of them are read and their truth is known."""
    read = {
        key: missing(key, "not read")
        if each.value is None or each.low is None or each.high is None
        else Measure(key, each.value, each.low, each.high, "")
        for key, each in rep.figures.items()
    }
    read = with_every_quantity(read)
    true = {
        key: Measure(key, each.truth, each.truth, each.truth, "")
        for key, each in rep.figures.items()
    }
    calls = {each.rule: each.call for each in judge(true, DEFAULT_THRESHOLDS, Wanted()).findings}
    found = []
    for rule in rules(DEFAULT_THRESHOLDS, Wanted()):
        if isinstance(rule.condition, str) or calls[rule.key] is Call.CANT_TELL:
            continue
        least, greatest = chance(rule.condition, read)
        if least == greatest and len({each.key for each in faults_of(rule.condition)}) > 1:
            found.append((least, calls[rule.key] is Call.FLAGGED))
    return found


def by_chance(frame: pd.DataFrame) -> pd.DataFrame:
    """How often faults of several measures are there, by how likely they are said to be: a row for
    each range of chances, with points and from players alone."""
    rows: dict[str, dict[str, float]] = {
        f"{low:.0%} to {high:.0%}": {} for low, high in pairwise(CHANCES)
    }
    for source, own in (("marks", frame[frame.marks]), ("players", frame[~frame.marks])):
        said = np.array([each for rep in own.chances for each in rep], float).reshape(-1, 2)
        which = np.clip(np.searchsorted(CHANCES, said[:, 0], "right"), 1, len(CHANCES) - 1)
        for number, row in enumerate(rows.values(), 1):
            part = said[which == number]
            row[f"{source}_n"] = len(part)
            row[f"{source}_said"], row[f"{source}_there"] = (
                part.mean(axis=0) if len(part) else (np.nan, np.nan)
            )
    return pd.DataFrame.from_dict(rows, orient="index")


def off(frame: pd.DataFrame, key: str) -> pd.Series:
    """Errors of a measure where it was read, positive when too much is read."""
    return (frame[f"{key}.value"].astype(float) - frame[f"{key}.truth"]).dropna()


def covered(frame: pd.DataFrame, key: str) -> pd.Series:
    """Whether the interval holds the truth, where there is one."""
    known = frame[frame[f"{key}.low"].notna() & frame[f"{key}.truth"].notna()]
    low, high = known[f"{key}.low"].astype(float), known[f"{key}.high"].astype(float)
    truth = known[f"{key}.truth"]
    return (truth >= low) & (truth <= high)


def slope(read: pd.Series, truth: pd.Series) -> float:
    """Of readings over truth by least squares, 1 where differences are read in full."""
    known = read.notna() & truth.notna()
    if known.sum() < 3 or np.ptp(truth[known]) == 0:
        return float("nan")
    return float(np.polyfit(truth[known].astype(float), read[known].astype(float), 1)[0])


def correlation(read: pd.Series, truth: pd.Series) -> float:
    """Pearson's, NaN of fewer than three."""
    known = read.notna() & truth.notna()
    if known.sum() < 3:
        return float("nan")
    return float(np.corrcoef(read[known].astype(float), truth[known].astype(float))[0, 1])


def speed_near(frame: pd.DataFrame) -> pd.Series:
    """Whether the closeout speed is as near as wanted: 5 % or 0.25 m/s with points, else 12 %."""
    size, truth = off(frame, SPEED).abs(), frame[f"{SPEED}.truth"]
    allowed = np.maximum(NEAR_SHARE * truth, NEAR_MPS).where(frame.marks, PLAYERS_SHARE * truth)
    return size <= allowed[size.index]


def sides_right(frame: pd.DataFrame) -> pd.Series:
    """Whether the approach is on its true side, where it has one and one was read."""
    read, truth = frame[f"{SIDE}.value"].astype(float), frame[f"{SIDE}.truth"]
    sided = (truth.abs() > SIDE_FROM_M) & read.notna()
    return read[sided] * truth[sided] > 0


def asked(frame: pd.DataFrame) -> list[Asked]:
    """What is asked of closeouts on film that no fit has seen.

    Args:
        frame: of :func:`reps_frame`, of such film alone.
    """
    tried, read = frame, frame[frame.read]
    marks, players = read[read.marks], read[~read.marks]
    tall = marks[marks.tall]
    knee, lean = off(tall, KNEE), off(tall, LEAN)
    held = covered(marks, KNEE)
    found = [
        _asked("Knee bend at arrival, 200 px and taller: mean error", knee.abs(), "{:.1f}°",
               "at most 5°", lambda x: x <= 5),
        _asked("the same: bias", knee, "{:+.1f}°", "within 1.5°", lambda x: abs(x) <= 1.5),
        Asked("the same: slope of reading over truth", len(knee),
              f"{slope(tall[f'{KNEE}.value'], tall[f'{KNEE}.truth']):.2f}", "at least 0.85",
              slope(tall[f"{KNEE}.value"], tall[f"{KNEE}.truth"]) >= 0.85),
        _asked("Trunk lean at arrival, 200 px and taller: mean error", lean.abs(), "{:.1f}°",
               "at most 3.5°", lambda x: x <= 3.5),
    ]  # fmt: skip
    found += [_coverage("Knee bend inside its error bars", held)]
    for side, (low, high) in SIDES.items():
        seen = marks[(marks.view_deg >= low) & (marks.view_deg < high)]
        found.append(_coverage(f"the same, seen {side}", covered(seen, KNEE)))
    for name, chosen in {
        "under 200 px": ~marks.tall,
        "200 px and taller": marks.tall,
        "knees truly straighter than 30°": marks[f"{KNEE}.truth"] < BENT_DEG,
        "knees truly bent 30° and more": marks[f"{KNEE}.truth"] >= BENT_DEG,
    }.items():
        found.append(_coverage(f"the same, {name}", covered(marks[chosen], KNEE)))
    clean = _clean(tried)
    wronged = clean.faults.map(lambda flags: bool(set(flags) & set(CORE)))
    found += [
        _share("Clean breakdowns seen at 200 px and more called clear",
               _cleared(clean[clean.shown]), 0.8),
        Asked("the same, hidden ones included: flagged for a fault of the stance or the run",
              len(clean), str(int(wronged.sum())), "none", not wronged.any()),
        _share("Closeout speed within 5 % or 0.25 m/s, with points", speed_near(marks), 0.95),
        _share("Closeout speed within 12 %, from players alone", speed_near(players), 0.90),
        _share("Arrival within 2 frames, with points", _on_time(tried[tried.marks]), 0.92),
        _share("Arrival within 2 frames, from players alone", _on_time(tried[~tried.marks]), 0.92),
        _share("Approach on its true side, with points", sides_right(marks), 0.98),
    ]  # fmt: skip
    for source, chosen in (
        ("with points", tried[tried.marks]),
        ("from players alone", tried[~tried.marks]),
    ):
        ran = chosen[chosen.upright]
        flagged = chosen[chosen.flagged_upright]
        found += [
            _share(f"Upright run-outs flagged, {source}", ran.flagged_upright, 0.95),
            _share(f"Flags of an upright run-out that are right, {source}", flagged.upright, 0.98),
        ]
    return found


def _error_held(frame: pd.DataFrame, key: str, form: str) -> str:
    return f"{form.format(off(frame, key).abs().mean())}, {_percent(covered(frame, key))}"


def side_by_side(groups: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """The main figures of several kinds of film, a column each."""
    columns = {}
    for name, frame in groups.items():
        marks = frame[frame.read & frame.marks]
        players = frame[frame.read & ~frame.marks]
        knee, lean = off(marks, KNEE), off(marks, LEAN)
        columns[name] = {
            "reps": f"{frame['clip'].nunique()}",
            "knee bend: error (bias)": f"{knee.abs().mean():.1f}° ({knee.mean():+.1f}°)",
            "knee bend: slope, r": f"{slope(marks[f'{KNEE}.value'], marks[f'{KNEE}.truth']):.2f}, "
            f"{correlation(marks[f'{KNEE}.value'], marks[f'{KNEE}.truth']):.2f}",
            "knee bend inside its bars": _percent(covered(marks, KNEE)),
            "knee bend after arrival inside its bars": _percent(covered(marks, LATER_KNEE)),
            "the same, players alone": _percent(covered(players, LATER_KNEE)),
            "trunk lean: error (bias)": f"{lean.abs().mean():.1f}° ({lean.mean():+.1f}°)",
            **{
                f"{name}: error, inside its bars": _error_held(marks, key, form)
                for name, key, form in STANCE_BESIDE
            },
            "closeout speed near, with points": _percent(speed_near(marks)),
            "closeout speed near, players alone": _percent(speed_near(players)),
            "arrival within 2 frames, with points": _percent(_on_time(frame[frame.marks])),
            "the same where that is said of it, with points": _percent(
                _on_time(said_on_time(frame[frame.marks]))
            ),
            "the same where that is said of it, players alone": _percent(
                _on_time(said_on_time(frame[~frame.marks]))
            ),
            "arrival inside its bars, with points": _percent(arrival_held(marks)),
            "arrival inside its bars, players alone": _percent(arrival_held(players)),
            "approach on its side, with points": _percent(sides_right(marks)),
            "clean breakdowns at 200 px called clear, hidden ones included": _percent(
                _cleared(_clean(frame))
            ),
        }
    return pd.DataFrame(columns)


def by_dip(frame: pd.DataFrame) -> pd.DataFrame:
    """How well places are read by how far down the camera looks at the defender's feet, with
    points: a row each for runs seen along the line of sight and for the others."""
    marks = frame[frame.marks]
    along = (marks.view_deg - 90).abs() > 90 - ALONG_DEG
    rows = {}
    for dip, (low, high) in DIPS.items():
        for way, chosen in {"along the run": along, "from the side or at a slant": ~along}.items():
            own = marks[chosen & (marks.dip_deg >= low) & (marks.dip_deg < high)]
            sided = sides_right(own[own.read])
            rows[f"{dip}, {way}"] = {
                "n": len(own),
                "on_time": _on_time(own).mean(),
                "speed": speed_near(own[own.read]).mean(),
                "side": f"{int(sided.sum())} of {len(sided)}",
            }
    return pd.DataFrame.from_dict(rows, orient="index")


def families(pictures: pd.DataFrame) -> pd.DataFrame:
    """Errors in single pictures of each family of movement, by nets that never saw it.

    Args:
        pictures: of :func:`models.score.stance.stance_frame`; well filmed and tall ones count.
    """
    rows = {}
    good = pictures[pictures.good]
    for album in sorted(good.album.unique()):
        own = good[good.album == album]
        read, truth = own[f"{KNEE}.read"], own[f"{KNEE}.truth"]
        straight = read[truth < STRAIGHT_DEG]
        low, high = read - own[f"{KNEE}.below"], read + own[f"{KNEE}.above"]
        row = {
            "n": len(own),
            "slope": slope(read, truth),
            "r": correlation(read, truth),
            "straight": float(straight.mean()) if len(straight) else float("nan"),
            "covered": float(((truth >= low) & (truth <= high)).mean()),
        }
        for name, key in (("knee", KNEE), ("lean", LEAN)):
            row |= error(own[f"{key}.read"] - own[f"{key}.truth"], name)
            row |= error(own[f"{key}.model"] - own[f"{key}.truth"], f"model_{name}")
        rows[album] = row
    return pd.DataFrame.from_dict(rows, orient="index")


def _clean(tried: pd.DataFrame) -> pd.DataFrame:
    """Clean breakdowns of 200 px and more, with points, whether the film shows them or not."""
    clean = tried[tried.marks & tried.tall & (tried.kind == "clean")]
    return clean[clean[f"{KNEE}.truth"].between(*CLEAN_DEG)] if len(clean) else clean


def _cleared(clean: pd.DataFrame) -> pd.Series:
    return clean.call == Call.CLEAR


def said_on_time(frame: pd.DataFrame) -> pd.DataFrame:
    """The reps whose arrival is said to be good to 2 frames."""
    return frame[frame.arrival_bar_frames.astype(float) <= ON_TIME_FRAMES]


def arrival_held(frame: pd.DataFrame) -> pd.Series:
    """Whether the moment of arrival lies within its bar, where there is one."""
    known = frame[frame.arrival_bar_frames.notna()]
    off_frames = known.arrival_off_frames.astype(float).abs()
    return off_frames <= known.arrival_bar_frames.astype(float)


def _on_time(tried: pd.DataFrame) -> pd.Series:
    """Of all reps tried: one that was not found was not on time."""
    return tried.arrival_off_frames.astype(float).abs() <= ON_TIME_FRAMES


def _asked(
    what: str, values: pd.Series, form: str, wanted: str, good: Callable[[float], bool]
) -> Asked:
    figure = float(values.mean()) if len(values) else float("nan")
    return Asked(what, len(values), form.format(figure), wanted, bool(good(figure)))


def _share(what: str, right: pd.Series, least: float) -> Asked:
    share = float(right.mean()) if len(right) else float("nan")
    return Asked(what, len(right), _percent(right), f"at least {least:.0%}", share >= least)


def _coverage(what: str, held: pd.Series) -> Asked:
    share = float(held.mean()) if len(held) else float("nan")
    return Asked(what, len(held), _percent(held), "88 to 93 %", 0.88 <= share <= 0.93)


def _percent(right: pd.Series) -> str:
    return f"{right.mean():.0%} of {len(right)}" if len(right) else "none"
