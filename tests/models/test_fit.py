"""The fit: its loss on laws that are known, its folds, and the same net to the last bit twice."""

from dataclasses import replace

import numpy as np
import pytest
from extra import needs_models_extra
from scipy import stats

from models.data.stills import read_casts
from models.files import HELD_OUT
from models.fit.feet import feet_kind, feet_truth
from models.fit.folds import deal, families, fit_folds, mirrored
from models.fit.net_file import made_from, write_net
from models.fit.stance import hips_lower, stance_kind, stance_truth
from models.recipe import recipe
from posecheck.body.net import BodyNet, from_arrays
from posecheck.body.stance_net import OUTPUTS

FIT = recipe().fit
needs_torch = needs_models_extra("torch")


@pytest.fixture(scope="module")
def casts():
    return read_casts([HELD_OUT])


def least(truth, huber=None):
    """The constant value and quantiles that the loss is least at, over draws from a law."""
    import torch

    from models.fit.loss import interval_loss

    y = torch.tensor(truth, dtype=torch.float64)[:, None]
    three = torch.zeros(3, dtype=torch.float64, requires_grad=True)
    optimizer = torch.optim.Adam([three], lr=0.1)
    schedule = torch.optim.lr_scheduler.ExponentialLR(optimizer, 0.996)
    for _ in range(1800):
        optimizer.zero_grad()
        value, below, above = (each.expand(len(y), 1) for each in three)
        interval_loss(value, below, above, y, cover=0.9, huber=huber).backward()
        optimizer.step()
        schedule.step()
    value, below, above = three.detach().numpy()
    return value, value - np.logaddexp(0, below), value + np.logaddexp(0, above)


@needs_torch
@pytest.mark.parametrize(
    "law", [stats.gumbel_r(1.0, 2.0), stats.norm(-3.0, 1.5)], ids=["gumbel", "normal"]
)
def test_loss_is_least_at_median_and_outer_quantiles(law):
    draws = law.ppf((np.arange(4000) + 0.5) / 4000)
    wanted = law.ppf([0.5, 0.05, 0.95])
    assert least(draws) == pytest.approx(wanted, abs=0.02 * law.std())


@needs_torch
def test_loss_with_huber_is_least_at_the_mean_of_a_lopsided_law():
    """Where errors stay below Huber's limit: the mean 2 of an exponential law, median 1.39."""
    draws = stats.expon(scale=2.0).ppf((np.arange(4000) + 0.5) / 4000)
    value, low, high = least(draws, huber=100.0)
    assert value == pytest.approx(draws.mean(), abs=0.02)
    assert (low, high) == pytest.approx(stats.expon(scale=2.0).ppf([0.05, 0.95]), abs=0.06)


@needs_torch
def test_far_errors_count_by_their_size_alone():
    """One draw in a hundred lies at 1000: the mean goes to 10, Huber's at most limit / 99 off."""
    draws = np.r_[np.zeros(99), 1000.0]
    assert least(draws, huber=4.0)[0] == pytest.approx(4.0 / 99, abs=0.01)


def test_folds_never_split_a_body_and_hold_every_body_once(casts):
    folds = deal(casts, 4)
    numbers = [cast.number for fold in folds for cast in fold]
    assert sorted(numbers) == [cast.number for cast in casts]
    assert max(map(len, folds)) - min(map(len, folds)) <= 1


def test_a_family_holds_all_its_albums_and_nothing_else(casts):
    run, walk = replace(casts[0], album="running"), replace(casts[1], album="varied")
    dealt = families([casts[2], run, walk], {"rep": ["closeout", "running"], "other": ["varied"]})
    assert dealt == [[casts[2], run], [walk]]
    with pytest.raises(ValueError, match=r"no family holds running"):
        families([run], {"rep": ["closeout"]})


def test_mirrored_truth_changes_sides_and_nothing_else(casts):
    truth = stance_truth(casts[0])
    swapped = mirrored(truth, OUTPUTS)
    assert np.array_equal(swapped[:, :2], truth[:, 1::-1])
    assert np.array_equal(swapped[:, 2:], truth[:, 2:])
    assert np.array_equal(truth[:, 2], truth[:, :2].min(axis=1))


def test_hips_from_true_places_are_the_true_drop_but_for_landmarks(casts):
    """The landmarks' hips are some centimetres off the joints, of a metre."""
    cast = casts[0]
    clean = ~cast.occluded & ~cast.degraded
    off = (hips_lower(cast) - cast.truth["hip_drop"])[clean]
    assert np.median(np.abs(off)) < 0.04


def test_rows_of_the_feet_hold_a_body_and_its_mirror_image(casts):
    kind, cast = feet_kind(FIT), casts[0]
    features, truth = kind.rows(cast)
    assert features.shape == (2 * len(cast), features.shape[1])
    assert np.array_equal(truth[: len(cast)], feet_truth(cast)[0])
    assert np.array_equal(truth[len(cast) :], truth[: len(cast), ::-1])


@needs_torch
def test_two_fits_come_to_the_same_bytes(casts, tmp_path):
    """However many processes fit the members."""
    fit = replace(FIT, folds=2)
    kind = stance_kind(fit)
    kind = replace(kind, net=replace(kind.net, epochs=2, hidden=(32, 16), families=None))
    few = casts[:2]
    files = []
    for workers in (1, 2):
        whole, others = fit_folds(few, kind, fit, workers)
        files.append(tmp_path / f"{workers}.npz")
        assert whole is not None
        write_net(files[-1], made_from(whole, few, [HELD_OUT], recipe()))
    assert files[0].read_bytes() == files[1].read_bytes()
    assert sorted(cast.number for cast, _ in others) == [cast.number for cast in few]

    with np.load(files[0], allow_pickle=False) as arrays:
        again = BodyNet(kind.outputs, kind.features, *from_arrays(dict(arrays)))
    assert again.made_from["bodies"] == {"closeout": 2}
    assert again.made_from["pictures"] == {"closeout": len(few[0]) + len(few[1])}
    assert again.made_from["recipe"] == recipe().digest("fit")
    read, kept = (net.read(few[0].view) for net in (whole, again))
    for output in kind.outputs:  # weights are kept in half precision
        assert kept[output].value == pytest.approx(
            read[output].value, abs=0.02 * kind.net.unit[kind.outputs.index(output)]
        )
    # The net of the other fold is another one.
    assert not np.array_equal(others[0][1].centre, others[1][1].centre)
