"""Every card by name: its frames, and the template that puts them into words."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
from jinja2 import Environment, FileSystemLoader, StrictUndefined

from models.cards.tables import error_form, markdown
from models.data.bench import BENCH, read_bench
from models.data.film import SAMPLE
from models.data.film_limits import Arrival, read_film_limits
from models.data.ground import CAME_WITH, FOUND, FROM_PLAYERS, MEASURES, source_names
from models.data.keyed import version_of
from models.data.left_out import read_left_out
from models.data.long_film_check import Checked, kept_check
from models.data.read_clips import read_outcomes, read_windows
from models.data.real import kept_real
from models.data.stills import read_casts
from models.files import CAPTURED, FEET_NET, FOLDER, STANCE_NET, nets_digest, stills_rows
from models.fit.run import casts_of
from models.fit.stance import MEASURES as STANCE_MEASURES
from models.fit.stance_intervals import CLOSEOUTS
from models.recipe import Recipe
from models.score import feet, film_limits, foreign, ground, long_film, real, stance, windows
from models.score.summary import TALL_PX
from posecheck.body import foot_sight, stance_net
from posecheck.body.stance_track import STANCE
from posecheck.filming.tuning import BENT_DEG, GOOD_DIP_DEG, MAX_BLUR, MAX_BURNT, MIN_LIGHT
from posecheck.measures.intervals import Intervals, default_intervals
from posecheck.measures.quantities import QUANTITY

Content = dict[str, Any]
"""What a template says, by name."""

KNEE, LEAN = "knee_bend_deg", "trunk_lean_deg"
HELD = {
    "tripod": "tripod",
    "pan": "turned after the player",
    "hand": "calm hand",
    "unsteady": "unsteady hand",
    "zoom": "zoomed in",
}
"""How the phone is held in ``moving``, in words."""


def write_card(name: str, recipe: Recipe) -> str:
    """Write a card from the rows in the tree, and give its first sentence.

    Raises:
        StaleRows: its rows were read with other nets than those in the tree.
    """
    text = rendered(name, CARDS[name](recipe))
    path = PLACES.get(name, FOLDER / f"{name.upper()}_CARD.md")
    path.write_text(text, "utf-8")
    return f"{path.name}: {text.splitlines()[2]}"


def rendered(name: str, content: Mapping[str, Any]) -> str:
    """A card's text."""
    world = Environment(
        loader=FileSystemLoader(FOLDER / "cards" / "templates"),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
        autoescape=False,  # Markdown, from our own rows alone
    )
    return world.get_template(f"{name}.md.jinja").render(**content)


# -- nets ----------------------------------------------------------------------------------------


def stance_content(recipe: Recipe) -> Content:
    """Single pictures by the stance net."""
    casts = casts_of(recipe.fit.stance, stills_rows())
    frame = stance.stance_frame(casts, read_left_out("stance", casts, STANCE_NET))
    return stance_tables(frame, recipe)


def stance_tables(frame: Any, recipe: Recipe) -> Content:
    """The same from a frame of pictures."""
    closeouts = frame[frame.album == stance.CLOSEOUT].reset_index(drop=True)
    varied = frame[frame.album != stance.CLOSEOUT]
    by_condition = stance.errors_by_condition(closeouts)
    measures = {
        QUANTITY[key].label: error_form(key, QUANTITY[key].decimals + 1) for key in STANCE_MEASURES
    }
    between = stance.between_groups(closeouts)
    return {
        "net": recipe.fit.stance,
        "fit": recipe.fit,
        "n_features": len(stance_net.default_net().centre),
        "pictures": len(frame),
        "bodies": frame.cast.nunique(),
        "closeouts": len(closeouts),
        "varied": len(varied),
        "varied_errors": {key: _summed(stance.off(varied, key)) for key in (KNEE, LEAN)},
        "occluded": int(frame.occluded.sum()),
        "degraded": int(frame.degraded.sum()),
        "tall_px": TALL_PX,
        "good": by_condition.loc["good film"] if "good film" in by_condition.index else None,
        "all": by_condition.loc["all"],
        "methods": markdown(
            stance.by_method(closeouts),
            {
                f"{label}, {over}": error_form(f"{key}_{over}")
                for key, label in ((KNEE, "knee bend"), (LEAN, "trunk lean"))
                for over in ("all", "good")
            },
        ),
        "published": markdown(
            stance.beside_published(closeouts),
            {
                "pictures": "{n:.0f}",
                "pose model's body: bias ± sd, mean absolute": _published("model"),
                "learned, as used": _published("read"),
            },
            "seen",
        ),
        "by_condition": markdown(
            by_condition,
            {
                "pictures": "{n:.0f}",
                **measures,
                "between quantiles, knee bend": "±{half:.1f}°, {covered:.0%}",
            },
        ),
        "between": {name: f"{each:.1f}°" for name, each in between.items()},
        "most_between": f"{max(between.values(), default=0.0):.1f}°",
    }


