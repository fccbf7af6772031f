import math
from dataclasses import fields

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from qc.capability.nested import capability
from qc.errors import QuestionError

DRAWS = 20_000


def blocks_of(rng, m=24, n=8, between=1.5, within=2.0, mean=1.0):
    values = mean + rng.normal(0, between, (m, 1)) + rng.normal(0, within, (m, n))
    return values.ravel(), np.arange(m + 1) * n, np.ones(m, dtype=bool)


def answer(values, blocks, joined, **changes):
    asked = {
        "lower": -10.0,
        "upper": 10.0,
        "bounded": "both",
        "family": "normal",
        "condition": "steady",
        "draws": DRAWS,
    }
    return capability(values, blocks, joined, **(asked | changes))


@pytest.fixture
def steady():
    return blocks_of(np.random.default_rng(3))


def test_printed_figures_are_what_a_calculator_gives(steady):
    values = steady[0]
    found = answer(*steady)
    mean, spread = values.mean(), values.std(ddof=1)
    assert found.mean == pytest.approx(mean)
    assert found.spread_all == pytest.approx(spread)
    assert found.pp == pytest.approx(20 / (6 * spread))
    assert found.ppk == pytest.approx((10 - mean) / (3 * spread))
    assert found.outside.predicted.fraction == pytest.approx(
        stats.norm.sf(10, mean, spread) + stats.norm.cdf(-10, mean, spread)
    )
    assert (found.bores, found.blocks) == (192, 24)


def test_blocks_not_bores_make_the_interval():
    rng = np.random.default_rng(4)
    few = answer(*blocks_of(rng, m=6, n=40, between=3.0, within=0.5)).ppk_interval
    # The same number of bores, each a block of its own: what readings taken for the sample would give.
    many = answer(*blocks_of(rng, m=240, n=1, between=3.0, within=0.5)).ppk_interval
    assert few.upper - few.lower > 4 * (many.upper - many.lower)


def test_with_one_bore_a_block_the_interval_of_pp_is_the_classical_one():
    values, blocks, joined = blocks_of(np.random.default_rng(5), m=30, n=1)
    found = answer(values, blocks, joined, draws=100_000)
    exact = found.pp * np.sqrt(stats.chi2.ppf([0.025, 0.975], 29) / 29)
    assert (found.pp_interval.lower, found.pp_interval.upper) == pytest.approx(tuple(exact), rel=0.006)
    assert found.spread_in_block is None
    assert found.not_given["spread_in_block"] == "one bore a block: a spread within a block needs two"


def test_the_interval_of_ppk_is_the_smaller_side_at_each_end(steady):
    both = answer(*steady)
    upper = answer(*steady, bounded="above")
    lower = answer(*steady, bounded="below")
    assert both.ppk == min(upper.ppk, lower.ppk)
    for end in ("lower", "upper"):
        assert getattr(both.ppk_interval, end) == min(
            getattr(upper.ppk_interval, end), getattr(lower.ppk_interval, end)
        )


def test_a_lower_limit_of_what_is_bounded_above_is_passed_over():
    values, blocks, joined = blocks_of(np.random.default_rng(6), mean=9.0, within=0.5, between=0.3)
    nought = answer(values, blocks, joined, lower=0.0, upper=12.0, bounded="above")
    none = answer(values, blocks, joined, lower=None, upper=12.0, bounded="above")
    assert nought == none
    assert nought.pp is None
    assert nought.not_given["pp"] == "one limit: Pp needs two"
    assert nought.tolerance_interval.lower is None
    assert nought.tolerance_interval.upper > 9


def test_cp_is_given_only_while_the_series_is_steady(steady):
    assert answer(*steady).cpk is not None
    for condition, words in (
        ("drifting", "the series is drifting"),
        ("stepped", "the series has stepped"),
        (None, "whether the series is steady was not asked"),
    ):
        found = answer(*steady, condition=condition)
        assert found.cp is found.cpk is found.cp_interval is found.cpk_interval is None
        assert found.not_given["cp"] == found.not_given["cpk_interval"] == words
        assert found.ppk is not None


def test_cp_needs_twenty_blocks():
    found = answer(*blocks_of(np.random.default_rng(7), m=12))
    assert found.not_given["cp"] == "12 blocks: Cp needs 20"
    assert found.cp is None
    assert found.pp_interval is not None


def test_cp_uses_the_short_term_spread_alone(steady):
    values, blocks, joined = steady
    found = answer(*steady)
    drifted = answer(values + np.repeat(np.linspace(-6, 6, 24), 8), blocks, joined)
    assert found.cp == pytest.approx(20 / (6 * found.spread_short))
    assert drifted.cp == pytest.approx(found.cp, rel=0.15)
    assert drifted.pp < 0.75 * found.pp


