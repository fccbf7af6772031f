"""Every answer has the keys that people script against (the JSON contract), and is plain JSON without NaN."""

import json

import numpy as np
import pandas as pd
import pytest

from qc.errors import QuestionError
from qc.records import Asked
from qc.reports import build, capability, chart, clearance, drift, held, month, question, readings, series
from tests.qc.shopfloor import event, ra, reading, window

HEAD = {"answer", "version", "revision", "asked", "zone", "cautions"}
OF_SERIES = {
    "id", "machine", "operation", "characteristic", "method", "state", "unit", "coded", "readings",
    "features",
    "blocks", "first_at", "last_at", "left_out", "gauges", "condition", "why", "not_given",
}  # fmt: skip
LEFT_OUT = {"held", "voided", "excluded", "superseded", "without_target", "without_limits"}
WINDOW = {"lower", "target", "upper", "bounded", "scaled", "sources"}
CAPABILITY = {
    "window", "bores", "mean", "spread_in_block", "spread_between_blocks", "spread_of_block_means",
    "spread_short",
    "spread_all", "bores_not_conforming", "bores_undecided", "reworked", "family", "pp", "ppk", "pp_interval",
    "ppk_interval", "cp", "cpk", "cp_interval", "cpk_interval", "outside", "tolerance_interval", "gauge_free",
    "methods",
}  # fmt: skip
DRIFT = {
    "since", "stretch", "slope", "slope_per", "slope_interval", "toward", "limit", "bores_to_limit",
    "signals",
    "matter",
}  # fmt: skip
SIGNAL = {"at", "build", "signal", "source", "words", "cause"}
CHART = {"center", "lower_limit", "upper_limit", "limits", "blocks", "stretches", "events"}
BLOCK = {
    "build",
    "at",
    "n",
    "mean",
    "spread",
    "lowest",
    "highest",
    "stretch",
    "gauges",
    "signals",
    "readings",
}
MONTH = {"machine", "operation", "state", "builds", "bores", "first_pass", "figures", "events", "held"}
FIGURE = {
    "characteristic", "method", "unit", "blocks", "mean", "spread_in_block", "spread_between_blocks",
    "against",
}  # fmt: skip
AGAINST = {
    "blocks", "mean_difference", "interval", "spread_ratio", "interval_ratio", "p_spread", "words",
}  # fmt: skip
POSITION = {
    "feature", "characteristic", "method", "unit", "planned", "lower", "upper", "source", "achieved",
    "off_plan",
    "standard_uncertainty", "verdict", "parts", "missing",
}  # fmt: skip
PART = {"characteristic", "feature", "state", "value", "readings", "gauge"}
QUANTITY = {
    "characteristic", "method", "feature", "state", "unit", "value", "lower", "upper", "source", "verdict",
    "gauge",
    "readings",
}  # fmt: skip
FINDING = {
    "id",
    "severity",
    "code",
    "count",
    "cells",
    "saw",
    "doubt",
    "proposal",
    "effect",
    "decided",
    "file",
}
INTERVAL = {"lower", "upper", "confidence"}
UNITS = {"um", "mm", "deg", "%", "min", "share"}


def day(i: int, hour: int = 8) -> str:
    return (pd.Timestamp("2026-03-02") + pd.Timedelta(days=4 * i, hours=hour)).isoformat()


def bores(build: str, i: int, draw: np.random.Generator, **more) -> list[dict]:
    """Four bores at two depths and two directions."""
    return [
        reading(build, f"cyl-{c}", round(draw.normal(0, 2), 1), measured_at=day(i), station_mm=s, clock_deg=k,
                order=c, operator="ann", **more)
        for c in range(1, 5) for s in (20, 110) for k in (0, 90)
    ]  # fmt: skip


def bearings(build: str, i: int, draw: np.random.Generator, *, journals: int = 2) -> list[dict]:
    told = {"measured_at": day(i, 10), "reading": "size", "unit": "mm", "state": "caps_torqued"}
    shells = [
        reading(build, f"main-{m}", round(60.11 + draw.normal(0, 2e-3), 4), characteristic="shell_bore",
                machine="bench", operation="fit", target="60.11", gauge="bg-2", clock_deg=0, **told)
        for m in (1, 2)
    ]  # fmt: skip
    return shells + [
        reading(build, f"main-{m}", round(60.055 + draw.normal(0, 2e-3), 4),
        characteristic="journal_diameter",
                machine="grinder-1", operation="journal_grind", target="60.055", gauge="mic-1",
                **told | {"state": "free"})
        for m in range(1, journals + 1)
    ]  # fmt: skip


