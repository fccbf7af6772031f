"""Compiled kernels against numpy: numpy's very digits, and nothing else changes."""

import os
import subprocess
import sys
from dataclasses import fields
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qc.charts import cusum, ewma, rules
from qc.stats import fast, segments
from qc.stats.spreads import Spreads, spreads

pytest.importorskip("numba", reason="the extra fast (numba) is not installed", exc_type=ImportError)

ROOT = Path(__file__).parents[3]


def both(monkeypatch, work):
    """The answer of numpy and that of the compiled kernels."""
    monkeypatch.setenv("QC_FAST", "0")
    plain = work()
    monkeypatch.setenv("QC_FAST", "1")
    return plain, work()


def shop(seed, longest_row, longest_block, step=None, scale=1.0, level=0.0):
    """A column of bores with its blocks, rows and joints; rows and blocks may be empty."""
    rng = np.random.default_rng(seed)
    rows = np.append(0, np.cumsum(rng.integers(0, longest_row, 6)))
    blocks = np.append(0, np.cumsum(rng.integers(0, longest_block, rows[-1])))
    values = level + rng.normal(0, scale, blocks[-1])
    if step is not None:
        values = np.round(values / step) * step
    return values, blocks, rows, rng.random(rows[-1]) < 0.8


SHOPS = pytest.mark.parametrize(
    "asked",
    [
        {"seed": 1, "longest_row": 4, "longest_block": 4},
        {"seed": 2, "longest_row": 40, "longest_block": 12, "step": 0.1},
        {"seed": 3, "longest_row": 300, "longest_block": 40, "step": 0.5, "scale": 3.0},
        {"seed": 4, "longest_row": 30, "longest_block": 700, "level": 86_000.0},
        {"seed": 5, "longest_row": 3, "longest_block": 9000, "scale": 1e-3, "level": -1e6},
    ],
    ids=["nearly nothing", "blocks of bores", "many blocks", "large blocks", "large values"],
)


@SHOPS
def test_every_spread_has_numpys_very_digits(monkeypatch, asked):
    plain, compiled = both(monkeypatch, lambda: spreads(*shop(**asked)))
    for field in fields(Spreads):
        np.testing.assert_array_equal(getattr(compiled, field.name), getattr(plain, field.name), field.name)


@SHOPS
@pytest.mark.parametrize(
    "figure",
    [
        segments.sums,
        segments.means,
        segments.standard_deviations,
        segments.lowest,
        segments.highest,
        segments.medians,
    ],
)
def test_every_figure_of_segments_has_numpys_very_digits(monkeypatch, asked, figure):
    values, blocks, rows, _ = shop(**asked)
    for offsets in (blocks, blocks[rows]):
        plain, compiled = both(monkeypatch, lambda offsets=offsets: figure(values, offsets))
        np.testing.assert_array_equal(compiled, plain)


@SHOPS
def test_quantiles_found_by_counting_are_those_of_sorting(monkeypatch, asked):
    values, blocks, rows, _ = shop(**asked)
    p = (0.5, 0.0, 0.00135, 0.3, 0.99865, 1.0)
    for offsets in (blocks, blocks[rows]):
        plain, compiled = both(monkeypatch, lambda offsets=offsets: segments.quantiles(values, offsets, p))
        np.testing.assert_array_equal(compiled, plain)


@settings(deadline=None, max_examples=60)
@given(
    st.lists(st.floats(-1e300, 1e300) | st.sampled_from([0.0, -0.0, 1e-320, 1.0]), min_size=1, max_size=60),
    st.floats(0, 1),
)
def test_quantiles_are_those_of_sorting_whatever_the_values(values, p):
    column, offsets = np.array(values * 5), [0, 5 * len(values)]
    with pytest.MonkeyPatch.context() as patch, np.errstate(over="ignore", invalid="ignore"):
        plain, compiled = both(patch, lambda: segments.quantiles(column, offsets, p))
    np.testing.assert_array_equal(compiled, plain)


def test_quantiles_are_those_of_sorting_where_nearly_all_values_lie_in_one_range(monkeypatch):
    rng = np.random.default_rng(13)
    for n in range(26, 120):
        values = np.append(rng.normal(size=n - 1), 1e9)
        p = np.arange(1, n + 1) / (n + 1)
        plain, compiled = both(monkeypatch, lambda v=values, p=p: segments.quantiles(v, [0, v.size], p))
        np.testing.assert_array_equal(compiled, plain)


