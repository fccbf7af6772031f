import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.regression.linear_model import OLS

from qc.drift.changepoint import added, basis, best_split
from qc.drift.critical import change_level, growth_level
from qc.errors import TooLittleData

NILE = json.loads(
    (Path(__file__).parents[2] / "reference" / "nile_changepoint.json").read_text(encoding="utf-8")
)


def test_the_nile_changed_after_1898():
    # Cobb (1978), Biometrika 65, 243-251; year from memory, means recomputed elsewhere.
    found, expected = best_split(NILE["data"]["y"]), NILE["expected"]
    assert found.index == expected["k"]
    assert NILE["data"]["start_year"] + found.index - 1 == expected["last_year_before_change"]
    assert found.mean_before == pytest.approx(expected["mean_before"], abs=5e-3)
    assert found.mean_after == pytest.approx(expected["mean_after"], abs=5e-3)
    assert found.sum_of_squares == pytest.approx(NILE["computed_here"]["sse_min"], rel=1e-9)


@given(st.lists(st.floats(-100, 100), min_size=4, max_size=12), st.integers(1, 2))
def test_the_split_is_the_best_of_all_splits(values, least):
    x = np.array(values)
    sums = [
        ((x[:k] - x[:k].mean()) ** 2).sum() + ((x[k:] - x[k:].mean()) ** 2).sum()
        for k in range(least, x.size - least + 1)
    ]
    assert best_split(x, least).sum_of_squares == pytest.approx(min(sums), abs=1e-7)


def test_an_added_column_is_tested_as_the_library_tests_it():
    rng = np.random.default_rng(2)
    y, one = rng.normal(size=30), np.ones((30, 1))
    columns = np.column_stack([np.arange(30) >= 12, np.arange(30.0)]).astype(float)
    found = added(basis(one), y, columns)
    for k in range(2):
        library = OLS(y, np.column_stack([one, columns[:, k]])).fit()
        assert found.effect[k] == pytest.approx(library.params[1])
        assert found.error[k] == pytest.approx(library.bse[1])
        assert found.p[k] == pytest.approx(library.pvalues[1])


def test_a_column_that_depends_on_the_base_tells_nothing():
    found = added(basis(np.ones((8, 1))), np.arange(8.0), np.ones((8, 1)))
    assert found.p[0] == 1.0


def test_correlated_blocks_need_more_to_stand_out():
    assert change_level(0.00073, 0.5) < change_level(0.00073, 0.0) < 0.00073
    assert growth_level(0.001) == pytest.approx(10 * growth_level(0.0001))


def test_too_few_values_for_a_split_are_refused():
    with pytest.raises(TooLittleData, match="widen the dates"):
        best_split([1.0])
