import json
from pathlib import Path

import numpy as np
import pytest
from statsmodels.regression.linear_model import GLS

from qc.drift.pooling import joined, models
from qc.drift.trend import whitened
from qc.drift.wear import usual_wear
from qc.drift.wearing import wearing_lines

REFERENCE = Path(__file__).parents[2] / "reference" / "dyestuff_variance_components.json"


def dyestuff():
    return json.loads(REFERENCE.read_text(encoding="utf-8"))


def test_without_drawing_it_is_the_librarys_generalised_least_squares():
    rng = np.random.default_rng(1)
    x, rho = 8 * (np.arange(20) + 0.5), 0.4
    y = 3 + 0.05 * x + rng.normal(size=20)
    design = np.column_stack([np.ones(20), x])
    one = np.ones(20)
    found = models(whitened(design, one, rho), whitened(y, one, rho), np.zeros((1, 2)), np.eye(2), 18)
    library = GLS(y, design, sigma=rho ** np.abs(np.subtract.outer(np.arange(20), np.arange(20)))).fit()
    assert found.estimates[0] == pytest.approx(library.params, rel=1e-6)
    assert np.sqrt(np.diag(found.covariance[0])) == pytest.approx(library.bse, rel=1e-6)


def test_evidence_is_greatest_at_the_published_variance_components():
    # Dyestuff, Davies and Goldsmith (1972): REML batch and residual components as published with the data.
    told = dyestuff()
    data, expected = told["data"], told["expected"]
    y, names = np.array(data["yield"]), sorted(set(data["batch"]))
    batch = np.array([names.index(b) for b in data["batch"]])
    groups = [y[batch == k] for k in range(len(names))]
    design = np.column_stack([np.ones(y.size), batch[:, None] == np.arange(len(groups))]).astype(float)
    ratio = expected["var_resid"] / expected["var_batch"]
    tried = ratio * np.exp(np.linspace(-1, 1, 401))
    precision = np.column_stack([np.zeros(tried.size), *[tried] * len(groups)])
    found = models(design, y - y.mean(), precision, np.eye(design.shape[1]), y.size - 1)
    assert tried[np.argmax(found.evidence)] == pytest.approx(ratio, rel=0.006)
    # The predicted batch effects are the batch means drawn to the grand mean, by hand.
    n = len(groups[0])
    drawn = n / (n + ratio)
    means = np.array([np.mean(g) for g in groups]) - y.mean()
    near = models(design, y - y.mean(), precision[[200]], np.eye(design.shape[1]), y.size - 1)
    assert near.estimates[0, 1:] == pytest.approx(drawn * means, rel=1e-6)
    residual = near.covariance[0, 0, 0] * y.size / (1 + n / ratio)
    assert residual == pytest.approx(expected["var_resid"], rel=0.001)


def test_models_that_the_data_speak_against_weigh_nothing():
    design, y = (
        np.column_stack([np.ones(20), np.arange(20.0)]),
        np.arange(20.0) + 0.01 * np.sin(np.arange(20)),
    )
    precision = np.array([[0.0, 0.0], [0.0, 1e12]])
    part = models(design, y, precision, np.array([[1.0, 19.0], [0.0, 1.0]]), 19)
    lines = joined([part], [np.zeros(2)], 19)
    assert lines.mean_slope == pytest.approx(1.0, abs=0.01)


def worn(shown, slope=0.04, finished=5, seed=2):
    rng = np.random.default_rng(seed)
    lengths = [12] * finished + [shown]
    stretch = np.repeat(np.arange(finished + 1), lengths)
    x = 8 * (np.arange(stretch.size) - np.searchsorted(stretch, stretch) + 0.5)
    own = np.where(stretch == finished, slope, 0.04)
    return x, own * x + rng.normal(size=x.size), stretch


def lines_of(shown, **more):
    x, y, stretch = worn(shown, **more)
    done = stretch < stretch[-1]
    usual = usual_wear(x[done], y[done], stretch[done], np.ones(done.sum()), 0.0)
    none = np.zeros((x.size, 0))
    return wearing_lines(x, y, np.ones(x.size), 0.0, stretch, none, 8.0 * shown, usual), usual


def test_a_forecast_exists_from_the_third_block_and_rests_on_earlier_stretches():
    lines, usual = lines_of(3)
    assert lines.borrowed > 0.8
    assert lines.mean_slope == pytest.approx(usual.slope, rel=0.25)


def test_the_longer_a_stretch_the_less_it_borrows():
    shares = [lines_of(n)[0].borrowed for n in (3, 6, 12, 30)]
    assert shares == sorted(shares, reverse=True)
    assert shares[-1] < shares[0] / 2


def test_a_stretch_like_none_before_it_is_believed_once_it_is_sure():
    lines, _ = lines_of(16, slope=0.12)
    assert lines.mean_slope == pytest.approx(0.12, rel=0.15)
    assert lines.borrowed < 0.3


def test_a_young_stretch_may_wear_faster_than_those_before_it_sooner_than_slower():
    # All mirrored about the usual slope: only the chance of a faster stretch tells the two apart.
    x, y, stretch = worn(5, slope=0.09)
    done, one, none = stretch < stretch[-1], np.ones(x.size), np.zeros((x.size, 0))
    usual = usual_wear(x[done], y[done], stretch[done], one[done], 0.0)

    def unsure(values):
        lines = wearing_lines(x, values, one, 0.0, stretch, none, 40.0, usual)
        return lines.weights @ (lines.covariance[:, 1, 1] + (lines.slope - lines.mean_slope) ** 2)

    assert unsure(y) > 1.5 * unsure(2 * usual.slope * x - y)
