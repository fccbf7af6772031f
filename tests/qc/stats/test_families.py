"""Families against scipy's own distributions."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from qc.errors import QuestionError
from qc.stats.families import FAMILIES, family, folded_quantile

ratios = st.floats(0.0, 20.0)
scales = st.floats(0.01, 100.0)


def members(name, location, scale):
    return {
        "normal": stats.norm(location, scale),
        "lognormal": stats.lognorm(scale, scale=np.exp(location)),
        "folded_normal": stats.foldnorm(abs(location) / scale, scale=scale),
    }[name]


@pytest.mark.parametrize("name", FAMILIES)
@pytest.mark.parametrize(("location", "scale"), [(0.0, 1.0), (1.3, 0.4), (2.0, 1.7)])
def test_quantiles_and_shares_agree_with_the_reference_library(name, location, scale):
    ours, theirs = family(name), members(name, location, scale)
    for z in (-3.0, -1.0, 0.0, 2.0, 3.0):
        x = theirs.ppf(stats.norm.cdf(z))
        assert ours.at(z, location, scale) == pytest.approx(x, rel=1e-9)
        assert ours.cdf(x, location, scale) == pytest.approx(theirs.cdf(x), rel=1e-9)
        assert ours.above(x, location, scale) == pytest.approx(theirs.sf(x), rel=1e-9)
        reach = abs(x - theirs.ppf(0.5))
        assert ours.reach(z, location, scale) == pytest.approx(reach, rel=1e-9, abs=1e-12)


@settings(max_examples=40, deadline=None)
@given(ratios, scales)
def test_moments_of_a_folded_normal_give_it_back(ratio, scale):
    theirs = stats.foldnorm(ratio, scale=scale)
    location, found = family("folded_normal").parameters(theirs.mean(), theirs.std())
    # Near the half normal the moments are flat in the location: only its effect can be had back.
    assert found == pytest.approx(scale, rel=1e-6)
    assert location == pytest.approx(ratio * scale, abs=2e-3 * scale)
    if ratio > 0.1:
        assert location == pytest.approx(ratio * scale, rel=1e-6)


def test_a_spread_wider_than_a_half_normal_has_becomes_the_half_normal():
    location, scale = family("folded_normal").parameters(1.0, 2.0)
    assert (location, scale) == (0.0, pytest.approx(np.sqrt(5.0)))


@settings(max_examples=40, deadline=None)
@given(st.sampled_from([0.00135, 0.1, 0.5, 0.95, 0.99865]), ratios)
def test_half_width_about_nought_agrees_with_the_reference_library(content, ratio):
    assert folded_quantile(content, ratio) == pytest.approx(stats.foldnorm.ppf(content, ratio), rel=1e-8)


def test_values_at_and_below_nought_belong_where_they_should():
    for name, at_nought, below in (
        ("normal", True, True),
        ("lognormal", False, False),
        ("folded_normal", True, False),
    ):
        assert family(name).holds(np.array([1.0, 0.0])) is at_nought
        assert family(name).holds(np.array([1.0, -0.1])) is below
    for name in ("lognormal", "folded_normal"):
        assert family(name).cdf(-1.0, 0.5, 1.0) == 0
        assert family(name).above(-1.0, 0.5, 1.0) == 1


def test_an_unknown_family_is_refused_with_the_known_ones():
    with pytest.raises(QuestionError, match="lognormal"):
        family("gamma")
