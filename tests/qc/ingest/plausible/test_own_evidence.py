"""What a build says against itself: bores in both states, bores and pistons, one gauge in several tables."""

import math
import random
import shutil
from types import SimpleNamespace

import numpy as np
import pytest
from scipy import stats

from qc.ingest.plausible import elsewhere, levels, plate_history, plates, states, stock, zeroed
from qc.ingest.plausible.past import Memory, Past, PastReading
from qc.ingest.run import ingest
from qc.store import Store
from tests.generate import small_shop as small

NEXT = 10
CHECKS = (plates, zeroed, stock, elsewhere)


def arrival(build, over, worn, engine="finch-4"):
    """Four worn bores and the pistons that were bought for them, sizes in um."""
    rng = random.Random(50 * build)
    rows = []
    for i in range(4):
        at = dict(
            small.row(build, "received", "bore_diameter", f"cyl-{i + 1}", None, None, 0, None, "bg-9", i)
        )
        at |= {"operation": "receive", "machine": "bench", "unit": "mm", "engine": engine}
        for clock in (0, 90):
            size = 86000 + worn + rng.gauss(0, 6)
            rows.append(at | {"clock_deg": str(clock), "station_mm": "12", "value": f"{size / 1000:.3f}"})
        piston = 86000 + over - 60
        at |= {"characteristic": "piston_diameter", "gauge": "mic-1"}
        rows.append(at | {"target": f"{piston / 1000:.3f}",
                          "value": f"{(piston + rng.gauss(0, 1)) / 1000:.3f}"})  # fmt: skip
    return rows


OVERS = (0, 500, 250, 0, 500, 1000, 0, 250, 500, 0)


@pytest.fixture(scope="module")
def grown(grow):
    files = {"builds.csv": small.builds(NEXT + 2), "gauges.csv": small.gauges()}
    for i, over in enumerate(OVERS):
        files[f"A{i}.csv"] = arrival(i, over, 25)
        files[f"N{i}.csv"] = small.bores(i)
    place, findings = grow(files)
    codes = {code for check in CHECKS for code in check.CODES}
    assert [f["code"] for f in findings if f["code"] in codes] == []
    return place


@pytest.fixture
def found(grown, tmp_path, as_file):
    """What these checks ask about a next file of that shop."""

    def took(rows):
        place = shutil.copy(grown, tmp_path / "shop.db")
        with Store.open(place) as store:
            (result,) = ingest(store, [as_file(tmp_path / "next.csv", rows)], by="test").files
        codes = {code for check in CHECKS for code in check.CODES}
        return [f for f in result.findings if f["code"] in codes]

    return took


@pytest.fixture
def asked(found):
    """Code and rows of each."""
    return lambda rows: [(f["code"], {c["row"] for c in f["cells"]}) for f in found(rows)]


def lines(rows, **named):
    return {i + 2 for i, r in enumerate(rows) if all(r[k] == v for k, v in named.items())}


def read_in(rows, other, noise, **named):
    """Rows with the figures of the same places in another state, as read once more."""
    rng = random.Random(7)
    there = {(r["feature"], r["station_mm"], r["clock_deg"]): float(r["value"]) for r in rows
             if r["state"] == other}  # fmt: skip
    found = []
    for r in rows:
        if all(r[k] == v for k, v in named.items()):
            size = there[r["feature"], r["station_mm"], r["clock_deg"]] + rng.gauss(0, noise) / 1000
            r = r | {"value": f"{size:.3f}"}
        found.append(r)
    return found


@pytest.mark.parametrize(("written", "true"), [("plate_on", "plate_off"), ("plate_off", "plate_on")])
def test_a_bore_that_reads_alike_in_both_states_was_read_in_one(asked, written, true):
    rows = read_in(small.bores(NEXT), true, 0.6, state=written, feature="cyl-2")
    assert asked(rows) == [("states_mixed", lines(rows, state=written, feature="cyl-2"))]


@pytest.mark.parametrize(("written", "true"), [("plate_on", "plate_off"), ("plate_off", "plate_on")])
def test_a_whole_block_read_in_one_state_is_told_by_the_blocks_before(asked, written, true):
    rows = read_in(small.bores(NEXT), true, 0.6, state=written)
    assert asked(rows) == [("states_mixed", lines(rows, state=written))]


@pytest.mark.parametrize("off", [0.5, 0.008])
def test_a_bore_that_is_off_in_one_state_is_no_state_mixed(asked, off):
    there = ("plate_off", "cyl-3")
    rows = [
        r | {"value": f"{float(r['value']) + off:.3f}"} if (r["state"], r["feature"]) == there else r
        for r in small.bores(NEXT)
    ]
    assert "states_mixed" not in [code for code, _ in asked(rows)]


def test_bores_as_they_come_are_asked_nothing(asked):
    for over, worn in ((0, 60), (500, 30), (500, 270), (1000, 20)):
        assert asked(arrival(NEXT, over, worn)) == []


def test_bores_smaller_than_any_of_their_engine_are_asked_about(asked):
    rows = arrival(NEXT, 500, -225)  # 0.25 mm less than worn bores of the standard size
    assert asked(rows) == [("undersize", lines(rows, characteristic="bore_diameter"))]
    one = [b if b["feature"] == "cyl-4" and b["characteristic"] == "bore_diameter" else a
           for a, b in zip(arrival(NEXT, 500, 25), rows, strict=True)]  # fmt: skip
    assert asked(one) == [("undersize",
                           lines(rows, characteristic="bore_diameter", feature="cyl-4"))]  # fmt: skip


