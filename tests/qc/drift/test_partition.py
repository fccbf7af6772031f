from itertools import combinations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import chi2

from qc.drift.partition import level_changes, partition, price_of_change, without_wild
from qc.errors import QuestionError


def cost(x, cuts, price):
    edges = [0, *cuts, x.size]
    parts = [x[a:b] for a, b in zip(edges[:-1], edges[1:], strict=True)]
    return sum(((p - p.mean()) ** 2).sum() for p in parts) + price * len(cuts)


@given(st.lists(st.integers(-9, 9), min_size=6, max_size=11), st.floats(0.5, 60.0), st.integers(1, 3))
def test_the_division_is_the_best_of_all_divisions(values, price, least):
    x = np.array(values, dtype=float)
    every = [
        cuts for k in range(4) for cuts in combinations(range(1, x.size), k)
        if all(b - a >= least for a, b in zip([0, *cuts], [*cuts, x.size], strict=True))
    ]  # fmt: skip
    every = [c for c in every if len(c) <= 3]
    found = partition(x, price, least)
    if len(found) <= 3:
        assert cost(x, found, price) == pytest.approx(min(cost(x, c, price) for c in every), abs=1e-7)


def test_the_price_is_that_of_the_stated_rate():
    assert price_of_change(90, 0.05) == pytest.approx(chi2.isf(0.05 / 90, 1))
    assert price_of_change(90, 0.05, 0.5) == pytest.approx(3 * chi2.isf(0.05 / 90, 1))
    with pytest.raises(QuestionError):
        price_of_change(90, 0.0)


def test_level_series_show_changes_as_rarely_as_stated():
    rng = np.random.default_rng(4)
    shown = [bool(level_changes(rng.normal(size=90), 0.0)) for _ in range(400)]
    # 5 % stated; the spread is estimated, so up to 8 % are let pass (400 series: error 1.1 %).
    assert 0.0 < np.mean(shown) < 0.08


def test_changes_are_found_where_they_are_and_a_wild_block_is_none():
    rng = np.random.default_rng(5)
    x = rng.normal(size=80) + 4.0 * (np.arange(80) >= 30) - 5.0 * (np.arange(80) >= 60)
    x[45] += 15.0
    found = level_changes(x, 0.0)
    assert [cut for cut, _ in found] == pytest.approx([30, 60], abs=1)
    assert [amount for _, amount in found] == pytest.approx([4.0, -5.0], abs=0.8)
    assert abs(without_wild(x)[45] - x[40:50].mean()) < 4.0
