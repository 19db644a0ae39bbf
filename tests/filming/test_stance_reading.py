"""Stances read over a window, from tracks whose medians can be worked out by hand."""

from dataclasses import replace

import numpy as np
import pytest

from posecheck.body.stance_track import STANCE, StanceTrack
from posecheck.filming.limits import unfit
from posecheck.filming.stance_reading import stance_reading
from posecheck.maths.timeline import in_window

T_S = np.arange(0, 4, 1 / 30)
ARRIVAL_S = 2.0
WINDOW_S = (ARRIVAL_S - 0.1, ARRIVAL_S + 0.3)


def track(knee_bend_deg, hidden_s=(9.0, 9.0), t_s=T_S):
    """A player who is hidden between two moments."""
    seen, plain = ~in_window(t_s, *hidden_s), np.zeros(len(t_s))
    measures = {key: np.where(seen, plain, np.nan) for key in STANCE}
    measures["knee_bend_deg"] = np.where(seen, knee_bend_deg, np.nan)
    margins = dict.fromkeys(STANCE, plain + 10)
    return StanceTrack(
        t_s,
        **measures,
        view_deg=plain + 90,
        height_px=plain + 300,
        score=plain + 0.9,
        below=margins,
        above=margins,
    )


def knees(track, window_s=WINDOW_S):
    return stance_reading("knee_bend_deg", track, window_s)


def test_the_median_of_the_frames_seen_is_read():
    # 13 frames; the first 4 are hidden, and the other 9 rise from 4 to 12.
    rising = np.arange(len(T_S)) - np.flatnonzero(in_window(T_S, *WINDOW_S))[0]
    read = knees(track(rising, (WINDOW_S[0] - 0.01, WINDOW_S[0] + 0.11)))
    assert (read.conditions.seen, read.conditions.of, read.conditions.hidden) == (9, 13, 0)
    assert read.value == 8.0


def test_who_runs_on_after_a_hidden_step_ran_through_it():
    """Hidden in 8 of 13 frames: 5 of 24 degrees are seen, the others count as the median of 0.2 s
    before, all of 24, and after, most of 16."""
    runs = np.where(T_S < ARRIVAL_S + 0.3, 24.0, 16.0)
    hidden = track(runs, (ARRIVAL_S + 0.05, ARRIVAL_S + 0.31))
    read = knees(hidden)
    assert (read.conditions.seen, read.conditions.hidden) == (5, 8)
    assert unfit(read.conditions) is None
    assert 16.0 <= read.value <= 24.0
    assert "5 of 13 frames, 8 hidden while he runs on" in read.conditions.described
    evenly = track(np.full(len(T_S), 20.0), (ARRIVAL_S + 0.05, ARRIVAL_S + 0.31))
    assert knees(evenly).value == 20.0


def test_the_margins_of_a_hidden_step_are_those_around_it_too():
    """30 degrees in the 5 frames seen of the window, 10 elsewhere: in 7 of the 12 frames around."""
    hidden = track(np.full(len(T_S), 20.0), (ARRIVAL_S + 0.05, ARRIVAL_S + 0.31))
    margins = {"knee_bend_deg": np.where(in_window(T_S, *WINDOW_S), 30.0, 10.0)}
    read = knees(replace(hidden, below=margins, above=margins))
    assert (read.below, read.above) == (10.0, 10.0)


@pytest.mark.parametrize(
    ("hidden_s", "breaks_down_s", "why"),
    [
        ((0.05, 0.31), 0.2, "he may have broken down while he was hidden"),
        ((0.05, 0.31), -0.5, "he had broken down before"),
        ((-0.01, 0.5), 9.0, "longer than a step"),
        ((0.05, 9.0), 9.0, "never seen again"),
    ],
)
def test_a_hidden_stance_is_not_guessed(hidden_s, breaks_down_s, why):
    bends = np.where(in_window(T_S, ARRIVAL_S + breaks_down_s, 9.0), 60.0, 15.0)
    read = knees(track(bends, (ARRIVAL_S + hidden_s[0], ARRIVAL_S + hidden_s[1])))
    because = f"the defender is seen in only {read.conditions.seen} of the 13 frames around it"
    assert unfit(read.conditions) == because, why


def test_a_stance_whose_view_is_not_known_is_not_measured():
    unknown = replace(track(np.full(len(T_S), 20.0)), view_deg=np.full(len(T_S), np.nan))
    assert unfit(knees(unknown).conditions) == "hips, knees and ankles are too hidden or blurred"


@pytest.mark.parametrize(
    ("t_s", "seen", "of"),
    [
        # 60 a second, and 25 in the second around the arrival: every picture taken shows him.
        (np.r_[np.arange(0, 1.5, 1 / 60), np.arange(1.5, 2.5, 0.04), np.arange(2.5, 4, 1 / 60)],
         11, 11),
        # A piece of the film is missing from just after arrival on.
        (np.r_[np.arange(0, 2.01, 1 / 30), np.arange(2.5, 4, 1 / 30)], 4, 13),
        # The film ends at arrival: 0.1 of 0.4 s are filmed.
        (np.arange(0, 2.01, 1 / 30), 4, 13),
        # It ends before.
        (np.arange(0, 1.8, 1 / 30), 0, 13),
    ],
)  # fmt: skip
def test_frames_that_the_phone_did_not_take_are_no_frames_in_which_he_is_hidden(t_s, seen, of):
    read = knees(track(20.0, t_s=t_s))
    assert (read.conditions.seen, read.conditions.of) == (seen, of)