@pytest.fixture(scope="module")
def rich(shop_of):
    """A little of everything: windows, plans, gauges, events, rework, what is held, excluded and voided."""
    draw = np.random.default_rng(20)
    files = [
        [window(-10, 10, engine="v8"), window(-20, 20, engine="i6"),
         {"characteristic": "main_clearance", "reading": "size", "unit": "mm", "target": "0.055",
         "lower": "0.045",
          "upper": "0.065", "engine": "v8", "source": "builder"},
         {"characteristic": "ra", "reading": "size", "unit": "um", "upper": "0.5"}],
        [{"gauge": g, "standard_uncertainty": "0.5", "common_part": "0.2", "resolution": "0.1", "unit": "um"}
         for g in ("bg-1", "bg-2", "mic-1")],
        [event("stones_changed", "2026-03-28T06:00"), event("coolant_changed", "2026-04-10T06:00")],
    ]  # fmt: skip
    for i in range(12):
        engine, target = ("i6", "80") if i % 3 == 2 else ("v8", "96")
        told = {"engine": engine, "target": target}
        files.append([
            *bores(f"B{i}", i, draw, **told),
            *ra(f"B{i}", day(i), [round(0.3 + abs(draw.normal(0, 0.03)), 3) for _ in range(4)],
            engine=engine),
            *([] if engine == "i6" else bearings(f"B{i}", i, draw, journals=1 if i == 4 else 2)),
        ])  # fmt: skip
    files.append([
        {"build": "", "machine": "bg-1", "operation": "check", "characteristic": "master_check",
         "feature": "master", "value": f"50.000{i}", "target": "50", "unit": "mm", "measured_at": day(i, 6)}
        for i in range(3)
    ])  # fmt: skip
    files.append([
        r | {"pass": 2, "measured_at": day(1, 12)} for r in bores("B1", 1, draw) if r["feature"] == "cyl-1"
    ])  # fmt: skip
    shop = shop_of(*files)
    shop.take([reading("B12", "cyl-1", 40_000, measured_at=day(12))], held=1)
    shop.exclude(build=["B7"], feature=["cyl-2"])
    with shop.store.write(by="test", command="void") as write:
        write.void(
            shop.history(build=("B8",)).ids_behind(shop.history(build=("B8",)).values.index[:1])[0], "slip"
        )
    return shop


@pytest.fixture(scope="module")
def documents(rich):
    asked, store = Asked(), rich.store
    return {
        "series": series.answer(store, asked),
        "capability": capability.answer(store, asked, draws=500),
        "drift": drift.answer(store, asked),
        "chart": chart.answer(store, asked),
        "month": month.answer(store, "2026-04", asked),
        "clearance": clearance.answer(store, asked),
        "build": build.answer(store, "B1", asked),
        "held": held.answer(store, asked),
        "readings": readings.answer(store, asked, every=True),
    }


ANSWERS = ("series", "capability", "drift", "chart", "month", "clearance", "build", "held", "readings")


@pytest.mark.parametrize("name", ANSWERS)
def test_an_answer_is_plain_json_without_nan(documents, name):
    told = json.loads(json.dumps(documents[name], allow_nan=False))
    assert told == documents[name]  # no tuple, no numpy number, no key that is no text


@pytest.mark.parametrize("name", ANSWERS)
def test_every_answer_begins_alike(documents, rich, name):
    told = documents[name]
    assert set(told) >= HEAD
    assert (told["answer"], told["version"], told["zone"]) == (name, 1, "UTC")
    assert told["revision"] == rich.store.revision()
    assert any("responsible machinist" in caution for caution in told["cautions"])


@pytest.mark.parametrize(
    ("name", "keys"),
    [("series", set()), ("capability", CAPABILITY), ("drift", DRIFT), ("chart", CHART)],
)
def test_a_row_of_a_series_has_its_head_and_its_own_keys(documents, name, keys):
    assert documents[name]["series"]
    for row in documents[name]["series"]:
        assert set(row) >= OF_SERIES | keys
        assert set(row["left_out"]) >= LEFT_OUT
        assert row["unit"] in UNITS
        assert row["id"] == "/".join(
            row[n] for n in ("machine", "operation", "characteristic", "method", "state")
        )
        assert row["condition"] in {"steady", "drifting", "stepped", "scattered", "thin"}


