"""A hole copied onto another of its table, and tables of honest holes that agree by chance."""

from math import nan

import numpy as np
import pytest
from scipy import stats

from qc.ingest.plausible import twins
from qc.ingest.plausible.fit import agree
from tests.generate import small_shop as small

CHECKS = (twins,)
PLACES = [(station, clock, 1) for station in (12.0, 60.0, 108.0) for clock in (0.0, 90.0)]


def table(sizes):
    """A table of holes from an array of holes by places, in whole steps."""
    return {
        f"cyl-{i + 1}": dict(zip(PLACES, map(float, hole), strict=True)) for i, hole in enumerate(sizes)
    }


def told(here, before=(), spread=nan):
    return twins.unlikely(here, twins.same(here), before, 1.0, spread)


def blocks(seed, n, hole, form, reading, holes=8):
    """Blocks of holes: the hole's own level, its form along the depth, and each reading, in steps of 1."""
    rng = np.random.default_rng(seed)
    depth = np.array([-1, -1, 0, 0, 1, 1])
    sizes = rng.normal(0, 3, (n, 1, 1)) + rng.normal(0, hole, (n, holes, 1))
    sizes = sizes + rng.normal(0, form, (n, holes, 1)) * depth + rng.normal(0, reading, (n, holes, 6))
    return np.round(sizes)


def test_a_hole_copied_onto_its_neighbour_is_found_in_the_first_table_of_a_shop():
    (block,) = blocks(1, 1, 3.0, 2.0, 1.0)
    assert told(table(block)) == []
    block[3] = block[2]
    assert told(table(block)) == [["cyl-3", "cyl-4"]]
    block[4] = block[2]
    assert told(table(block)) == [["cyl-3", "cyl-4", "cyl-5"]]


def test_holes_that_often_agree_are_not_doubted():
    (block,) = blocks(2, 1, 0.4, 0.2, 0.3)  # a gauge too coarse for the process
    block[3] = block[2]
    assert told(table(block)) == []


def test_two_figures_agree_as_often_as_the_density_of_their_difference_says():
    # scipy: two values of spread 3 differ with spread 3 sqrt(2); a step of 0.5
    assert agree(0.5, 3.0, 0.0) == pytest.approx(0.5 * stats.norm(0, 3 * 2**0.5).pdf(0))
    assert agree(0.5, nan, 0.9) == agree(0.5, 0.0, 0.9) == 0.9


def test_two_holes_alone_tell_nothing():
    (block,) = blocks(1, 1, 3.0, 2.0, 1.0, holes=2)
    block[1] = block[0]
    assert told(table(block)) == []


def test_a_hole_with_one_other_figure_is_not_the_same():
    (block,) = blocks(1, 1, 3.0, 2.0, 1.0)
    block[3] = block[2]
    block[3][5] += 1
    assert told(table(block)) == []


# 800 blocks of 8 holes each, 38,400 cells a row; fewer than 1 in 10,000 of all of them may be doubted
def test_honest_tables_are_doubted_in_fewer_than_1_of_10000_cells():
    doubted = met = 0
    for spreads in ((3, 2, 1), (2, 0.3, 0.3), (0.3, 0.2, 0.4), (0, 0, 0.3)):
        some = [table(b) for b in blocks(5, 800, *spreads)]
        for i, one in enumerate(some):
            if twins.same(one):
                met += 1
                doubted += sum(6 * (len(group) - 1) for group in told(one, some[max(0, i - 12) : i]))
    assert met > 500, "holes that agree are common where the gauge is coarse"
    assert doubted < 4 * 800 * 48 / 10_000


def test_the_copy_is_asked_about_in_a_sheet_and_its_original_is_not(grow):
    (sizes,) = blocks(1, 1, 6.0, 4.0, 2.0, holes=4)
    rows = [r for r in small.bores(0) if r["state"] == "plate_on"]
    for r, off in zip(rows, sizes.ravel(), strict=True):
        r["value"] = f"{86 + off / 1000:.3f}"
    first = [r["value"] for r in rows if r["feature"] == "cyl-2"]
    copied = [r | {"build": "N9"} for r in rows]
    for r, value in zip([r for r in copied if r["feature"] == "cyl-3"], first, strict=True):
        r["value"] = value
    _, findings = grow({"clean.csv": rows, "copied.csv": copied})
    (found,) = [f for f in findings if f["code"] == "hole_copied"]
    assert found["severity"] == "ask"
    assert [c["text"] for c in found["cells"]] == first
    assert found["saw"].startswith("Bore 3 of N9 (rows 14-19) reads what cyl-2 reads")