def test_a_value_that_is_no_number_or_without_end_is_told_as_numpy_tells_it(monkeypatch):
    values = np.random.default_rng(6).normal(size=120)
    values[[7, 50]] = np.nan, np.inf
    offsets = [0, 40, 80, 120]
    for figure in (segments.lowest, segments.highest, segments.medians):
        with np.errstate(invalid="ignore"):
            plain, compiled = both(monkeypatch, lambda figure=figure: figure(values, offsets))
        np.testing.assert_array_equal(compiled, plain)


def test_threads_change_no_figure(monkeypatch):
    values, blocks, rows, joined = shop(7, 3000, 90)
    monkeypatch.setenv("QC_FAST", "1")
    found = []
    for threads in ("1", "3"):
        monkeypatch.setenv("QC_FAST_THREADS", threads)
        found.append((spreads(values, blocks, rows, joined), segments.medians(values, blocks[rows])))
    for field in fields(Spreads):
        np.testing.assert_array_equal(getattr(found[0][0], field.name), getattr(found[1][0], field.name))
    np.testing.assert_array_equal(found[0][1], found[1][1])


def test_a_series_alone_is_the_same_as_in_a_batch(monkeypatch):
    values, blocks, rows, joined = shop(8, 60, 12, step=0.1)
    monkeypatch.setenv("QC_FAST", "1")
    batch = spreads(values, blocks, rows, joined)
    medians = segments.medians(values, blocks[rows])
    for i, (begin, end) in enumerate(zip(rows[:-1], rows[1:], strict=True)):
        own = values[blocks[begin] : blocks[end]]
        alone = spreads(own, blocks[begin : end + 1] - blocks[begin], [0, end - begin], joined[begin:end])
        for name in ("mean", "centre", "spread_all", "spread_in_block", "spread_short", "ssb", "sse"):
            np.testing.assert_array_equal(getattr(alone, name), getattr(batch, name)[i : i + 1], name)
        np.testing.assert_array_equal(segments.medians(own, [0, own.size]), medians[i : i + 1])


def test_another_unit_gives_the_same_figures_in_it(monkeypatch):
    # a power of two changes no digit of a float, so inch against inch by 1/16 must agree to the last one
    values, blocks, rows, joined = shop(9, 60, 12, step=0.1)
    monkeypatch.setenv("QC_FAST", "1")
    um, other = spreads(values, blocks, rows, joined), spreads(values * 16, blocks, rows, joined)
    for name in ("mean", "centre", "spread_all", "spread_in_block", "spread_short", "spread_between_blocks"):
        np.testing.assert_array_equal(getattr(um, name) * 16, getattr(other, name), name)


def test_the_order_of_series_and_of_bores_in_a_block_changes_nothing_that_matters(monkeypatch):
    rng = np.random.default_rng(10)
    values = np.round(rng.normal(size=(5, 40, 8)), 1)
    blocks, rows, joined = np.arange(201) * 8, np.arange(6) * 40, np.ones(200, dtype=bool)
    monkeypatch.setenv("QC_FAST", "1")
    plain = spreads(values.ravel(), blocks, rows, joined)
    turned = spreads(values[::-1].ravel(), blocks, rows, joined)
    np.testing.assert_array_equal(turned.spread_all, plain.spread_all[::-1])
    shuffled = spreads(rng.permuted(values, axis=2).ravel(), blocks, rows, joined)
    for name in ("spread_all", "spread_in_block", "spread_between_blocks", "mean"):
        np.testing.assert_allclose(getattr(shuffled, name), getattr(plain, name), rtol=1e-12, atol=1e-14)
    for p in (0.01, 0.5):
        np.testing.assert_array_equal(
            segments.quantiles(rng.permuted(values, axis=2).ravel(), rows * 8, p),
            segments.quantiles(values.ravel(), rows * 8, p),
        )


