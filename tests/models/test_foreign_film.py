"""Film through any lens: distortion and aim against OpenCV's own camera model, shares of a run."""

from __future__ import annotations

from collections import Counter

import cv2
import numpy as np
import pytest
from extra import needs_models_extra

from models.recipe import recipe
from models.render.lens import distorted, drawn_focal, maps, straightened, strongest

pytestmark = [
    needs_models_extra("vtkmodules", "anny"),
    pytest.mark.filterwarnings("ignore"),  # vtk and anny warn about themselves
]

SIZE = (1280, 720)


def intrinsics(focal_px: float) -> np.ndarray:
    return np.array([[focal_px, 0, 639.5], [0, focal_px, 359.5], [0, 0, 1.0]])


@pytest.mark.parametrize("k1", [-0.2, 0.0, 0.1])
def test_a_lens_bends_as_opencvs_does(k1):
    from models.render.phone import look_at, project

    k, centre = intrinsics(900.0), np.array([6.0, -4.0, 1.7])
    rotation = look_at(centre, np.array([0.0, 9.0, 0.9]))
    points = np.random.default_rng(1).uniform((-3, 5, 0), (3, 14, 2), (40, 3))
    turn, shift = cv2.Rodrigues(rotation)[0], -rotation @ centre
    wanted, _ = cv2.projectPoints(points, turn, shift, k, np.array([k1, 0, 0, 0.0]))
    got = distorted(k, k1, project(k, rotation, centre, points))
    np.testing.assert_allclose(got, wanted[:, 0], atol=1e-6)
    back = straightened(k, k1, got)
    np.testing.assert_allclose(back, project(k, rotation, centre, points), atol=1e-6)


@pytest.mark.parametrize("focal_px", [768.0, 1500.0])
@pytest.mark.parametrize("k1", [-0.25, 0.1])
def test_the_film_lies_within_the_drawing_and_shows_it_where_opencv_does(focal_px, k1):
    k1 = strongest(k1, np.hypot(*SIZE) / 2 / focal_px)
    film, drawn = intrinsics(focal_px), intrinsics(drawn_focal(focal_px, k1, SIZE))
    x, y = maps(drawn, film, k1, SIZE)
    assert x.min() >= -0.5 and x.max() <= SIZE[0] - 0.5
    assert y.min() >= -0.5 and y.max() <= SIZE[1] - 0.5
    # A point of the drawing, carried through OpenCV's lens, is where the film shows it.
    for column, row in ((40, 30), (900, 650), (640, 360)):
        ray = np.linalg.inv(drawn) @ [x[row, column], y[row, column], 1.0]
        seen, _ = cv2.projectPoints(
            ray[None], np.zeros(3), np.zeros(3), film, np.array([k1, 0, 0, 0.0])
        )
        np.testing.assert_allclose(seen[0, 0], (column, row), atol=1e-2)


def test_a_camera_shows_its_target_where_it_is_aimed():
    """And is held at the roll asked for: a plumb line through the axis leans as much."""
    from models.render.wide import aimed

    rng = np.random.default_rng(2)
    k = intrinsics(1100.0)
    for _ in range(50):
        centre = np.array([0.0, 0.0, rng.uniform(0.5, 6)])
        target = np.array([*rng.uniform(5, 12, 2), 1.0])
        at, roll = rng.uniform((200, 100), (1080, 620)), rng.normal(0, 0.05)
        rotation = aimed(k, centre, target, at, roll)
        turn, shift = cv2.Rodrigues(rotation)[0], -rotation @ centre
        seen, _ = cv2.projectPoints(target[None], turn, shift, k, None)
        np.testing.assert_allclose(seen[0, 0], at, atol=1e-5)
        np.testing.assert_allclose(rotation @ rotation.T, np.eye(3), atol=1e-9)
        assert np.linalg.det(rotation) == pytest.approx(1.0)
        up = rotation @ [0, 0, 1.0]
        assert np.arctan2(up[0], -up[1]) == pytest.approx(roll, abs=1e-9)


def test_a_still_keeps_the_whole_pictures_camera():
    """The stills' own intrinsics and distortion put joints where they are drawn."""
    from models.render.body import BodySpec
    from models.render.motion import RepSpec, plan_defender
    from models.render.wide import wide_camera

    spec = BodySpec()
    motion = plan_defender(spec, RepSpec((0.0, 12.0)), only=np.arange(20, 32))
    stills = recipe().stills
    there, camera = wide_camera(
        np.random.default_rng(5), motion, spec.height_m, stills.size_px, stills.wide
    )
    for pose in range(4):
        frame = 3 * pose + 1
        body = there.vertices_m[frame].astype(float)
        seen = camera.seen(pose, body)
        rotation, centre = camera.track.rotation[frame], camera.track.centre
        wanted, _ = cv2.projectPoints(
            body, cv2.Rodrigues(rotation)[0], -rotation @ centre, camera.film_k[pose],
            np.array([camera.k1[pose], 0, 0, 0.0]),
        )  # fmt: skip
        np.testing.assert_allclose(seen, wanted[:, 0], atol=1e-5)
        # He is whole in the still and in the picture it is cut out of.
        assert (seen >= 0).all() and (seen <= np.array(stills.size_px) - 1).all()
        whole = seen + camera.cut_px[pose]
        assert (whole >= 0).all() and (whole <= np.array(camera.frame_px) - 1).all()
        # And where he is drawn, the maps of the lens take him there.
        drawn = camera.track.matrix(frame)
        x, y = maps(drawn, camera.film_k[pose], float(camera.k1[pose]), stills.size_px)
        column, row = np.rint(seen.mean(axis=0)).astype(int)
        local = np.linalg.inv(drawn) @ [x[row, column], y[row, column], 1.0]
        again = distorted(
            camera.film_k[pose], camera.k1[pose], (camera.film_k[pose] @ local)[:2] / local[2]
        )
        np.testing.assert_allclose(again, (column, row), atol=1e-2)


def test_any_beginning_of_a_run_of_wide_stills_is_balanced():
    from models.render.run import in_step

    sets = [each for each in recipe().stills.sets if each.camera == "wide"]
    run = in_step(sets, range(3000, 4000))
    assert len(run) == len({cast for _, cast in run}) == sum(each.casts for each in sets)
    whole = Counter(each.movement for each, _ in run)
    for share in (0.25, 0.5, 0.75):
        begun = run[: round(share * len(run))]
        counts = Counter(each.movement for each, _ in begun)
        assert all(abs(counts[name] - share * whole[name]) <= 2 for name in whole)
        looks = Counter(each.look_of(cast) for each, cast in begun)
        assert abs(looks["first"] - looks["second"]) <= len(sets)


def test_street_clothes_are_worn_as_often_in_either_look():
    for each in recipe().stills.sets:
        if each.camera != "wide" or each.casts < 12:
            continue
        worn = Counter(each.look_of(cast) for cast in each.numbers if each.in_street_clothes(cast))
        assert abs(worn["first"] - worn["second"]) <= 1
        wanted = each.casts * (each.street_of_six or 0) / 6
        assert worn.total() == pytest.approx(wanted, abs=2)


def test_foreign_clips_show_what_they_are_to_show():
    from models.render.foreign import kind_of, look_of

    numbers = range(recipe().clips.foreign.clips)
    kinds = Counter(map(kind_of, numbers))
    assert kinds == {"upright": 250, "clean": 250, "between": 100}
    both = Counter((kind_of(number), look_of(number)) for number in numbers)
    for kind, count in kinds.items():
        assert both[kind, "first"] == pytest.approx(count / 2, abs=3)
