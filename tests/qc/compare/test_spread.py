import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats.multitest import multipletests

from qc.compare.equal_spreads import bartlett, brown_forsythe
from qc.compare.spread import SpreadComparison, block_to_block, holm, level, spread_in_block, words
from qc.errors import QuestionError, TooLittleData
from qc.stats.intervals import Interval

REFERENCE = Path(__file__).parents[2] / "reference"


def case(name: str) -> dict:
    return json.loads((REFERENCE / f"{name}.json").read_text(encoding="utf-8"))


def gear(name: str) -> list[np.ndarray]:
    data = case(name)["data"]
    diameter, batch = np.array(data["diameter"]), np.array(data["batch"])
    return [diameter[batch == b] for b in np.unique(batch)]


def compared(ratio: float, lower: float, upper: float | None, p: float, blocks=(9, 12)) -> SpreadComparison:
    shown = None if upper is None else upper / ratio
    return SpreadComparison(
        "spread_in_block", ratio, Interval(lower, upper, 0.95), 1.0, 10.0, p, blocks, shown, ("")
    )


def test_difference_of_levels_is_the_published_welch_t():
    # NIST/SEMATECH e-Handbook 1.3.5.3; Welch's t and its degrees of freedom from memory.
    data, expected = case("nist_auto83b_two_sample_t")["data"], case("nist_auto83b_two_sample_t")["expected"]
    found = level(data["us"], data["japan"])
    assert found.t == pytest.approx(expected["T_welch"], abs=1e-5)
    assert found.df == pytest.approx(expected["df_welch"], abs=1e-3)
    assert found.difference == pytest.approx(expected["mean"][0] - expected["mean"][1], abs=1e-5)
    assert found.blocks == tuple(expected["n"])


def test_interval_and_p_of_levels_are_those_of_scipy():
    rng = np.random.default_rng(3)
    a, b = rng.normal(2, 1, 7), rng.normal(0, 3, 11)
    found, library = level(a, b), stats.ttest_ind(a, b, equal_var=False)
    ends = library.confidence_interval(0.95)
    assert found.p == pytest.approx(library.pvalue, rel=1e-10)
    assert (found.interval.lower, found.interval.upper) == pytest.approx((ends.low, ends.high), rel=1e-10)


def test_levels_of_logarithms_come_back_as_a_ratio():
    rng = np.random.default_rng(4)
    a, b = np.log(rng.lognormal(0, 0.1, 8)), np.log(2 * rng.lognormal(0, 0.1, 9))
    found = level(a, b, logarithms=True)
    assert found.ratio == pytest.approx(np.exp(a.mean() - b.mean()))
    assert found.ratio_interval.lower == pytest.approx(np.exp(found.interval.lower))
    assert level(a, b).ratio is None


def test_equal_spreads_of_ten_batches_of_gears_by_deviations_from_the_median():
    # NIST/SEMATECH e-Handbook 1.3.5.10: W 1.70591 on 9 and 90 degrees of freedom (published digits).
    expected, found = case("nist_gear_levene")["expected"], brown_forsythe(*gear("nist_gear_levene"))
    assert found.statistic == pytest.approx(expected["W"], abs=1e-5)
    assert found.df == (expected["df1"], expected["df2"])
    assert found.p > 0.05


def test_equal_spreads_of_ten_batches_of_gears_by_logarithms_of_variances():
    # NIST/SEMATECH e-Handbook 1.3.5.7: T 20.7858 on 9 (published with single-precision error).
    expected, found = case("nist_gear_bartlett")["expected"], bartlett(*gear("nist_gear_bartlett"))
    assert found.statistic == pytest.approx(expected["T"], abs=1e-4)
    assert found.df == (expected["df"],)
    assert found.p < 0.05


def test_block_to_block_is_the_library_test():
    rng = np.random.default_rng(5)
    a, b = rng.normal(0, 1, 9), rng.normal(0, 2, 12)
    library = stats.levene(a, b, center="median")
    assert block_to_block(a, b).statistic == pytest.approx(library.statistic)
    assert block_to_block(a, b).p == pytest.approx(library.pvalue)


@given(st.integers(0, 10_000), st.floats(0.2, 5.0))
def test_block_to_block_interval_excludes_1_just_when_the_test_rejects(seed, factor):
    rng = np.random.default_rng(seed)
    found = block_to_block(rng.normal(size=10), factor * rng.normal(size=13))
    upper = np.inf if found.interval.upper is None else found.interval.upper
    assert (found.p < 0.05) == (not found.interval.lower <= 1 <= upper)


def test_block_to_block_interval_ends_are_ratios_the_test_just_rejects():
    rng = np.random.default_rng(6)
    a, b = rng.normal(0, 1, 20), rng.normal(0, 1.5, 25)
    for end in (block_to_block(a, b).interval.lower, block_to_block(a, b).interval.upper):
        assert stats.levene(a, end * b, center="median").pvalue == pytest.approx(0.05, abs=1e-9)