@pytest.mark.parametrize(
    ("name", "asked_for"),
    [("series", OF_SERIES), ("capability", OF_SERIES | CAPABILITY), ("drift", OF_SERIES | DRIFT),
     ("chart", OF_SERIES | {"center", "lower_limit", "upper_limit"})],
)  # fmt: skip
def test_every_null_a_reader_may_ask_about_has_its_reason(documents, name, asked_for):
    nulls = 0
    for row in documents[name]["series"]:
        for key in asked_for - {"toward", "limit"}:  # what there is no forecast of has none
            if row[key] is None:
                nulls += 1
                assert row["not_given"].get(key), (row["id"], key)
        assert all(row["not_given"].values())
    assert nulls or name in ("series", "chart")


def test_a_window_says_where_it_comes_from(documents):
    told = [r["window"] for r in documents["capability"]["series"] if r["window"]]
    assert told
    for one in told:
        assert set(one) == WINDOW
        assert one["bounded"] in {"both", "above", "below"}
        assert one["sources"]


def test_intervals_are_written_alike(documents):
    for row in documents["capability"]["series"]:
        for name in ("pp_interval", "ppk_interval", "cp_interval", "cpk_interval"):
            assert row[name] is None or set(row[name]) == INTERVAL
        assert row["tolerance_interval"] is None or set(row["tolerance_interval"]) == INTERVAL | {"content"}
        assert set(row["outside"]) == {"counted", "predicted"}
        if row["outside"]["counted"]:
            assert set(row["outside"]["counted"]) == {"n", "of", "fraction", "interval"}
        if row["outside"]["predicted"]:
            assert set(row["outside"]["predicted"]) == {"fraction", "interval"}


def test_shares_stand_only_in_scaled_rows(documents):
    for row in documents["capability"]["series"]:
        scaled = row["window"] is not None and row["window"]["scaled"]
        assert (row["unit"] == "share") == scaled
    assert any(r["unit"] == "share" for r in documents["capability"]["series"])


def test_drift_rows_have_since_stretch_signals_and_what_is_left(documents):
    for row in documents["drift"]["series"]:
        assert set(row["since"]) == {"at", "build"}
        assert set(row["stretch"]) == {"began_at", "event", "bores", "blocks"}
        assert row["slope_per"] in {"bore", "block"}
        assert row["slope_interval"] is None or set(row["slope_interval"]) == INTERVAL
        left = row["bores_to_limit"]
        assert left is None or set(left) == {"median", "lower", "upper", "confidence", "of"}
        for signal in row["signals"]:
            assert set(signal) == SIGNAL
            assert set(signal["cause"]) == {"kind", "id"}


def test_drift_has_matters_with_what_is_done_about_them(documents):
    keys = {
        "id", "state", "what", "name", "sentence", "series", "worst", "since", "opened_at", "ended_at",
        "turns",
        "bores_to_limit", "taken_up", "taken_up_by", "done", "reactions", "next_blocks", "last_good",
        "bores_since", "bores_since_count", "cause", "conditions", "not_given",
    }  # fmt: skip
    ids = set()
    for matter in documents["drift"]["matters"]:
        assert keys <= set(matter)
        assert matter["state"] in {"open", "ended"}
        ids.add(matter["id"])
    for row in documents["drift"]["series"]:
        assert row["matter"] is None or set(row["matter"]) == {"id", "opened_at", "taken_up_by", "ended_at"}
        assert row["matter"] is None or row["matter"]["id"] in ids
        assert row["matter"] is not None or row["not_given"]["matter"]


def test_chart_rows_have_limits_and_blocks_with_their_readings(documents):
    for row in documents["chart"]["series"]:
        assert set(row["limits"]) >= {"phase", "set_at", "by"}
        assert row["limits"]["phase"] in {"being_learned", "set"}
        assert row["blocks"]
        for one in row["blocks"]:
            assert set(one) >= BLOCK
            assert one["readings"]


def test_month_rows_have_figures_against_both_months(documents):
    assert documents["month"]["month"] == "2026-04"
    assert documents["month"]["rows"]
    for row in documents["month"]["rows"]:
        assert set(row) >= MONTH
        assert row["first_pass"] is None or set(row["first_pass"]) == {"n", "of", "fraction", "interval"}
        for figure in row["figures"]:
            assert set(figure) >= FIGURE
            assert set(figure["against"]) == {"last_month", "last_year"}
            for against in figure["against"].values():
                assert set(against) >= AGAINST
                for key in AGAINST:
                    reasons = against["not_given"]
                    assert against[key] is not None or any(reasons.values()), (figure["characteristic"], key)


