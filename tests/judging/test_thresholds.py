from importlib import resources

import pytest

from posecheck.errors import SettingsError
from posecheck.judging.thresholds import DEFAULT_THRESHOLDS, Thresholds, read_thresholds


def written(tmp_path, text):
    path = tmp_path / "team.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_the_commented_file_and_the_defaults_agree(tmp_path):
    text = resources.files("posecheck.judging").joinpath("thresholds.toml").read_text("utf-8")
    assert read_thresholds(written(tmp_path, text)) == DEFAULT_THRESHOLDS
    stated = [line.split("=")[0].strip() for line in text.splitlines() if "=" in line.split("#")[0]]
    assert sorted(stated) == sorted(vars(DEFAULT_THRESHOLDS))


def test_what_is_left_out_keeps_its_default(tmp_path):
    thresholds = read_thresholds(written(tmp_path, "min_knee_bend_deg = 50"))
    assert thresholds == Thresholds(min_knee_bend_deg=50.0)


def test_limits_of_signed_measures_may_be_negative(tmp_path):
    limits = read_thresholds(written(tmp_path, "min_goal_side_m = -0.4\nmin_heading_deg = -60"))
    assert (limits.min_goal_side_m, limits.min_heading_deg) == (-0.4, -60.0)


def test_digest_tells_limits_apart_and_nothing_else():
    assert Thresholds().digest() == Thresholds(min_knee_bend_deg=45.0).digest()
    assert Thresholds().digest() != Thresholds(min_knee_bend_deg=46.0).digest()


@pytest.mark.parametrize(
    ("text", "complaint"),
    [
        (
            "min_kne_bend_deg = 45",
            "min_kne_bend_deg is not a known setting; did you mean 'min_knee_bend_deg'?",
        ),
        (
            "min_knee_bend_deg = '45'",
            "min_knee_bend_deg is '45'; give a number without quotes.",
        ),
        (
            "min_knee_bend_deg = 450",
            "min_knee_bend_deg is 450; give a number from 0 to 160.",
        ),
        (
            "max_overrun_m = -1",
            "max_overrun_m is -1; give a number from 0 to 15.",
        ),
        (
            "min_trunk_lean_deg = 60",
            "min_trunk_lean_deg is 60, above max_trunk_lean_deg which is 50; "
            "no rep could be right by both; lower the one or raise the other.",
        ),
        (
            "upright_knee_bend_deg = 50",
            "upright_knee_bend_deg is 50, above min_knee_bend_deg which is 45; "
            "no rep could be right by both; lower the one or raise the other.",
        ),
        (
            "max_heading_deg = -60",
            "min_heading_deg is -45, above max_heading_deg which is -60; "
            "no rep could be right by both; lower the one or raise the other.",
        ),
        (
            "min_goal_side_m = -17",
            "min_goal_side_m is -17; give a number from -15 to 15.",
        ),
    ],
)
def test_nonsense_is_refused_in_one_sentence(tmp_path, text, complaint):
    path = written(tmp_path, text)
    with pytest.raises(SettingsError) as caught:
        read_thresholds(path)
    assert str(caught.value) == f"{path}: {complaint}"
