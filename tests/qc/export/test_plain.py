import math

import numpy as np
import pytest
from scipy import stats

from qc.export import plain
from qc.export.differences import differences
from qc.export.plain import Window

VALUES = [float(v) for v in np.random.default_rng(5).normal(2.0, 3.0, 40)]


def test_mean_and_spread_are_those_of_numpy():
    found = plain.figures(VALUES, Window(None, None), "folded_normal")
    assert found == {"mean": pytest.approx(np.mean(VALUES), rel=1e-12),
                     "spread_all": pytest.approx(np.std(VALUES, ddof=1), rel=1e-12)}  # fmt: skip


# NIST/SEMATECH e-Handbook 6.1.6: mean 16, s 2, limits 8 and 20 give Cp 1.0, Cpk 0.6667
def test_indices_of_the_handbook_example():
    found = plain.indices(16.0, 2.0, Window(8.0, 20.0), logarithms=False)
    assert found == {"pp": pytest.approx(1.0), "ppk": pytest.approx(2 / 3, abs=5e-5)}


def test_one_limit_gives_no_pp_and_counts_its_side_only():
    found = plain.indices(1.0, 2.0, Window(None, 7.0), logarithms=False)
    assert found == {"pp": None, "ppk": pytest.approx(1.0)}


def test_a_lognormal_index_uses_the_points_of_the_logarithms():
    logs = np.log(np.abs(VALUES) + 0.1)
    fitted = stats.lognorm(s=np.std(logs, ddof=1), scale=math.exp(np.mean(logs)))
    middle, high = fitted.ppf(0.5), fitted.ppf(stats.norm.cdf(3.0))
    found = plain.figures([float(v) for v in np.exp(logs)], Window(None, 9.0), "lognormal")
    assert found["ppk"] == pytest.approx((9.0 - middle) / (high - middle), rel=1e-9)


def test_repeats_at_one_place_are_averaged_before_places_are():
    rows = [
        {"station_mm": "10", "clock_deg": "0", "deviation_um": "1"},
        {"station_mm": "10", "clock_deg": "0", "deviation_um": "3"},
        {"station_mm": "90", "clock_deg": "0", "deviation_um": "8"},
    ]
    assert plain.bore_value(rows, "deviation_um") == 5.0  # (2 + 8) / 2, not (1 + 3 + 8) / 3
    assert plain.bore_value([{**rows[0], "deviation_um": ""}], "deviation_um") is None


@pytest.mark.parametrize(
    ("other", "agrees"),
    [(1.5, True), (1.5 * (1 + 5e-10), True), (1.5 * (1 + 2e-9), False), (None, False), (-1.5, False)],
)
def test_figures_agree_to_a_relative_1e9(other, agrees):
    assert plain.agree(1.5, other) is agrees
    found = list(differences({"a": [{"b": 1.5}]}, {"a": [{"b": other}]}))
    assert found == ([] if agrees else [("a[0].b", 1.5, other)])


def test_what_only_one_document_has_is_a_difference():
    assert list(differences({"a": 1}, {})) == [("a", 1, None)]
    assert list(differences([1, 2], [1])) == [(" (number of entries)", 2, 1)]
    assert list(differences({"a": True}, {"a": 1})) == [("a", True, 1)]
    assert list(differences({"a": 1}, {"a": 2}, ignore=("a",))) == []
    assert list(differences("1.0", "1", texts_are_numbers=True)) == []
    assert list(differences("1.0", "1")) == [("", "1.0", "1")]