def _published(method: str) -> str:
    return f"{{{method}_bias:+.1f}} ± {{{method}_sd:.1f}}, {{{method}_error:.1f}}"


def _summed(off: Any) -> str:
    return f"{off.abs().mean():.1f} ({off.mean():+.1f})"


def feet_content(recipe: Recipe) -> Content:
    """The range that the feet show, single pictures."""
    casts = casts_of(recipe.fit.feet, stills_rows())
    return feet_tables(feet.feet_frame(casts, read_left_out("feet", casts, FEET_NET)), recipe)


def feet_tables(frame: Any, recipe: Recipe) -> Content:
    """The same from a frame of pictures."""
    by_condition = feet.errors_by_condition(frame)
    return {
        "net": recipe.fit.feet,
        "fit": recipe.fit,
        "n_features": len(foot_sight.default_net().centre),
        "pictures": len(frame),
        "bodies": frame.cast.nunique(),
        "all": by_condition.loc["all"],
        "range_m": frame.range_m.median(),
        "by_condition": markdown(
            by_condition,
            {
                "pictures": "{n:.0f}",
                "range": error_form("range", 2, " m"),
                "of the range": "{share:.1%}",
                "plain": error_form("plain", 2, " m"),
                "between quantiles": "{covered:.0%}",
            },
        ),
    }


def captured_content(recipe: Recipe) -> Content:
    """Captured movement: single pictures and clips."""
    casts = read_casts([CAPTURED])
    pictures = stance.captured_frame(casts, stance_net.default_net())
    found = [each for each in read_windows(nets_digest()) if each.collection == "captured"]
    clips = windows.as_shown_frame(found, _stance_factors(default_intervals()))
    return captured_tables(pictures, clips, recipe)


def captured_tables(pictures: Any, clips: Any, recipe: Recipe) -> Content:
    """The same from frames of pictures and windows."""
    keys = (KNEE, LEAN)
    labels = {KNEE: "knee bend", LEAN: "trunk lean"}
    by_picture = stance.by_movement(pictures)
    by_window = windows.by_movement(clips, keys)
    picture_columns = {"pictures": "{n:.0f}"}
    window_columns = {"windows": "{n:.0f}"}
    for key in keys:
        picture_columns |= {
            f"{labels[key]}: pose model's body": error_form(f"{key}_model"),
            f"{labels[key]}: learned": error_form(f"{key}_read"),
            f"{labels[key]}: between quantiles": f"{{{key}_covered:.0%}}",
        }
        window_columns |= {
            f"{labels[key]}": error_form(key),
            f"{labels[key]}: covered": f"{{{key}_covered:.0%}}",
        }
    return {
        "pictures": len(pictures),
        "bodies": pictures.cast.nunique(),
        "clip_bodies": clips.body.nunique(),
        "window_s": recipe.intervals.stance.window_s,
        "all": by_window.loc["all"],
        "by_picture": markdown(by_picture, picture_columns, "movement"),
        "by_window": markdown(by_window, window_columns, "movement"),
    }


# -- intervals -----------------------------------------------------------------------------------


def intervals_content(recipe: Recipe) -> Content:
    """The stance's intervals over windows of clips."""
    found = read_windows(nets_digest())
    factors = _stance_factors(default_intervals())
    return intervals_tables(windows.left_out_frame(found, factors, recipe.intervals.cover), recipe)


