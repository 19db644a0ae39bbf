"""Cards: tables from frames, and a sentence first that needs no statistics to read."""

import re
from dataclasses import replace

import numpy as np
import pyarrow.parquet as pq
import pytest
from extra import needs_models_extra

from models.data.bench import BENCH
from models.data.film import SAMPLE
from models.data.film_limits import DEGRADED, Arrival
from models.data.ground import FROM_PLAYERS, MEASURES, Outcome, Reading
from models.data.keyed import StaleRows, read_keyed, write_keyed
from models.data.windows import Window
from models.recipe import recipe
from posecheck.body.stance_net import OUTPUTS
from posecheck.body.stance_track import STANCE
from posecheck.filming.conditions import GROUPS, SIDES
from posecheck.measures.intervals import default_intervals

pytestmark = needs_models_extra("pandas")

N = 400


def pictures(rng, album=("closeout", "varied")):
    """As ``models.score.stance`` makes them, of bodies that never were."""
    import pandas as pd

    frame = pd.DataFrame(
        {
            "cast": np.repeat(np.arange(20), N // 20),
            "album": rng.choice(album, N),
            "movement": rng.choice(["run", "jump"], N),
            "occluded": rng.uniform(size=N) < 0.2,
            "degraded": rng.uniform(size=N) < 0.3,
            "view_deg": rng.uniform(0, 180, N),
            "height_px": rng.uniform(100, 400, N),
            "sex": rng.choice(["male", "female"], N),
            "age_years": rng.uniform(10, 32, N),
            "skin": rng.uniform(0.2, 0.7, N),
            "weight": rng.uniform(0.25, 0.8, N),
        }
    )
    for name in OUTPUTS:
        truth = rng.uniform(0, 90, N)
        frame[f"{name}.truth"] = truth
        for method in ("read", "alone", "model", "picture", "joined"):
            frame[f"{name}.{method}"] = truth + rng.normal(0, 5, N)
        frame[f"{name}.below"] = frame[f"{name}.above"] = 8.0
    frame["good"] = (frame.height_px >= 200) & ~frame.occluded & ~frame.degraded
    frame["range_m"] = rng.uniform(4, 12, N)
    frame["dip_deg"] = rng.uniform(0, 40, N)
    frame["off_m"], frame["plain_off_m"] = rng.normal(0, 0.1, N), rng.normal(0, 0.2, N)
    frame["covered"], frame["lifted"] = 0.9, rng.uniform(size=N) < 0.1
    return frame


def windows(rng, collection="spread"):
    return [
        Window(
            collection, f"{collection}-{body:03d}", body, movement, key, 0.0,
            40.0 + rng.normal(0, 4), 5.0, 5.0, 40.0, bent, side, 60.0, 240.0,
        )
        for body in range(5)
        for key in STANCE
        for side in SIDES
        for bent in (True, False)
        for movement in ("run", "jump")
    ]  # fmt: skip


def outcomes(rng):
    def reading():
        truth = rng.uniform(1, 5)
        value = truth + rng.normal(0, 0.2)
        return Reading(value, 0.2, value, value, truth)

    clips = [f"spread-{n:03d}" for n in (*range(12), *range(90, 95))]
    clips += [f"rep-{n:02d}" for n in range(12)]
    found = [
        Outcome(
            clip, clip.split("-")[0], "tripod", source, None, 1.0, 1.0, 0.02, 0.1,
            {key: reading() for key in MEASURES},
        )
        for clip in clips
        for source in ("4 marks", "6 marks", "found", *FROM_PLAYERS)
    ]  # fmt: skip
    moved = [
        replace(each, clip=f"moving-903-{camera}", collection="moving", camera=camera)
        for camera in ("tripod", "pan")
        for each in found[:5]
    ]
    assert any(each.collection == SAMPLE for each in found)
    return found + moved


@pytest.fixture(scope="module")
def contents():
    """What each card says, from made-up frames."""
    import pandas as pd

    from models.cards import write
    from models.score import film_limits
    from models.score import windows as window_scores

    rng, made = np.random.default_rng(0), recipe()
    own = default_intervals()
    factors = {key: dict.fromkeys(GROUPS, (1.0, 1.0)) for key in STANCE}
    limits = [
        Arrival(name, "rep-01", *(float(v) for v in rng.uniform(0.1, 1, 6))) for name in DEGRADED
    ]
    assert isinstance(film_limits.by_degradation(limits), pd.DataFrame)
    return {
        "stance": write.stance_tables(pictures(rng), made),
        "feet": write.feet_tables(pictures(rng), made),
        "captured": write.captured_tables(
            pictures(rng, ["captured"]),
            window_scores.as_shown_frame(windows(rng, "captured"), factors),
            made,
        ),
        "intervals": write.intervals_tables(
            window_scores.left_out_frame(windows(rng), factors, 0.9), made
        ),
        "ground": write.ground_tables(outcomes(rng), own, made),
        "film": write.film_tables(limits),
    }


NAMES = ("stance", "feet", "captured", "intervals", "ground", "film")


@pytest.mark.parametrize("name", NAMES)
def test_a_card_begins_with_one_sentence_a_coach_understands(contents, name):
    from models.cards.write import rendered

    lines = rendered(name, contents[name]).splitlines()
    assert lines[0].startswith("# ") and lines[1] == "" and lines[3] == ""
    first = lines[2]
    assert re.search(r"\d", first), "it says how well"
    assert first.endswith(".") and ". " not in first
    for word in ("quantile", "bias", "conformal", "mean absolute", "nan", "{"):
        assert word not in first


@pytest.mark.parametrize("name", NAMES)
def test_every_table_has_as_many_cells_in_each_row_as_in_its_head(contents, name):
    from models.cards.write import rendered

    text = rendered(name, contents[name])
    assert "nan" not in text
    tables = re.findall(r"(?:^\|.*\n)+", text, flags=re.MULTILINE)
    assert tables
    for table in tables:
        assert len({line.count("|") for line in table.splitlines()}) == 1, table


def test_a_cell_is_empty_where_nothing_is_known():
    import pandas as pd

    from models.cards.tables import error_form, markdown

    frame = pd.DataFrame({"knee_error": [1.25, np.nan], "knee_bias": [-0.5, np.nan]}, ["a", "b"])
    assert markdown(frame, {"knee bend": error_form("knee", 1, "°")}, "film") == (
        "| film | knee bend |\n|---|---|\n| a | 1.2 (-0.5)° |\n| b | |"
    )


def test_there_is_a_card_for_every_template_and_name():
    from models.cards.write import CARDS
    from models.files import FOLDER

    templates = {path.name.partition(".")[0] for path in FOLDER.glob("cards/templates/*.jinja")}
    assert templates == set(CARDS)
    assert set(CARDS) == {*NAMES, "accuracy"}


def test_rows_that_other_nets_read_are_refused(tmp_path):
    import pyarrow as pa

    file = tmp_path / "windows.parquet"
    with pytest.raises(FileNotFoundError, match=r"run `python -m models read` first"):
        read_keyed(file, "a" * 64, "read")
    write_keyed(file, pa.table({"x": [1]}), "a" * 64)
    assert read_keyed(file, "a" * 64, "read").to_pylist() == [{"x": 1}]
    with pytest.raises(StaleRows, match=r"aaaaaaaaaaaa\) than those in the tree \(bbbbbbbbbbbb\)"):
        read_keyed(file, "b" * 64, "read")


@pytest.mark.filterwarnings("ignore::RuntimeWarning")
def test_the_accuracy_file_says_what_its_rows_say():
    """And counts clips, not readings: each clip is upright, clean or between once."""
    from models.cards.write import PLACES, accuracy_content, rendered

    content = accuracy_content(recipe())
    assert rendered("accuracy", content) == PLACES["accuracy"].read_text("utf-8")
    rows = pq.read_table(BENCH).to_pylist()
    kinds = {row["clip"]: row["kind"] for row in rows if row["collection"] == "foreign"}
    assert content["clips"] == len(kinds)
    for kind in ("upright", "clean"):
        assert content[kind] == sum(each == kind for each in kinds.values())
        assert content[f"{kind}_marked"] <= content[kind]