def test_lognormal_indices_are_those_of_its_quantiles(steady):
    values = np.exp(steady[0] / 10 - 1)
    found = answer(values, *steady[1:], lower=None, upper=1.0, bounded="above", family="lognormal")
    logs = np.log(values)
    theirs = stats.lognorm(logs.std(ddof=1), scale=np.exp(logs.mean()))
    middle, tail = theirs.ppf([0.5, stats.norm.cdf(3)])
    assert found.ppk == pytest.approx((1.0 - middle) / (tail - middle))
    assert found.outside.predicted.fraction == pytest.approx(theirs.sf(1.0))
    assert found.family.price_of_choice.family in ("normal", "folded_normal")
    assert found.ppk_interval.lower < found.ppk < found.ppk_interval.upper


def test_folded_normal_indices_are_those_of_its_quantiles(steady):
    values = np.abs(steady[0] + 3)
    found = answer(values, *steady[1:], lower=None, upper=14.0, bounded="above", family="folded_normal")
    mean, spread = values.mean(), values.std(ddof=1)

    def misfit(ratio):
        theirs = stats.foldnorm(ratio)
        return theirs.mean() / theirs.std() - mean / spread

    from scipy.optimize import brentq

    ratio = brentq(misfit, 0.2, 6)
    theirs = stats.foldnorm(ratio, scale=mean / stats.foldnorm(ratio).mean())
    middle, tail = theirs.ppf([0.5, stats.norm.cdf(3)])
    assert found.ppk == pytest.approx((14.0 - middle) / (tail - middle), rel=1e-8)
    assert found.outside.predicted.fraction == pytest.approx(theirs.sf(14.0), rel=1e-6)


def test_near_the_half_normal_the_interval_takes_in_the_half_normals_own_draws():
    rng = np.random.default_rng(8)
    values, blocks, joined = blocks_of(rng, mean=0.0, between=0.5, within=1.0)
    near = answer(
        np.abs(values), blocks, joined, lower=None, upper=5.0, bounded="above", family="folded_normal"
    )
    far = answer(
        np.abs(values + 9), blocks, joined, lower=None, upper=15.0, bounded="above", family="folded_normal"
    )
    assert near.methods["half_normal"] == "ruled in"
    assert far.methods["half_normal"] == "ruled out"
    as_normal = answer(values + 9, blocks, joined, lower=None, upper=15.0, bounded="above")
    assert far.ppk_interval.lower == pytest.approx(as_normal.ppk_interval.lower, rel=1e-6)


def test_a_tolerance_interval_between_two_limits_of_a_folded_normal_meets_the_normal_one_far_from_nought():
    values, blocks, joined = blocks_of(np.random.default_rng(9), mean=60.0)
    folded = answer(values, blocks, joined, lower=50.0, upper=70.0, family="folded_normal").tolerance_interval
    normal = answer(values, blocks, joined, lower=50.0, upper=70.0).tolerance_interval
    assert (folded.lower, folded.upper) == pytest.approx((normal.lower, normal.upper), rel=1e-9)


@pytest.mark.parametrize(
    ("values", "blocks", "changes", "key", "words"),
    [
        ([1.0, 2.0, 3.0], [0, 3], {}, "ppk", "one block: how blocks differ cannot be told from it"),
        ([1.0, 2.0], [0, 1, 2], {"lower": None, "upper": None}, "ppk", "no limits are in force"),
        ([5.0] * 4, [0, 2, 4], {}, "pp", "every bore reads the same"),
        ([], [0, 0], {}, "mean", "no bore is left in this row"),
        (
            [0.0, 1.0],
            [0, 1, 2],
            {"family": "lognormal"},
            "ppk",
            "takes values above 0, and the lowest bore reads 0",
        ),
        ([1.0, 2.0], [0, 1, 2], {}, "gauge_free", "no uncertainty of the gauge is known"),
        ([1.0, 2.0], [0, 1, 2], {"gauge_uncertainty": 3.0}, "gauge_free", "as large as the spread"),
    ],
)
def test_what_cannot_be_given_has_its_reason(values, blocks, changes, key, words):
    found = answer(np.array(values), blocks, np.ones(len(blocks) - 1, dtype=bool), **changes)
    assert getattr(found, key) is None
    assert words in found.not_given[key]