def test_averages_and_sums_have_numpys_very_digits(monkeypatch):
    rng = np.random.default_rng(11)
    x = rng.normal(size=(30, 200))
    x[rng.random(x.shape) < 0.1] = np.nan
    start = rng.normal(size=30)
    for work in (
        lambda: ewma.averages(x, 0.15, start),
        lambda: ewma.averages(x[3], 1.0, 0.2),
        lambda: np.stack(cusum.sums(x, 0.5)),
        lambda: np.stack(cusum.sums(x[:, ::2], 0.25, start=2.4)),
    ):
        plain, compiled = both(monkeypatch, work)
        np.testing.assert_array_equal(compiled, plain)


@settings(deadline=None, max_examples=100)
@given(st.lists(st.tuples(st.integers(-1, 1), st.integers(1, 17)), max_size=12), st.integers(0, 3))
def test_run_signals_are_those_of_whole_numbers(steps, stretches):
    whole = np.cumsum([step for step, times in steps for _ in range(times)], dtype=np.int64) - 2
    ticks = whole.tolist()
    breaks = np.sort(np.random.default_rng(len(ticks)).integers(0, stretches + 1, whole.size))
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("QC_FAST", "1")
        assert rules.lasting_shift(whole, 0, breaks).tolist() == counted(ticks, breaks, one_side, 8)
        assert rules.slow_walk(whole, breaks).tolist() == counted(ticks, breaks, one_way, 6)
        near = rules.too_quiet(whole * rules.PARTS, 0, np.full(whole.size, 2 * rules.TICK), breaks)
        assert near.tolist() == counted(ticks, breaks, within, 15)


def counted(ticks, breaks, holds, needed):
    """Whether the last `needed` values all stand in one stretch and hold together; by plain whole numbers."""
    out = []
    for end in range(1, len(ticks) + 1):
        last = ticks[max(0, end - needed) : end]
        one_stretch = len(set(breaks[max(0, end - needed) : end].tolist())) == 1
        out.append(len(last) == needed and one_stretch and holds(last))
    return out


def one_side(last):
    return all(v > 0 for v in last) or all(v < 0 for v in last)


def one_way(last):
    steps = [b - a for a, b in zip(last, last[1:], strict=False)]
    return all(s > 0 for s in steps) or all(s < 0 for s in steps)


def within(last):
    return all(abs(v) < 2 for v in last)


def test_whole_parts_are_those_of_numpy_and_refuse_the_same(monkeypatch):
    x = np.random.default_rng(12).normal(0, 300, 2000)
    plain, compiled = both(monkeypatch, lambda: rules.whole(x))
    np.testing.assert_array_equal(compiled, plain)
    for bad in (np.nan, 2000.0, -np.inf):
        with pytest.raises(rules.QuestionError, match="below 2,000"):
            rules.whole([0.0, bad])


def test_few_values_and_a_switch_leave_numpy_at_work(monkeypatch):
    monkeypatch.delenv("QC_FAST", raising=False)
    assert fast.compiled("qc.stats.compiled", fast.WORTH_COMPILING - 1) is None
    assert fast.compiled("qc.stats.compiled", fast.WORTH_COMPILING) is not None
    monkeypatch.setenv("QC_FAST", "0")
    assert fast.compiled("qc.stats.compiled", 10**9) is None


def run(code, **env):
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, encoding="utf-8", check=True,
        env={**os.environ, "QC_FAST": "1", **env},
    )  # fmt: skip
    return done.stdout.strip()


def test_without_numba_numpy_works_on():
    code = (
        "import sys; sys.modules['numba'] = None\n"
        "from qc.stats import segments; print(segments.means([1.0, 2.0, 6.0], [0, 3])[0])"
    )
    assert run(code) == "3.0"


@pytest.mark.parametrize(("kept", "compiled"), [("UserProvided", True), ("none", False)])
def test_where_no_folder_can_be_written_kernels_are_kept_in_one_of_their_own_or_numpy_works(kept, compiled):
    code = (
        "from numba.core import caching\n"
        "places = caching.FunctionCache._impl_class\n"
        f"places._locator_classes = [c for c in places._locator_classes if {kept!r} in c.__name__]\n"
        "from qc.stats import fast, segments\n"
        "print(segments.means([1.0, 2.0, 6.0], [0, 3])[0], fast.compiled('qc.stats.compiled', 9) is not None)"
    )
    assert run(code, NUMBA_CACHE_DIR="") == f"3.0 {compiled}"
