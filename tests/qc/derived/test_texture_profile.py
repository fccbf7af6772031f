"""Profiles to figures: against profiles whose figures have a closed form, and what cannot be judged."""

import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qc.derived import material_ratio, profile_filter, texture_acceptance, texture_heights
from qc.derived.texture_profile import figures
from qc.errors import TooLittleData
from tests.generate import traces

KEYS = ("ra", "rz", "rk", "rpk", "rvk", "mr1", "mr2", "vo")


@pytest.mark.parametrize("core_filter", ["iso13565-1", "iso16610-31"])
@pytest.mark.parametrize("seed", range(4))
def test_a_profile_with_a_known_curve_gives_the_figures_of_its_closed_form(seed, core_filter):
    draw = random.Random(seed)
    curve = traces.curve(draw)
    z = traces.heights(curve, 9600, draw)
    found = figures(z, traces.SPACING, traces.CUTOFF, traces.SHORT, core_filter)
    for key, expected in curve.figures().items():
        assert getattr(found, key) == pytest.approx(expected, rel=traces.WITHIN[key]), key
    assert found.points == 8000  # five sampling lengths of 0.8 mm at 0.5 um
    assert found.method == core_filter


def test_a_tilt_and_an_offset_change_no_figure():
    draw = random.Random(8)
    z = np.array(traces.heights(traces.curve(draw), 9600, draw))
    plain = figures(z, 0.5, 800, 2.5)
    moved = figures(z + 40 + 0.01 * np.arange(z.size), 0.5, 800, 2.5)
    assert [getattr(moved, k) for k in KEYS] == pytest.approx([getattr(plain, k) for k in KEYS], rel=1e-6)


def test_heights_twice_as_large_give_lengths_twice_as_large_and_the_same_ratios():
    draw = random.Random(9)
    z = np.array(traces.heights(traces.curve(draw), 9600, draw))
    once, twice = figures(z, 0.5, 800), figures(2 * z, 0.5, 800)
    for key in KEYS:
        factor = 1 if key.startswith("mr") else 2
        assert getattr(twice, key) == pytest.approx(factor * getattr(once, key), rel=1e-7), key


def test_a_lone_deep_valley_pulls_the_plain_line_down_and_the_others_hardly():
    z = np.zeros(4000)
    z[1900:2100] = -10.0
    beside = slice(1700, 1900)  # where the plain line is pulled down and the surface is flat
    plain = -profile_filter.gaussian(z, 0.5, 800)[beside].mean()
    stages = -profile_filter.two_stage(z, 0.5, 800)[beside].mean()
    robust = -profile_filter.robust_gaussian(z, 0.5, 800)[beside].mean()
    assert plain > 1.0
    assert 0 < stages < plain / 3
    assert abs(robust) < 1e-6


def test_the_robust_line_follows_a_parabola_to_its_ends():
    x = np.linspace(-1, 1, 3000)
    z = 5 * x**2 + 0.3 * x
    line = profile_filter.robust_gaussian(z + np.where(np.arange(3000) % 97 == 0, -3.0, 0.0), 0.5, 400)
    assert np.abs(line - z).max() < 1e-4


@pytest.mark.parametrize(
    ("points", "spacing", "short", "words"),
    [
        (9590, 0.5, 2.5, r"4\.8 mm \(5 sampling lengths"),
        (9600, 0.6, 2.5, r"short cut-off of 2\.5 um: measure with 0\.5 um or closer"),
        (9600, 9.0, 0.0, r"too far for a cut-off of 0\.8 mm"),
    ],
)
def test_what_cannot_be_judged_is_refused_with_what_is_needed(points, spacing, short, words):
    with pytest.raises(TooLittleData, match=words):
        figures(np.zeros(points), spacing, 800, short)


@pytest.mark.parametrize("points", [9599, 9600, 9601])
def test_a_trace_of_six_cut_offs_is_just_long_enough(points):
    z = np.sin(np.arange(points) / 7.0)
    assert figures(z, 0.5, 800).points == 8000


def test_only_the_middle_of_a_long_trace_is_judged():
    draw = random.Random(10)
    z = np.array(traces.heights(traces.curve(draw), 9600, draw))
    long = np.concatenate((np.full(30_000, z[0]), z, np.full(30_000, z[-1])))
    long[:20_000] += 50 * np.sin(np.arange(20_000))
    long[-20_000:] += 50 * np.sin(np.arange(20_000))
    assert figures(long, 0.5, 800).ra == pytest.approx(figures(z, 0.5, 800).ra, rel=0.02)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(-50, 50), min_size=10, max_size=300))
def test_the_core_of_any_profile_keeps_its_order(heights):
    core = material_ratio.core(heights)
    assert 0 <= core.mr1 <= core.mr2 <= 100
    assert min(core.rk, core.rpk, core.rvk) >= -1e-9
    whole = texture_heights.rt(heights)
    # triangles of equal area stand on what sticks out, which is no higher than the profile
    assert core.rpk <= 2 * whole + 1e-9
    assert core.rvk <= 2 * whole + 1e-9


def test_heights_turned_upside_down_exchange_peaks_and_valleys():
    heights = np.random.default_rng(3).normal(size=4001) ** 3
    one, other = material_ratio.core(heights), material_ratio.core(-heights)
    assert one.rk == pytest.approx(other.rk, rel=1e-9)
    assert one.rpk == pytest.approx(other.rvk, rel=1e-6)
    assert one.mr1 == pytest.approx(100 - other.mr2, rel=1e-6)


def test_too_few_heights_are_refused():
    with pytest.raises(TooLittleData, match="at least 10 heights"):
        material_ratio.core(np.zeros(9))
    with pytest.raises(TooLittleData, match="at least 2 heights"):
        profile_filter.line_removed([1.0])
    with pytest.raises(TooLittleData, match="every sampling length"):
        texture_heights.rz([1.0, 2.0])
    with pytest.raises(TooLittleData, match="at least one value"):
        texture_acceptance.sixteen_percent([], 1.0)