def test_ratio_of_spreads_in_block_is_free_of_bias_from_few_bores():
    # The mean of ln s of n normal values is ln sigma + (psi(v/2) - ln(v/2))/2 (from memory): months of
    # 4-bore blocks and of 8-bore blocks with the same spread must come out at a ratio of 1.
    rng = np.random.default_rng(7)
    four = rng.normal(size=(40_000, 4)).std(axis=1, ddof=1)
    eight = rng.normal(size=(40_000, 8)).std(axis=1, ddof=1)
    found = spread_in_block(four, np.full(40_000, 4), eight, np.full(40_000, 8), 0.0)
    assert abs(np.log(found.ratio)) < 4 * np.log(found.smallest_ratio) / 1.96
    assert np.log(np.median(four) / np.median(eight)) < -0.03


@pytest.mark.simulation
def test_interval_of_the_spread_ratio_holds_the_truth_as_often_as_it_says():
    # 8 bores a block, spreads that differ from block to block by a tenth, months of 9 and 12 blocks.
    rng, held, rounds = np.random.default_rng(8), 0, 1500
    for _ in range(rounds):
        months = []
        for m, sigma in ((9, 1.3), (12, 1.0)):
            own = sigma * np.exp(rng.normal(0, 0.1, m))
            months.append((own[:, None] * rng.normal(size=(m, 8))).std(axis=1, ddof=1))
        found = spread_in_block(months[0], np.full(9, 8), months[1], np.full(12, 8), 0.0)
        held += found.interval.lower <= 1.3 <= found.interval.upper
    assert 0.935 <= held / rounds <= 0.968


def test_a_spread_below_the_gauges_step_counts_as_the_step():
    s, n = np.array([0.0, 0.1, 1.0, 1.2, 0.9]), np.full(5, 8)
    floored = np.maximum(s, 2.0 / np.sqrt(12))
    found = spread_in_block(s, n, np.full(5, 1.0) * [0.8, 1, 1.1, 1, 0.9], n, 2.0)
    assert found == spread_in_block(floored, n, np.full(5, 1.0) * [0.8, 1, 1.1, 1, 0.9], n, 2.0)
    with pytest.raises(QuestionError, match="resolution"):
        spread_in_block(s, n, s + 1, n, 0.0)


def test_blocks_with_one_bore_have_no_spread_and_are_left_out():
    s, n = np.array([np.nan, 1.0, 1.1, 1.3]), np.array([1, 8, 8, 8])
    assert spread_in_block(s, n, [1.0, 2.0, 1.5], [8, 8, 8], 0.0).blocks == (3, 3)


def test_p_values_are_corrected_as_the_library_does():
    p = [0.01, 0.04, 0.03, 0.5, 0.005]
    assert holm(p) == pytest.approx(multipletests(p, method="holm")[1])


def test_a_missing_p_value_does_not_count_in_the_correction():
    corrected = holm([0.02, np.nan, 0.03])
    assert np.isnan(corrected[1])
    assert corrected[[0, 2]] == pytest.approx([0.04, 0.04])


def test_words_follow_the_interval_after_the_correction():
    assert words(compared(0.6, 0.4, 0.9, 0.02)) == "more even"
    assert words(compared(1.7, 1.1, 2.5, 0.02)) == "less even"
    assert words(compared(1.0, 0.85, 1.2, 0.9)) == "the same"
    assert words(compared(1.7, 1.1, 2.5, 0.02), 0.2).startswith("cannot tell from 9 blocks")
    assert words(compared(1.0, 0.7, 1.2, 0.9)).startswith("cannot tell from 9 blocks")
    assert words(compared(1.0, 0.7, None, 0.9)) == "cannot tell from 9 blocks"


def test_under_five_blocks_there_are_no_words():
    assert words(compared(0.2, 0.1, 0.4, 0.0001, blocks=(4, 30))) is None


def test_what_cannot_be_told_says_what_so_many_blocks_could_have_shown():
    assert "factor of 2" in words(compared(1.0, 0.5, 2.0, 0.9))


def test_one_block_is_refused_with_the_cure():
    with pytest.raises(TooLittleData, match="widen the dates"):
        level([1.0], [1.0, 2.0])
    with pytest.raises(TooLittleData, match="widen the dates"):
        spread_in_block([1.0], [8], [1.0, 2.0], [8, 8], 0.1)


def test_block_to_block_against_a_month_without_any_spread_has_no_ratio_and_no_warning():
    found = block_to_block([1.0, 2.0, 4.0, 8.0], [3.0, 3.0, 3.0])
    assert found.ratio is None
    assert (found.interval.lower, found.interval.upper) == (0.0, None)


def test_a_change_that_only_the_correction_takes_back_is_not_called_too_small_to_see():
    found = spread_in_block([3.0, 3.3, 2.7, 3.1, 2.9], [6] * 5, [1.0, 1.4, 0.8, 1.2, 0.7], [6] * 5, 0.0)
    assert found.p < 0.05
    assert words(found, found.p) == "less even"
    assert words(found, 0.2) == "cannot tell from 5 blocks: among so many comparisons chance shows as much"
