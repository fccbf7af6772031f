"""A part of the kept simulation of human slips, and what its full result must say."""

import json
from math import sqrt

import pytest

from tests.simulations import slips as simulation

pytestmark = pytest.mark.simulation

KEPT = json.loads(simulation.RESULT.read_text(encoding="utf-8"))
FIRST = KEPT["first"]


@pytest.mark.parametrize("run", sorted(KEPT))
def test_a_kept_result_has_every_kind_and_enough_of_each(run):
    kept = KEPT[run]
    assert [c["kind"] for c in kept["kinds"]] == list(range(1, 21))
    assert kept["detectable"] >= 1000
    assert min(c["detectable"] for c in kept["kinds"]) >= 20
    assert kept["clean"]["cells"] >= 50_000
    assert kept["date"]
    assert kept["commit"]


def test_what_the_kept_result_says_is_what_its_cells_add_up_to():
    assert FIRST["found"] == sum(c["found"] for c in FIRST["kinds"])
    assert FIRST["rate"] == pytest.approx(FIRST["found"] / FIRST["detectable"])
    assert len({run["seed"] for run in KEPT.values()}) == len(KEPT)


def test_slips_are_found_on_the_right_cells():
    # fifty of a kind leave 3 points open either way: unseen seeds are held to the bounds together
    for runs in ([FIRST], list(KEPT.values())):
        assert sum(r["found"] for r in runs) >= 0.97 * sum(r["detectable"] for r in runs)
        for kinds in zip(*(r["kinds"] for r in runs), strict=True):
            found, of = (sum(k[n] for k in kinds) for n in ("found", "detectable"))
            assert found >= 0.85 * of, kinds[0]["name"]


def test_clean_cells_are_left_alone():
    for runs in ([FIRST], list(KEPT.values())):
        wrong, cells = (sum(r["clean"][n] for r in runs) for n in ("wrong", "cells"))
        assert 1000 * wrong < 2 * cells


def test_a_part_run_now_agrees_with_the_kept_result():
    now = simulation.simulated(seed=5, detectable=1, builds=14)
    young = [c["in_a_young_store"] for c in FIRST["kinds"]]
    rate = sum(found for found, _ in young) / sum(of for _, of in young)
    error = sqrt(rate * (1 - rate) / now["detectable"])
    # the part's shop is younger still: a quarter of what it has never seen may pass
    assert now["rate"] >= rate - 0.25 - 3 * error
    wrong = FIRST["clean_at_first"]["per_1000"] * now["clean"]["cells"] / 1000
    # a false alarm may name a whole table
    assert now["clean"]["wrong"] <= wrong + 3 * sqrt(wrong) + 24
