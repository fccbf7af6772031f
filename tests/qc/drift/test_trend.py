import json
from pathlib import Path

import numpy as np
import pytest
from scipy import stats
from statsmodels.regression.linear_model import GLS

from qc.drift.trend import relative_sd, slope, theil_sen
from qc.errors import QuestionError, TooLittleData

REFERENCE = Path(__file__).parents[2] / "reference"


def case(name: str) -> dict:
    return json.loads((REFERENCE / f"{name}.json").read_text(encoding="utf-8"))


def test_slope_and_its_error_are_the_certified_ones():
    # NIST StRD, Norris: certified values.
    data, certified = case("strd_norris")["data"], case("strd_norris")["expected"]
    found = slope(data["x"], data["y"])
    assert found.slope == pytest.approx(float(certified["B1"]), rel=1e-12)
    assert found.intercept == pytest.approx(float(certified["B0"]), rel=1e-9)
    assert found.standard_error == pytest.approx(float(certified["seB1"]), rel=1e-10)
    assert found.sigma == pytest.approx(float(certified["resid_sd"]), rel=1e-10)


def test_weights_and_lag_are_those_of_the_library_with_the_whole_matrix():
    rng = np.random.default_rng(1)
    x, n = np.cumsum(rng.integers(4, 9, 25)).astype(float), rng.integers(4, 9, 25).astype(float)
    y = 0.05 * x + rng.normal(size=25)
    inside, between, rho = 2.0, 0.8, 0.35
    sd = np.sqrt(between**2 + inside**2 / n)
    matrix = sd[:, None] * sd[None, :] * rho ** np.abs(np.subtract.outer(np.arange(25), np.arange(25)))
    library = GLS(y, np.column_stack([np.ones(25), x]), sigma=matrix).fit()
    found = slope(x, y, bores=n, spread_in_block=inside, spread_between_blocks=between, lag1=rho)
    assert found.slope == pytest.approx(library.params[1], rel=1e-9)
    assert found.intercept == pytest.approx(library.params[0], rel=1e-7, abs=1e-9)
    assert found.standard_error == pytest.approx(library.bse[1], rel=1e-9)
    assert (found.interval.lower, found.interval.upper) == pytest.approx(library.conf_int()[1], rel=1e-8)


def test_a_declared_step_does_not_bend_the_slope():
    x = np.arange(20.0)
    y = 0.3 * x + np.where(x >= 12, 50.0, 0.0) + 1e-6 * np.sin(x)
    found = slope(x, y, segments=x >= 12)
    assert found.slope == pytest.approx(0.3, abs=1e-6)
    assert found.intercept == pytest.approx(50.0, abs=1e-4)


def test_relative_sd_of_blocks_with_many_bores_is_smaller():
    sd = relative_sd([4, 8], 2.0, 0.0)
    assert sd[0] / sd[1] == pytest.approx(np.sqrt(2))
    assert (sd**2).mean() == pytest.approx(1.0)


def test_median_of_slopes_of_a_known_example():
    # Hollander and Wolfe (1999), example 9.1; data from memory, slope computed elsewhere.
    example = case("theil_sen_hollander_wolfe")
    data = example["data"]
    assert theil_sen(data["x"], data["y"]) == pytest.approx(example["expected"]["slope_computed"], abs=1e-12)
    assert theil_sen(data["x"], data["epa5"]) == pytest.approx(stats.theilslopes(data["epa5"], data["x"])[0])


def test_too_few_blocks_for_a_line_are_refused():
    with pytest.raises(TooLittleData, match="another block"):
        slope([1.0, 2.0], [1.0, 2.0])
    with pytest.raises(TooLittleData, match="another block"):
        theil_sen([1.0, 1.0], [1.0, 2.0])
    with pytest.raises(QuestionError, match="one wear count"):
        slope([1.0], [1.0, 2.0])