def test_clearance_positions_have_their_parts_and_their_reasons(documents):
    positions = [p for b in documents["clearance"]["builds"] for p in b["positions"]]
    assert {"build", "engine", "at", "positions"} <= set(documents["clearance"]["builds"][0])
    for one in positions:
        assert set(one) >= POSITION
        assert one["unit"] == "um"
        for part in one["parts"]:
            assert set(part) >= PART
        for key in POSITION - {"parts", "missing"}:
            assert one[key] is not None or one["not_given"].get(key), key
    assert any(p["missing"] for p in positions)


def test_a_build_sheet_has_its_quantities(documents):
    told = documents["build"]
    assert {"build", "engine", "complete", "quantities", "released"} <= set(told)
    assert told["not_given"]["released"]
    for one in told["quantities"]:
        assert set(one) >= QUANTITY
        assert one["unit"] in UNITS
        for key in QUANTITY:
            assert one[key] is not None or one["not_given"].get(key), (one["characteristic"], key)


def test_findings_are_as_taking_a_file_in_tells_them(documents):
    assert documents["held"]["findings"]
    for one in documents["held"]["findings"]:
        assert set(one) >= FINDING
        assert all(set(c) == {"sheet", "row", "column", "text"} for c in one["cells"])
        assert len(one["cells"]) <= 200


@pytest.mark.parametrize("name", ["drift", "chart", "capability", "month", "clearance"])
def test_every_row_has_its_headline(documents, name):
    told = documents[name]
    for row in told.get("series") or told.get("rows") or told["builds"]:
        assert row["sentence"].endswith(".")
        assert "None" not in row["sentence"]
        assert "nan" not in row["sentence"]


def test_what_was_left_out_is_counted(documents):
    row = next(
        r for r in documents["series"]["series"] if r["id"].startswith("hone-1/plateau_hone/bore_diameter")
    )
    # one waits, one was voided, four of one bore are excluded, four were read again at pass 2
    assert row["left_out"] | {"without_target": 0} == {
        "held": 1, "voided": 1, "excluded": 4, "superseded": 4, "without_target": 0, "without_limits": 0,
        "incomplete": 3,
    }  # fmt: skip


def test_a_question_is_read_and_told_back(rich):
    asked = question.asked(
        rich.store, {"machine": "hone-1", "since": "2026-04", "until": "2026-04-20", "as_of": "3"}
    )
    assert asked.machine == ("hone-1",)
    assert asked.since == pd.Timestamp("2026-04-01", tz="UTC").value // 1000
    assert asked.until == pd.Timestamp("2026-04-21", tz="UTC").value // 1000 - 1
    assert asked.as_of == 3
    told = question.head("series", 3, asked, {"zone": "UTC"})["asked"]
    assert told == {"machine": ["hone-1"], "since": "2026-04", "until": "2026-04-20", "as_of": "3"}


@pytest.mark.parametrize(
    ("options", "cure"),
    [
        ({"characteristic": "bore_diamter"}, "is it bore_diameter"),
        ({"state": "hot"}, "it is one of plate_on"),
        ({"since": "yesterday"}, "write 2026-05"),
        ({"since": "2026-05", "until": "2026-04"}, "turn them round"),
        ({"as_of": "99999"}, "revision"),
    ],
)
def test_a_question_that_makes_no_sense_is_refused_with_the_cure(rich, options, cure):
    with pytest.raises(QuestionError, match=cure):
        question.asked(rich.store, options)


def test_a_month_in_the_shops_zone_begins_at_its_midnight():
    # Vienna: UTC+1 in winter, UTC+2 in summer; the change of 2026 is on 29 March
    from zoneinfo import ZoneInfo

    start, end = question.span("2026-03", ZoneInfo("Europe/Vienna"))
    assert pd.Timestamp(start, unit="us") == pd.Timestamp("2026-02-28T23:00")
    assert pd.Timestamp(end + 1, unit="us") == pd.Timestamp("2026-03-31T22:00")
    start, end = question.span("2026-03-29", ZoneInfo("Europe/Vienna"))
    assert end + 1 - start == 23 * 3_600_000_000
