"""What must be read to prove an index, and performance inside one block, against scipy and by simulation."""

import numpy as np
import pytest
from scipy import stats

from qc.capability.nested import capability


def answer(values, blocks, **told):
    joined = np.concatenate(([False], np.ones(blocks.size - 2, dtype=bool)))
    told = {"lower": None, "upper": None, "bounded": "both", "family": "normal"} | told
    return capability(values, blocks, joined, **told)


def single(n, seed=3):
    return np.random.default_rng(seed).normal(0.4, 1.3, n), np.arange(n + 1)


# two decimals: exact noncentral t, worked out beforehand for a wanted 1.33 at 95 %, n independent blocks
PRINTED = {8: 2.43, 10: 2.22, 20: 1.84, 30: 1.72, 50: 1.61, 100: 1.52}


@pytest.mark.parametrize("n", PRINTED)
def test_with_one_bore_a_block_the_index_to_be_read_is_that_of_the_noncentral_t(n):
    values, blocks = single(n)
    for told in ({"upper": 5.0, "bounded": "above"}, {"lower": -5.0, "bounded": "below"}):
        found = answer(values, blocks, **told).to_prove
        exact = stats.nct.ppf(0.95, n - 1, 3 * np.sqrt(n) * 1.33) / (3 * np.sqrt(n))
        assert found.needed == pytest.approx(exact, rel=5e-3)  # of the 100,000 draws
        assert found.needed == pytest.approx(PRINTED[n], abs=0.012)
        assert (found.wanted, found.blocks, found.confidence) == (1.33, n, 0.95)


def test_an_index_is_proved_from_the_one_to_be_read_on():
    values, blocks = single(20)
    near = answer(values, blocks, upper=6.0, bounded="above")
    needed, sd = near.to_prove.needed, values.std(ddof=1)
    for ppk, proved in ((needed - 0.02, False), (needed + 0.02, True)):
        found = answer(values, blocks, upper=values.mean() + 3 * sd * ppk, bounded="above")
        assert found.ppk == pytest.approx(ppk)
        assert found.to_prove.proved is proved


def test_more_is_to_be_read_for_more_and_from_fewer_blocks():
    values, blocks = single(60)
    at = [
        answer(values, blocks, upper=9.0, bounded="above", wanted=w).to_prove.needed for w in (1.0, 1.33, 2)
    ]
    assert at == sorted(at)
    few = answer(values[:12], blocks[:13], upper=9.0, bounded="above").to_prove.needed
    assert few > at[1]


def test_a_process_that_is_just_as_wanted_is_called_proved_in_about_one_of_twenty():
    draw, proved, times = np.random.default_rng(11), 0, 400
    upper = 3 * 1.33 * np.sqrt(2.0)  # share 0.5: spread between and in block 1 each, level 0
    for _ in range(times):
        values = draw.normal(0, 1, (10, 1)) + draw.normal(0, 1, (10, 4))
        told = answer(values.ravel(), np.arange(0, 41, 4), upper=upper, bounded="above", draws=2000)
        proved += told.to_prove.proved
    # 0.05 +- 3 of the simulation's own 0.011
    assert 0.017 <= proved / times <= 0.083


def test_performance_inside_one_block_is_by_the_spread_in_block_with_its_chi_square_interval():
    draw = np.random.default_rng(5)
    values = draw.normal(0, 3, (15, 1)) + draw.normal(0, 1, (15, 6))
    found = answer(values.ravel(), np.arange(0, 91, 6), lower=-12.0, upper=12.0)
    inside = found.inside_one_block
    s = np.sqrt(values.var(axis=1, ddof=1).mean())
    assert inside.spread == pytest.approx(s)
    assert inside.index == pytest.approx(24 / (6 * s))
    assert inside.nearer == pytest.approx((12 - abs(values.mean())) / (3 * s))
    ends = inside.index * np.sqrt(stats.chi2.ppf([0.025, 0.975], 75) / 75)
    assert (inside.index_interval.lower, inside.index_interval.upper) == pytest.approx(tuple(ends))
    assert inside.degrees_of_freedom == 75
    assert inside.nearer > 1.5 * found.ppk


def test_one_bore_a_block_has_no_performance_inside_a_block_and_says_so():
    values, blocks = single(10)
    found = answer(values, blocks, lower=-9.0, upper=9.0)
    assert found.inside_one_block is None
    assert found.not_given["inside_one_block"] == "one bore a block: a spread within a block needs two"


def test_bores_alike_in_each_block_have_no_performance_inside_a_block():
    values = np.repeat(np.random.default_rng(2).normal(0, 1, 10), 3)
    found = answer(values, np.arange(0, 31, 3), lower=-9.0, upper=9.0)
    assert found.inside_one_block is None
    assert "all read the same" in found.not_given["inside_one_block"]


def test_a_doubt_about_the_limits_leaves_no_figure_against_them():
    values, blocks = single(30)
    found = answer(values, blocks, lower=-9.0, upper=9.0, doubt="the target lies outside")
    for name in ("pp", "ppk", "ppk_interval", "cp", "to_prove", "inside_one_block", "gauge_free"):
        assert getattr(found, name) is None, name
    assert found.not_given["ppk"] == found.not_given["to_prove"] == "the target lies outside"
    assert found.tolerance_interval is not None