def numbers_of(thing):
    if isinstance(thing, float):
        yield thing
    elif hasattr(thing, "__dataclass_fields__"):
        for field in fields(thing):
            yield from numbers_of(getattr(thing, field.name))


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.lists(st.integers(-60, 60), max_size=4), min_size=1, max_size=6),
    st.sampled_from(["normal", "lognormal", "folded_normal"]),
    st.sampled_from(["both", "above", "below"]),
    st.booleans(),
)
def test_no_answer_holds_a_nan_or_a_null_without_its_reason(row, family, bounded, limited):
    values = np.array([value / 4 for block in row for value in block])
    blocks = np.cumsum([0, *map(len, row)])
    lower, upper = (-9.0, 11.0) if limited else (None, None)
    found = answer(
        values,
        blocks,
        np.ones(len(row), dtype=bool),
        family=family,
        bounded=bounded,
        lower=lower,
        upper=upper,
        draws=500,
    )
    assert not any(math.isnan(number) for number in numbers_of(found))
    for field in fields(found):
        if getattr(found, field.name) is None:
            assert len(found.not_given[field.name]) > 8
    for key in ("counted", "predicted"):
        if getattr(found.outside, key) is None:
            assert found.not_given[f"outside.{key}"]


def test_bores_on_the_limit_are_inside_and_blocks_make_the_interval_of_the_count():
    values = np.array([10.0, 10.1, 0.0, 0.0] + [0.0, 1.0] * 10)
    blocks = np.arange(0, values.size + 1, 2)
    found = answer(values, blocks, np.ones(blocks.size - 1, dtype=bool)).outside.counted
    assert (found.n, found.of, found.fraction) == (1, 24, 1 / 24)
    # Blocks differ far more than bores: 12 blocks, not 24 bores.
    worst = stats.binomtest(1, 24).proportion_ci(0.95, "exact").high
    assert found.interval.upper > worst


def test_bores_counted_elsewhere_are_taken_as_they_are(steady):
    assert answer(*steady, outside=7).outside.counted.n == 7


def test_the_gauges_variance_is_taken_out_beside_the_index(steady):
    found = answer(*steady, gauge_uncertainty=1.0)
    left = math.sqrt(found.spread_all**2 - 1)
    assert found.gauge_free.spread_all == pytest.approx(left)
    assert found.gauge_free.pp == pytest.approx(20 / (6 * left))
    assert found.gauge_free.ppk == pytest.approx(found.ppk * found.spread_all / left)


def test_a_wrong_family_is_warned_of_and_priced():
    rng = np.random.default_rng(10)
    values = np.exp(rng.normal(0, 0.8, 160))
    blocks, joined = np.arange(0, 161, 8), np.ones(20, dtype=bool)
    wrong = answer(values, blocks, joined, lower=None, upper=8.0, bounded="above")
    right = answer(values, blocks, joined, lower=None, upper=8.0, bounded="above", family="lognormal")
    assert "do not look normal" in wrong.family.fit_warning
    assert right.family.fit_warning is None
    assert wrong.family.price_of_choice.family == "lognormal"
    assert wrong.family.price_of_choice.ppk == pytest.approx(right.ppk)


def test_a_deviation_from_a_target_has_no_family_that_begins_at_nought(steady):
    found = answer(*steady)
    # so the price is that of heavier tails: the logistic of the same mean and spread
    values = steady[0]
    tail = stats.logistic(values.mean(), values.std(ddof=1) * math.sqrt(3) / math.pi)
    high, low = tail.ppf(stats.norm.cdf(3)), tail.ppf(stats.norm.cdf(-3))
    worst = min((10 - values.mean()) / (high - values.mean()), (values.mean() + 10) / (values.mean() - low))
    assert found.family.price_of_choice.family == "logistic"
    assert found.family.price_of_choice.ppk == pytest.approx(worst)


def test_the_same_question_gives_the_same_digits_and_another_seed_others(steady):
    one, two, other = answer(*steady), answer(*steady), answer(*steady, seed=2)
    assert one == two
    assert other.ppk_interval != one.ppk_interval
    assert other.ppk_interval.lower == pytest.approx(one.ppk_interval.lower, rel=0.01)
    assert one.methods["draws"] == DRAWS


@settings(max_examples=15, deadline=None)
@given(st.sampled_from([0.5, 1024.0, 0.0078125]))
def test_another_unit_changes_no_index(factor):
    values, blocks, joined = blocks_of(np.random.default_rng(12))
    plain = answer(values, blocks, joined)
    scaled = answer(values * factor, blocks, joined, lower=-10 * factor, upper=10 * factor)
    for key in ("pp", "ppk", "pp_interval", "ppk_interval", "cp", "cpk", "cp_interval", "cpk_interval"):
        assert getattr(plain, key) == getattr(scaled, key)
    assert scaled.tolerance_interval.upper == pytest.approx(
        plain.tolerance_interval.upper * factor, rel=1e-12
    )


def test_an_unknown_family_is_refused(steady):
    with pytest.raises(QuestionError, match="take one of"):
        answer(*steady, family="triangular")
