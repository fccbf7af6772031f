"""The answers on the demo shop against what was hidden in it, for three seeds.

11 is shipped, 12 was looked at while the product was built, 73 was not. What is expected comes from the
simulation's own parameters (`truth`), never from an answer; where chance has a say, the bound says which.
"""

import importlib.util
from contextlib import ExitStack
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path

import numpy as np
import pytest

from qc.ingest.run import ingest
from qc.records import Asked
from qc.reports import chart, clearance, drift, held, month
from qc.store import Store

DEMO = Path(__file__).resolve().parents[2] / "datasets" / "demo"
SHIPPED = 11
SEEDS = (SHIPPED, 12, 73)
NAMES = ("machine", "operation", "characteristic", "state")


def simulate(seed):
    spec = importlib.util.spec_from_file_location("demo_generate", DEMO / "generate.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module.simulate(seed)


@dataclass
class Shop:
    """One seed's shop: its store, its truth, and each answer once."""

    seed: int
    store: Store
    truth: dict

    @cached_property
    def drift(self):
        return drift.answer(self.store, Asked())

    @cached_property
    def clearances(self):
        return clearance.answer(self.store, Asked())["builds"]

    def row(self, named):
        found = [r for r in self.drift["series"] if all(r[n] == named[n] for n in NAMES)]
        best = [r for r in found if r["method"] != "range"]
        assert best, named
        return max(best, key=lambda r: r["blocks"])


@pytest.fixture(scope="module")
def shop_of(tmp_path_factory):
    """Builds the shop of a seed when it is first asked for."""
    with ExitStack() as open_stores:

        @cache
        def made(seed):
            simulated = simulate(seed)
            folder = tmp_path_factory.mktemp(f"demo-{seed}")
            paths = simulated.write(folder / "files")
            store = open_stores.enter_context(Store.open(folder / "demo.db", create=True))
            with store.write(by="test", command="set up") as write:
                write.set("zone", simulated.truth["zone"])
            ingest(store, paths, by="test")
            return Shop(seed, store, simulated.truth)

        yield made


@pytest.fixture(params=SEEDS)
def shop(request, shop_of):
    return shop_of(request.param)


def test_the_stones_that_wear_fast_are_at_the_top_of_drift(shop):
    told = shop.truth["stone_wear"]
    named = {f["characteristic"] for f in told["figures"]}
    urgent = [r for r in shop.drift["series"] if r["condition"] not in ("steady", "thin")]
    mine = [r for r in urgent if r["machine"] == told["machine"] and r["characteristic"] in named]
    # ten blocks of 60 bores that climb 2.4 times as fast as usual: two of the three figures at least are told
    assert len(mine) >= 2
    assert urgent[:2] == mine[:2]
    assert "drifting" in {r["condition"] for r in mine}
    assert {r["condition"] for r in mine} <= {"drifting", "stepped"}


def test_the_stretch_is_counted_from_the_last_stones(shop):
    told = shop.truth["stone_wear"]["stretches"][-1]
    for figure in shop.truth["stone_wear"]["figures"]:
        stretch = shop.row(figure)["stretch"]
        assert (stretch["event"], stretch["blocks"], stretch["bores"]) == (
            "stones_changed", told["blocks"], told["bores"],
        )  # fmt: skip


def test_the_forecasts_hold_the_true_crossing_of_most_figures(shop_of):
    inside = []
    for shop in map(shop_of, SEEDS):
        for figure in shop.truth["stone_wear"]["figures"]:
            row = shop.row(figure)
            left = row["bores_to_limit"]
            assert (row["toward"], row["limit"], left["of"]) == ("upper", figure["limit"], "bores")
            inside.append(left["lower"] <= figure["bores_to_limit"] <= (left["upper"] or np.inf))
    # 90 % intervals: 6 of 9 or more hold with probability 0.99 (binomial)
    assert sum(inside) >= 6


def test_the_sizes_of_that_hone_stay(shop):
    assert shop.row(shop.truth["stone_wear"]["stays"])["condition"] == "steady"


def test_the_boring_bar_walks_with_its_insert_and_is_steady(shop):
    told = shop.truth["insert_wear"]
    row = shop.row(told)
    assert row["condition"] == "steady"
    assert row["toward"] == told["toward"]
    assert (row["slope_per"], row["stretch"]["event"]) == ("bore", "insert_changed")
    assert row["stretch"]["bores"] == told["stretches"][-1]["bores"]
    ends = row["slope_interval"]
    assert ends["upper"] < 0
    # a 95 % interval; a tenth more for the 1 in 20
    width = ends["upper"] - ends["lower"]
    assert ends["lower"] - 0.1 * width < told["slope_per_bore"] < ends["upper"] + 0.1 * width
    assert row["usual_slope"] == pytest.approx(told["slope_per_bore"], rel=0.25)


def test_what_hides_nothing_is_steady(shop):
    rows = [shop.row(named) for named in shop.truth["steady"]]
    assert len(rows) >= 15
    assert [r["id"] for r in rows if r["condition"] not in ("steady", "thin")] == []


def test_the_final_gauge_is_found_with_its_amount_and_dates(shop):
    told = shop.truth["gauge_fault"]
    limit = 6 * shop.truth["spreads"]["gauge_setting_of_the_day"]
    mine = [g for g in shop.drift["gauges"] if g["gauge"] == told["gauge"] and abs(g["amount"]) > limit]
    assert len(mine) == 1
    found = mine[0]
    assert found["cause"] == {"kind": "gauge", "id": told["gauge"]}
    # about nine block means of sd 1.2 um and as many master readings: a third of a um; three of those
    assert found["amount"] == pytest.approx(told["amount"], abs=1.0)
    assert told["from"] <= found["from"][:10] <= "2026-02-06"  # nothing is read on some days
    assert "2026-02-16" <= found["to"][:10] < told["until"]
    assert set(found["machines"]) == set(told["builds"])


def test_the_operators_gauges_are_quiet(shop):
    # a gauge's setting of the day scatters by 0.3 um: that much may be told of, a fault is six times it
    limit = 6 * shop.truth["spreads"]["gauge_setting_of_the_day"]
    others = [g for g in shop.drift["gauges"] if g["gauge"] != shop.truth["gauge_fault"]["gauge"]]
    assert all(abs(g["amount"]) < limit for g in others)
    assert len(others) <= 2


def test_the_gauges_shift_is_not_laid_on_the_hones(shop):
    for named in shop.truth["gauge_fault"]["shows_in"][:2]:
        row = shop.row(named)
        assert row["condition"] == "steady"
        assert {s["cause"]["id"] for s in row["signals"] if s["signal"] == "gauge_shift"} <= {"bg-final"}


def test_the_gauges_shift_stands_in_the_chart_of_both_hones(shop):
    told = shop.truth["gauge_fault"]
    for named in told["shows_in"][:2]:
        asked = Asked(**{n: (named[n],) for n in NAMES}, method=("two_point",))
        blocks = chart.answer(shop.store, asked)["series"][0]["blocks"]
        builds = told["builds"][named["machine"]]
        off = [b["mean"] for b in blocks if b["build"] in builds]
        rest = [b["mean"] for b in blocks if b["build"] not in builds]
        # block means scatter by 1.4 um
        error = 1.4 / np.sqrt(len(off))
        assert np.mean(off) - np.mean(rest) == pytest.approx(told["amount"], abs=3 * error)


def uneven(shop):
    told = shop.truth["uneven_ra"]
    rows = month.answer(shop.store, told["month"], Asked())["rows"]
    row = next(r for r in rows if all(r[n] == told[n] for n in ("machine", "operation", "state")))
    return rows, row, next(f for f in row["figures"] if f["characteristic"] == "ra")


def test_ra_became_less_even_in_its_month(shop):
    told = shop.truth["uneven_ra"]
    _, row, figure = uneven(shop)
    against = figure["against"]["last_month"]
    assert (figure["blocks"], against["blocks"]) == (len(told["builds"]), len(told["builds_before"]))
    ends = against["interval_ratio"]
    assert ends["lower"] <= told["spread_ratio"] <= ends["upper"]
    assert against["spread_ratio"] > 1.5
    # five blocks a month show a factor of 2.5 after Holm's correction in most shops, not in all
    if shop.seed == SHIPPED:
        assert against["words"] == "less even"
        assert "Ra (" in row["sentence"]
    assert against["words"] == "less even" or against["words"].startswith("cannot tell")


def test_nothing_else_is_called_more_or_less_even_that_month(shop):
    rows, mine, figure = uneven(shop)
    others = [f for r in rows for f in r["figures"] if f is not figure]
    spoken = [f["characteristic"] for f in others if f["against"]["last_month"]["words"] in
              ("less even", "more even")]  # fmt: skip
    assert spoken == []  # one false word in 20 reports, by Holm's correction


def test_the_tight_family_misses_its_plan_and_nobody_else_does(shop):
    told = shop.truth["tight_family"]
    off = {}
    for build in shop.clearances:
        whole = [p for p in build["positions"] if not p["missing"]]
        mains = [p for p in whole if p["characteristic"] == "main_clearance"]
        off[build["build"]] = (np.mean([p["off_plan"] for p in mains]), {p["verdict"] for p in mains})
    missed = {b for b, (_, verdicts) in off.items() if "does_not_conform" in verdicts}
    assert missed <= set(told["builds"])
    assert len(missed) >= 0.6 * len(told["builds"])
    tight = np.mean([off[b][0] for b in told["builds"]])
    # the largest of four readings of a journal takes about 1 um more in every build
    assert tight == pytest.approx(told["main_clearance_off_plan"] - 1, abs=1.5)
    before = np.mean([off[b][0] for b in told["builds_before"]])
    assert before == pytest.approx(-1, abs=1.5)


def test_the_tightest_builds_are_those_of_the_tight_family(shop):
    told = set(shop.truth["tight_family"]["builds"])
    first = [b["build"] for b in shop.clearances[: len(told) // 2]]
    assert set(first) <= told


def test_what_is_right_in_the_tight_family_conforms(shop):
    for build in shop.clearances:
        for p in build["positions"]:
            if p["characteristic"] == "rod_clearance":
                assert p["verdict"] != "does_not_conform"


def faulty(shop, finding):
    """Whether a finding is that the faulty gauge is off, in a build which it read while it was."""
    told = shop.truth["gauge_fault"]
    builds = [b for some in told["builds"].values() for b in some]
    mine = finding["code"] == "gauge_not_zeroed" and told["gauge"] in finding["saw"]
    return mine and any(b in finding["file"] for b in builds)


def test_the_file_typed_in_inches_waits_with_its_cure(shop):
    told = shop.truth["mistyped_file"]
    waiting = [f for f in held.answer(shop.store, Asked())["findings"] if f["held_rows"]]
    found = [f for f in waiting if not faulty(shop, f)]
    assert [(f["file"], f["count"], f["held_rows"]) for f in found] == [
        (told["file"], told["cells"], told["cells"])
    ]
    one = found[0]
    assert one["severity"] == "stop"
    assert one["code"] == "far_from_target"
    texts = [float(c["text"]) for c in one["cells"]]
    assert all(t == pytest.approx(told["about"], abs=0.01) for t in texts)
    said = f"{one['doubt']} {one['proposal']}"
    assert "inch" in said
    # the proposed figure is 25.4 times what was typed
    assert any(f"{t * 25.4:.5f}".rstrip("0") in said for t in texts)


def test_bores_that_wait_are_missing_and_not_taken_as_they_were_bored(shop):
    told = shop.truth["mistyped_file"]
    build = next(b for b in shop.clearances if b["build"] == told["build"])
    missing = {p["feature"]: p["missing"] for p in build["positions"] if p["missing"]}
    assert missing == {f: [f"bore_diameter {f}"] for f in told["features"]}