@pytest.mark.parametrize(
    # blocks came 25 um above the standard size, pistons lie 60 um below the oversize
    ("over", "worn", "um", "words"),
    [(500, -225, 250, "um below all that ever came of this engine."),
     (500, 775, 335, "um larger than the pistons of the build.")],
)  # fmt: skip
def test_how_far_bores_are_off_is_said_from_what_came_before(found, over, worn, um, words):
    (told,) = found(arrival(NEXT, over, worn))
    number, said = told["saw"].rpartition(" read ")[2].split(" ", 1)
    assert said == words
    assert float(number) == pytest.approx(um, abs=12)  # readings scatter by 6 um


def test_an_engine_of_which_little_is_known_may_come_smaller(asked):
    assert asked(arrival(NEXT, 500, -225, engine="heron-6")) == []


@pytest.mark.parametrize(("over", "worn"), [(0, 275), (250, 275), (500, 525), (500, 775)])
def test_bores_too_large_for_the_pistons_that_were_bought_are_asked_about(asked, over, worn):
    rows = arrival(NEXT, over, worn)
    assert asked(rows) == [("no_stock", lines(rows, characteristic="bore_diameter"))]


def block(engine, off_um, seed, holes=8):
    """A past block of so many bores, read at two places each, off its target by an amount [um]."""
    rng = random.Random(seed)
    told = []
    for i in range(holes):
        for clock in (0, 9_000_000):
            off = round((off_um + rng.gauss(0, 1)) * 1e5)
            where = (f"B{seed}", engine, f"cyl-{i}", 1_200_000, clock, 1, None)
            text = f"{off / 1e5:.0f}"
            told.append(PastReading(*where, off, 8_600_000_000, True, "um", text, "bg-1", seed))
    memory, series = Memory(), ("bore-3", "finish_bore", "bore_diameter", "ends", "plate_off")
    memory.learn(series, [], [])
    memory._add(series, told)
    (found,) = memory.past(series).blocks
    return found


TWO_AIMS = Past(tuple(
    block(engine, aim, seed)
    for seed, (engine, aim) in enumerate([("a", 0), ("b", -61), ("a", 1), ("b", -60), ("c", -62), ("a", -1),
                                          ("b", -61), ("c", -60), ("a", 0), ("b", -62)])
))  # fmt: skip


@pytest.mark.parametrize(
    ("engine", "off", "apart"), [("c", -71, 10), ("a", 9, 9), ("a", -58, 58), ("d", -52, 9)]
)
def test_blocks_of_other_engines_made_to_the_same_aim_tell_where_a_block_should_be(engine, off, apart):
    new = block(engine, off, 99).fit
    told = levels.usual(TWO_AIMS, new, engine, "um")
    assert (told.own, told.known, told.form) == (engine != "d", False, True)
    assert abs(new.level - told.centre) / 1e5 == pytest.approx(apart, abs=1)
    assert levels.quantile(told.of) * told.spread < 7e5  # levels here scatter by 1 um


def test_a_block_where_its_engine_was_before_is_known_though_others_are_elsewhere():
    some = Past((*TWO_AIMS.blocks, block("c", 0, 50)))
    assert levels.usual(some, block("c", 1, 51).fit, "c", "um").known
    assert levels.usual(Past(), block("c", 1, 51).fit, "c", "um") is None


@pytest.mark.parametrize("of", [12, 14, 30, 80])
def test_a_level_in_2000_lies_beyond_the_quantile(of):
    assert levels.quantile(of) == pytest.approx(stats.t.isf(1 / 4000, of), rel=0.02)  # scipy


@pytest.mark.parametrize("n", [4, 6, 12, 24])
def test_two_readings_of_one_place_seldom_differ_by_more(n):
    assert plates._chance(n) == pytest.approx(stats.chi2.isf(1e-4, n), rel=0.03)  # scipy


def test_the_likelihood_of_a_holes_differences_is_that_of_normal_values_with_a_common_shift():
    apart, spread, shift = np.array([1.0, -0.5, 2.5, 0.25]), 0.8, 1.3
    covariance = spread**2 * np.eye(4) + shift**2
    whole = stats.multivariate_normal(cov=covariance).logpdf(apart)  # scipy
    left_out = -2 * math.log(2 * math.pi)
    assert plate_history.likelihood(apart, spread, shift) + left_out == pytest.approx(whole)


@pytest.mark.parametrize(
    ("over", "mates", "large", "told"),
    [(27, -6, 1, True), (27, 0, 1, False), (27, 0, 2, True), (500, -6, 1, False), (-27, -6, 1, False)],
)
def test_one_figure_large_square_to_the_joint_is_a_cap_where_its_mates_are_small(over, mates, large, told):
    clock = np.array([0.0, 6e6, 1.2e7] * 2)
    size = np.array([over, mates, mates, 27 if large > 1 else 0, 0, 0]) * 1e5
    columns = {"clock": clock, "station": np.full(6, 1.2e6), "size": size}
    block = SimpleNamespace(
        characteristic="tunnel_diameter", at=np.arange(6), new=6, off=size, level=0.0, wanted=np.zeros(6),
        features=("main-1",) * 3 + ("main-2",) * 3, suspect=np.abs(size) > 1e6,
        past=SimpleNamespace(pattern={}, bore_spread=1.3e5),
    )  # fmt: skip
    assert states.stands_off(SimpleNamespace(columns=columns), block, 0) is told