def intervals_tables(frame: Any, recipe: Recipe) -> Content:
    """The same from a frame of windows."""
    by_measure = windows.by_measure(frame)
    tables = []
    for key in STANCE:
        digits = QUANTITY[key].decimals + 1
        columns = {
            "windows": "{n:.0f}",
            "mean absolute error (bias)": error_form("off", digits),
            "half, median": f"{{half:.{digits}f}}",
            "covered": "{covered:.0%}",
            "bent": "{bent_covered:.0%}",
        }
        row = by_measure.loc[[key]].rename(index={key: QUANTITY[key].label})
        tables.append(markdown(row, columns, "measure").splitlines())
    knees = windows.knees_by_condition(frame)
    return {
        "clips": frame["clip"].nunique(),
        "reps": frame[frame.collection == CLOSEOUTS]["clip"].nunique(),
        "bodies": len(frame[["collection", "body"]].drop_duplicates()),
        "recipe": recipe.intervals.stance,
        "bent_deg": BENT_DEG,
        "knees": knees.loc[CLOSEOUTS],
        "by_measure": "\n".join([*tables[0][:2], *(table[2] for table in tables)]),
        "by_condition": markdown(
            knees,
            {
                "windows": "{n:.0f}",
                "error": "{off_error:.1f}°",
                "covered": "{covered:.0%}",
                "bent": "{bent_covered:.0%}",
            },
        ),
    }


def _stance_factors(intervals: Intervals) -> windows.AllFactors:
    return {
        key: {group: (pair[0], pair[1]) for group, pair in by_group.items()}
        for key, by_group in intervals.stance.items()
    }


def ground_content(recipe: Recipe) -> Content:
    """Metres and sides."""
    return ground_tables(read_outcomes(nets_digest()), default_intervals(), recipe)


def ground_tables(outcomes: Any, intervals: Intervals, recipe: Recipe) -> Content:
    """The same from outcomes."""
    frame = ground.outcomes_frame(outcomes)
    own, cover = recipe.intervals.ground, recipe.intervals.cover
    fair = frame[frame.fair]
    still, moved = fair[fair.camera == "tripod"], fair[fair.collection == "moving"]
    spread = still[(still.collection == "spread") & still.source.str.endswith(" marks")]
    weighed = spread.number >= recipe.clips.spread.weighed_from
    wanted = ground.speeds_against_wanted(fair)
    points = fair[fair.read & ~fair.players]
    right, sided = ground.sides_right(points)
    late = points.arrival_off_s.dropna().abs()
    left_out = ground.coverage_left_out(outcomes, intervals.ground, own, cover)
    return {
        "clips": {
            name: fair[fair.collection == name]["clip"].nunique() for name in ("spread", "moving")
        },
        "sample": fair[fair.collection == SAMPLE]["clip"].nunique(),
        "excluded": frame["clip"].nunique() - fair["clip"].nunique(),
        "recipe": own,
        "whole": ground.WHOLE,
        "weighed_from": recipe.clips.spread.weighed_from,
        "closeout": wanted.loc[("closeout_speed_mps", "points")],
        "wanted": [
            f"{QUANTITY[key].label} from {kind} "
            + ("within 5 % or 0.25 m/s" if kind == "points" else "within 12 %")
            + f" | {row.near:.0%} of {row.n:.0f} readings, off by {row.share:.0%} on average"
            for (key, kind), row in wanted.iterrows()
            if row.n
        ],
        "sides": f"{right} of {sided}",
        "on_time": f"{(late <= 2 * ground.FRAME_S).mean():.0%}",
        "covered": [
            f"{'points' if source == 'marks' else source} | {row.covered:.0%} of {row.n:.0f}"
            for source, row in ground.coverage_as_shown(
                [each for each, good in zip(outcomes, frame.fair, strict=True) if good],
                intervals.ground,
            ).iterrows()
            if row.n
        ],
        "by_source": _ground_table(
            {name: still[still.source == name] for name in source_names(own)}, "metres from"
        ),
        "by_feet": _ground_table(
            {"below the hips": spread[~weighed], "where the weight demands them": spread[weighed]},
            "feet, 4 to 8 marks",
        ),
        "reps_moved": moved.rep.nunique(),
        "held": len(HELD),
        "by_camera": [
            _ground_table(
                {
                    words: moved[(moved.source == source) & (moved.camera == camera)]
                    for camera, words in HELD.items()
                },
                f"{source}; camera",
            )
            for source in (f"{own.marks[min(2, len(own.marks) - 1)]} marks", FOUND, FROM_PLAYERS[0])
        ],
        "left_out": markdown(
            left_out.rename(index=str) if left_out.empty else _named(left_out),
            {
                "reps": "{reps:.0f}",
                "factor": "{factor:g}",
                "floor": "{floor:g}",
                **{
                    heading: f"{{{kind}:.0%}} of {{{kind}_n:.0f}}"
                    for kind, heading in (
                        ("all", "covered"),
                        ("whole", "where the whole run is shown"),
                        ("part", "where part of it is"),
                        ("sample", "sample practice"),
                    )
                },
            },
            "measure, metres from",
        ),
        "sample_unseen": ", ".join(
            f"{share:.0%} ({QUANTITY[key].label.lower()})"
            for key, share in ground.sample_unseen(outcomes, own, cover).items()
        ),
        "came_with": CAME_WITH,
        "measures": MEASURES,
    }


