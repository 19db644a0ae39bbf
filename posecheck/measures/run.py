"""One rep's run, with what the formulas of ``of_run.py`` share."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from posecheck.ground.ground import Ground
from posecheck.ground.tracks import GroundTrack
from posecheck.ground.tuning import LASTING_SD_M
from posecheck.maths.arrays import BoolArray, FloatArray
from posecheck.maths.timeline import bridged, nearest_frame
from posecheck.measures import closeout
from posecheck.measures.closeout import at_moment
from posecheck.measures.tuning import (
    ARRIVAL_SD_MOST_S,
    AT_ONCE_S,
    ONSET_BRAKING_LEAST_MPS2,
    ONSET_SD_MOST_S,
    SPEED_SD_LEAST_MPS,
    STATED_SD_FRAMES,
    UNSEEN_FRAMES,
)
from posecheck.practice.layout import Side, side_at
from posecheck.practice.tuning import BEHIND_CONE_SD_M
from posecheck.reps.behind import held_behind
from posecheck.reps.hidden import standing_place
from posecheck.reps.rep import ArrivalSource, Rep
from posecheck.reps.tuning import (
    AFTERMATH_S,
    BRAKING_SHARE,
    MAX_GAP_S,
    STILL_MPS,
    STOOD_M,
    WALK_MPS,
)


@dataclass(frozen=True)
class Run:
    """The run of one rep that was seen to arrive.

    Attributes:
        rep: its moments.
        arrival_s: the moment of arrival.
        defender, attacker: ground tracks over the same ``n`` frames; attacker None when not there.
        ground: where metres come from.
        cone_xy_m: ``(2,)`` where one waits at the named cone, None when not known.
        spot_side: of the field that the named spot lies on, None when not known.
        no_attacker_because: why there is no attacker to measure against, None when it is only that
            none is seen.
    """

    rep: Rep
    arrival_s: float
    defender: GroundTrack
    attacker: GroundTrack | None
    ground: Ground
    cone_xy_m: FloatArray | None
    spot_side: Side | None
    no_attacker_because: str | None = None

    # -- whom he runs at ---------------------------------------------------------------------------

    @cached_property
    def attacker_xy_m(self) -> FloatArray | None:
        """``(n, 2)`` the attacker with short gaps bridged, None when he is not there."""
        if self.attacker is None:
            return None
        return bridged(self.attacker.t_s, self.attacker.xy_m, MAX_GAP_S)

    @cached_property
    def _attacker_waits_xy_m(self) -> FloatArray | None:
        """``(n, 2)`` the same; where he is hidden for longer and has stood, or the defender hides
        him, he is there as well."""
        if self.attacker is None:
            return None
        t_s, camera_xy_m = self.attacker.t_s, self.ground.camera.centre_m[:2]
        held_m = held_behind(t_s, self.attacker.xy_m, self.defender.xy_m, camera_xy_m)
        return standing_place(t_s, held_m)

    @cached_property
    def _attacker_at_arrival(self) -> FloatArray | None:
        return self._attacker_at(self.arrival_s)

    def _attacker_at(self, moment_s: float) -> FloatArray | None:
        if self.attacker is None or self._attacker_waits_xy_m is None:
            return None
        place = at_moment(self.attacker.t_s, self._attacker_waits_xy_m, moment_s)
        return place if np.isfinite(place).all() else None

    @property
    def target_xy_m(self) -> FloatArray | None:
        """``(2,)`` attacker or cone at arrival, None when neither is there."""
        return self.target_at(self.arrival_s)

    def target_at(self, moment_s: float) -> FloatArray | None:
        """``(2,)`` attacker or cone at a moment; the cone when the attacker is not seen then."""
        place = self._attacker_at(moment_s)
        if place is not None:
            return place
        # Who ran up to somebody else, or to nobody, need not have come to the cone either.
        stays_away = self.no_attacker_because and self.rep.source is not ArrivalSource.CONE
        return None if stays_away else self.cone_xy_m

    @property
    def target_sd_m(self) -> float:
        """Standard deviation of the target's place, metres."""
        if self.attacker is None or self._attacker_at_arrival is None or self.attacker_xy_m is None:
            return BEHIND_CONE_SD_M
        sd_m = sd_near(self.attacker, self.arrival_s)
        seen = np.isfinite(at_moment(self.attacker.t_s, self.attacker_xy_m, self.arrival_s)).all()
        # An attacker who is hidden for long may shift his feet.
        return sd_m if seen else float(np.hypot(sd_m, STOOD_M / 2))

    def side(self, target_xy_m: FloatArray) -> Side:
        """The side of the field: the named spot's, else that of the place he runs at."""
        return self.spot_side or side_at(target_xy_m)

    # -- how fast ----------------------------------------------------------------------------------

    @cached_property
    def speed_mps(self) -> FloatArray:
        """``(n,)`` of the defender."""
        return self.defender.speed_mps

    @cached_property
    def during(self) -> BoolArray:
        """``(n,)`` the frames from start to arrival."""
        t_s = self.defender.t_s
        return np.asarray((t_s >= self.rep.start_s) & (t_s <= self.arrival_s))

    @cached_property
    def top_speed_mps(self) -> float:
        """Highest speed from start to arrival."""
        t_s, v = self.defender.t_s, self.speed_mps
        return closeout.closeout_speed(t_s, v, self.rep.start_s, self.arrival_s)

    @cached_property
    def _peak(self) -> int | None:
        """The frame of the highest speed from start to arrival, None when none was seen."""
        seen = np.flatnonzero(self.during & np.isfinite(self.speed_mps))
        return int(seen[np.argmax(self.speed_mps[seen])]) if len(seen) else None

    @property
    def top_speed_sd_mps(self) -> float:
        """Standard deviation of the highest speed, NaN when it was not seen."""
        return float("nan") if self._peak is None else float(self.defender.speed_sd_mps[self._peak])

    @cached_property
    def relative_speed_sd_mps(self) -> FloatArray:
        """``(n,)`` standard deviation of the speed against other moments of the same run.

        A scale that is off makes a whole run too fast or too slow, and says nothing of whether he
        slows down; so the scale's share is taken out.
        """
        by_scale = (self.scale_sd * self.speed_mps) ** 2
        apart = np.maximum(self.defender.speed_sd_mps**2 - by_scale, SPEED_SD_LEAST_MPS**2)
        return np.asarray(np.sqrt(apart))

    @cached_property
    def peak_braking_mps2(self) -> float:
        """Strongest loss of speed between the highest speed and a second after arrival, m/s²."""
        t_s = self.defender.t_s
        peak_s = self.arrival_s if self._peak is None else float(t_s[self._peak])
        return closeout.peak_braking(t_s, self.speed_mps, peak_s, self.arrival_s + AFTERMATH_S)

    @property
    def onset_sd_s(self) -> float:
        """Standard deviation of the moment at which braking begins, seconds.

        Braking starts where the speed leaves its peak: the flatter the peak, the vaguer.
        """
        if self._peak is None or not np.isfinite(self.peak_braking_mps2):
            return ONSET_SD_MOST_S
        steepness = max(self.peak_braking_mps2, ONSET_BRAKING_LEAST_MPS2)
        return min(float(self.relative_speed_sd_mps[self._peak]) / steepness, ONSET_SD_MOST_S)

    @property
    def speed_kept(self) -> float:
        """Speed at arrival over the highest speed before it, 0 to 1."""
        # Between two frames one who speeds up is faster at arrival than in the frame before.
        return min(float(self.at_arrival(self.speed_mps)) / self.top_speed_mps, 1.0)

    @property
    def speed_kept_sd(self) -> float:
        """Standard deviation of the speed kept: of the speed at arrival, and of the moment."""
        t_s, v, moment_sd_s = self.defender.t_s, self.speed_mps, self.arrival_sd_s
        around = [float(at_moment(t_s, v, self.arrival_s + sign * moment_sd_s)) for sign in (-1, 1)]
        changes = [abs(each - float(self.at_arrival(v))) for each in around if np.isfinite(each)]
        by_moment = max(changes, default=0.0)
        sd_mps = np.hypot(self.at_arrival(self.relative_speed_sd_mps), by_moment)
        return float(sd_mps) / self.top_speed_mps

    @cached_property
    def entered_mps(self) -> float:
        """How fast he is already when he comes into sight, 0 when the film shows him set off."""
        t_s, start_s = self.defender.t_s, self.rep.start_s
        before_s = t_s[np.isfinite(self.speed_mps) & (t_s < start_s)]
        # He may have been seen long before, standing, and be lost until he runs.
        if len(before_s) and start_s - before_s[-1] <= MAX_GAP_S:
            return 0.0
        return float(at_moment(t_s, self.speed_mps, start_s))

    @property
    def peak_unseen(self) -> bool:
        """True when he comes into sight running and brakes at once: he may have been faster."""
        braking_s = self.rep.braking_s
        at_once = braking_s is not None and braking_s - self.rep.start_s < AT_ONCE_S
        return at_once and self.entered_mps > WALK_MPS

    @cached_property
    def _gaps(self) -> list[tuple[int, int]]:
        """The frames before and after every time between start and arrival that he is out of sight
        for so long that his movement is unknown."""
        seen = np.flatnonzero(np.isfinite(self.speed_mps))
        t_s = self.defender.t_s
        pairs = zip(seen[:-1].tolist(), seen[1:].tolist(), strict=True)
        return [
            (before, after)
            for before, after in pairs
            if t_s[after] - t_s[before] > MAX_GAP_S
            and self.rep.start_s <= t_s[before]
            and t_s[after] <= self.arrival_s
        ]

    def _hidden_peak_mps(self, before: int, after: int) -> float:
        """The highest speed that he may have had between two frames while out of sight.

        He has covered the way between in that time; as if his speed went up evenly and then down.
        """
        t_s, xy_m, v = self.defender.t_s, self.defender.xy_m, self.speed_mps
        mean = np.linalg.norm(xy_m[after] - xy_m[before]) / (t_s[after] - t_s[before])
        return float(2 * mean - min(v[before], v[after]))

    @property
    def hidden_speed_mps(self) -> float:
        """How much faster than was seen he may have been while he was out of sight."""
        hidden = (self._hidden_peak_mps(*gap) for gap in self._gaps)
        return max(
            (each - self.top_speed_mps for each in hidden if each > self.top_speed_mps), default=0.0
        )

    @property
    def hidden_braking_m(self) -> tuple[float, float]:
        """By how much less, and by how much more than was seen, he may have braked, metres: where
        he may have begun to while he was out of sight."""
        t_s, xy_m = self.defender.t_s, self.defender.xy_m
        seen_m = closeout.braking_distance(t_s, xy_m, self.rep.braking_s, self.arrival_s)
        begins_s = [
            float(t_s[end])
            for gap in self._gaps
            if self.top_speed_mps < BRAKING_SHARE * self._hidden_peak_mps(*gap)
            for end in gap
        ]
        lengths_m = [closeout.path_length(t_s, xy_m, at_s, self.arrival_s) for at_s in begins_s]
        return seen_m - min([seen_m, *lengths_m]), max([seen_m, *lengths_m]) - seen_m

    # -- how sure ----------------------------------------------------------------------------------

    def at_arrival(self, values: FloatArray) -> FloatArray:
        """Values ``(n,)`` or ``(n, d)`` of the defender's frames at the moment of arrival."""
        return at_moment(self.defender.t_s, values, self.arrival_s)

    @cached_property
    def place_sd_m(self) -> float:
        """Standard deviation of the defender's place relative to the target at arrival."""
        return float(np.hypot(self._own_sd_m, self.target_sd_m))

    @property
    def _own_sd_m(self) -> float:
        return float(self.at_arrival(self.defender.sd_m))

    @cached_property
    def arrival_sd_s(self) -> float:
        """Standard deviation of the arrival moment: the distance's over the speed it shrinks with.

        Who creeps into reach arrives at a vague moment, however well he is seen. A stated one was
        found frame by frame.
        """
        if self.rep.source is ArrivalSource.STATED:
            return STATED_SD_FRAMES * float(np.median(np.diff(self.defender.t_s)))
        sd_s = self._gap_sd_m / max(self._closing_mps, STILL_MPS)
        return min(sd_s, ARRIVAL_SD_MOST_S) if np.isfinite(sd_s) else ARRIVAL_SD_MOST_S

    @cached_property
    def _gap_m(self) -> FloatArray | None:
        """``(2,)`` from the defender to the target at arrival, None when there is no target."""
        target = self.target_xy_m
        gap = None if target is None else target - self.at_arrival(self.defender.xy_m)
        return gap if gap is not None and np.linalg.norm(gap) > 0 else None

    @property
    def _closing_mps(self) -> float:
        """How fast the distance to the target shrinks at arrival; his speed without a target."""
        gap = self._gap_m
        if gap is None:
            return float(self.at_arrival(self.speed_mps))
        moves = self.at_arrival(self.defender.velocity_mps)
        if self.attacker is not None:
            away = at_moment(self.attacker.t_s, self.attacker.velocity_mps, self.arrival_s)
            moves = moves - np.nan_to_num(away)
        return float(moves @ gap / np.linalg.norm(gap))

    @property
    def _gap_sd_m(self) -> float:
        """Standard deviation of the distance to the target at arrival.

        A place is vague along the line of sight; of a distance across the view that counts little.
        """
        gap = self._gap_m
        if gap is None:
            return self.place_sd_m
        here = self.at_arrival(self.defender.xy_m)
        sight = here - self.ground.camera.centre_m[:2]
        along = float(gap @ sight / (np.linalg.norm(gap) * np.linalg.norm(sight)))
        across = np.sqrt(1 - min(along**2, 1.0))
        places = [
            np.hypot(along * sd, across * min(sd, LASTING_SD_M))
            for sd in (self._own_sd_m, self.target_sd_m)
        ]
        by_scale = float(self.ground.relative_sd(here, gap)) * np.linalg.norm(gap)
        return float(np.linalg.norm([*places, by_scale]))

    @cached_property
    def scale_sd(self) -> float:
        """Relative standard deviation of lengths along the run."""
        here = self.at_arrival(self.defender.xy_m)
        run = here - at_moment(self.defender.t_s, self.defender.xy_m, self.rep.start_s)
        return float(self.ground.relative_sd(here, run)) if run.any() else self.ground.scale_sd

    @cached_property
    def path_sd_m(self) -> float:
        """Median standard deviation of the defender's places from start to arrival."""
        sd_m = self.defender.sd_m[self.during]
        seen = sd_m[np.isfinite(sd_m)]
        return float(np.median(seen)) if len(seen) else float("nan")

    def shown_to_the_end(self, left_s: float) -> bool:
        """True when a second after arrival is shown but for so many seconds at its end."""
        return left_s <= UNSEEN_FRAMES * float(np.median(np.diff(self.defender.t_s)))


def sd_near(track: GroundTrack, moment_s: float) -> float:
    """Standard deviation of the place in the frame nearest to a moment among those seen, metres."""
    seen = np.isfinite(track.sd_m)
    nearest = nearest_frame(track.t_s[seen], moment_s)
    return float(track.sd_m[seen][nearest])