def _named(frame: Any) -> Any:
    names = [
        f"{QUANTITY[key].label}, {'points' if source == 'marks' else source}"
        for key, source in frame.index
    ]
    return frame.set_axis(names, axis=0)


def _ground_table(groups: Mapping[str, Any], first: str) -> str:
    speeds: dict[str, str] = {}
    for key in ground.SPEEDS:
        label = QUANTITY[key].label.lower()
        speeds |= {
            label: error_form(key, 2, " m/s"),
            f"{label}, in reach": f"{{{key}_near:.0%}}",
        }
    found = ground.by_group(groups)
    if found.empty:
        return ""
    found["right"] = found.right.where(found.sided > 0, np.nan)
    return markdown(
        found,
        {
            "reps": "{n:.0f} of {tried:.0f}",
            **speeds,
            "side of the approach": error_form(ground.SIDE, 2, " m"),
            "side right": "{right:.0f} of {sided:.0f}",
            "arrival within 2 frames": "{on_time:.0%}",
            "place": "{place_cm:.0f} cm",
        },
        first,
    )


# -- film ----------------------------------------------------------------------------------------


def film_content(recipe: Recipe) -> Content:
    """How blurred, dark or burnt out a film may be."""
    return film_tables(read_film_limits())


def film_tables(arrivals: Sequence[Arrival]) -> Content:
    """The same from arrivals."""
    return {
        "clips": len({each.clip for each in arrivals}),
        "blur": f"{MAX_BLUR:.0%}",
        "burnt": f"{MAX_BURNT:.0%}",
        "light": f"{MIN_LIGHT:.0%}",
        "by_degradation": markdown(
            film_limits.by_degradation(arrivals),
            {
                "measured": "{n:.0f}",
                "frames read": "{seen:.0%}",
                "knee bend": "{knee_error:.1f}° ({knee_bias:+.1f})",
                "shifted by, most": "{moved:.1f}°, {moved_most:.1f}°",
                "trunk lean": "{lean_error:.1f}° ({lean_bias:+.1f})",
                "blur read": "{blur:.1%}",
                "light": "{light:.2f}",
                "burnt out": "{burnt:.0%}",
            },
        ),
    }


# -- accuracy ------------------------------------------------------------------------------------


def accuracy_content(recipe: Recipe) -> Content:
    """Film that no fit has seen, film like that of the fits, and real film, side by side."""
    casts = casts_of(recipe.fit.stance, stills_rows())
    pictures = stance.stance_frame(casts, read_left_out("stance", casts, STANCE_NET))
    found = [each for each in read_windows(nets_digest()) if each.collection != "spread"]
    clips = windows.as_shown_frame(found, _stance_factors(default_intervals()))
    real_windows, no_reps = kept_real()
    reps = foreign.reps_frame(read_bench())
    tables = accuracy_tables(reps, pictures, clips, real_windows, no_reps, kept_check())
    return tables | {"version": version_of(BENCH)}


def accuracy_tables(
    reps: Any,
    pictures: Any,
    clips: Any,
    real_windows: Sequence[Any],
    no_reps: Sequence[Any],
    checked: Checked | None = None,
) -> Content:
    """The same from frames of reps, pictures, windows and real film, and from a long film."""
    away, home = reps[reps.collection == "foreign"], reps[reps.collection != "foreign"]
    asked = foreign.asked(away)
    real_asked = real.asked(real_windows, no_reps)
    knee = away[away.marks & away.read & away.tall]
    return {
        "clips": away["clip"].nunique(),
        **{kind: away[away.kind == kind]["clip"].nunique() for kind in ("upright", "clean")},
        **{
            f"{kind}_marked": int((away.marks & (away.kind == kind)).sum())
            for kind in ("upright", "clean")
        },
        "marked": int(away.marks.sum()),
        "tall_px": TALL_PX,
        "knee_error": f"{foreign.off(knee, KNEE).abs().mean():.1f}",
        "asked": _asked_table(asked),
        "reached": sum(each.reached for each in asked),
        "of": len(asked),
        "by_dip": markdown(
            foreign.by_dip(away),
            {
                "reps": "{n:.0f}",
                "arrival within 2 frames": "{on_time:.0%}",
                "closeout speed near": "{speed:.0%}",
                "on the right side": "{side}",
            },
            "looking down by, and from where",
        ),
        "good_dip_deg": f"{GOOD_DIP_DEG:.0f}",
        "by_chance": markdown(
            foreign.by_chance(away),
            {
                "with points": "{marks_n:.0f}",
                "said": "{marks_said:.1%}",
                "there": "{marks_there:.1%}",
                "players alone": "{players_n:.0f}",
                "said of these": "{players_said:.1%}",
                "there of these": "{players_there:.1%}",
            },
            "said to be likely by",
        ),
        "beside": _plain_table(
            foreign.side_by_side({"foreign film": away, "sample practice": home})
        ),
        "families": markdown(
            foreign.families(pictures),
            {
                "pictures": "{n:.0f}",
                "knee bend": error_form("knee"),
                "slope, r": "{slope:.2f}, {r:.2f}",
                "straight legs read": "{straight:.1f}°",
                "inside quantiles": "{covered:.0%}",
                "trunk lean": error_form("lean"),
                "the pose model's own knee bend": error_form("model_knee"),
                "its lean": error_form("model_lean"),
            },
            "left out",
        ),
        "movement": markdown(
            windows.by_movement(clips, (KNEE, LEAN)),
            {
                "windows": "{n:.0f}",
                "knee bend": error_form(KNEE),
                "inside its bars": f"{{{KNEE}_covered:.0%}}",
                "trunk lean": error_form(LEAN),
                "lean inside": f"{{{LEAN}_covered:.0%}}",
            },
            "movement",
        ),
        "real": markdown(
            real.by_measure(real_windows),
            {
                "windows": "{n:.0f}",
                "error (bias)": error_form("off"),
                "slope, r": "{slope:.2f}, {r:.2f}",
                "guessing his median": "{guess:.1f}",
                "inside the bars": "{covered:.0%}",
                "the pose model's own": error_form("model"),
            },
            "measure, camera",
        ),
        "real_asked": _asked_table(real_asked),
        "no_reps": no_reps,
        "long_film": None if checked is None else long_film_tables(checked),
    }


def long_film_tables(checked: Checked) -> Content:
    """How well a long film is cut into reps."""
    return {
        "minutes": f"{checked.minutes:.0f}",
        "version": checked.version,
        "reps": len(checked.reps),
        "places": checked.changes + 1,
        "asked": _asked_table(long_film.asked(checked)),
        "figures": markdown(long_film.figures(checked), {"figure": "{figure}"}, "besides"),
    }


def _asked_table(asked: Sequence[foreign.Asked]) -> str:
    lines = ["| asked | n | figure | wanted | reached |", "|---|---|---|---|---|"]
    lines += [
        f"| {each.what} | {each.n} | {each.figure} | {each.wanted} | "
        f"{'yes' if each.reached else 'no'} |"
        for each in asked
    ]
    return "\n".join(lines)


def _plain_table(frame: Any) -> str:
    lines = ["| | " + " | ".join(frame.columns) + " |", "|" + "---|" * (len(frame.columns) + 1)]
    lines += [f"| {name} | " + " | ".join(row) + " |" for name, row in frame.iterrows()]
    return "\n".join(lines)


CARDS: dict[str, Callable[[Recipe], Content]] = {
    "stance": stance_content,
    "feet": feet_content,
    "intervals": intervals_content,
    "ground": ground_content,
    "captured": captured_content,
    "film": film_content,
    "accuracy": accuracy_content,
}

PLACES = {"accuracy": FOLDER.parent / "ACCURACY.md"}
"""Cards that lie elsewhere than beside this package's own."""
