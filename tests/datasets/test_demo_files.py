"""The demo shop's files against the file contract and against its own told truth.

The files are read here by csv and openpyxl alone: neither the generator nor qc says what is expected.
"""

import csv
import importlib.util
import io
import json
import tomllib
from collections import Counter
from datetime import date, datetime
from functools import cache
from pathlib import Path

import openpyxl
import pytest

DEMO = Path(__file__).resolve().parents[2] / "datasets" / "demo"
SEEDS = (11, 12, 4)
REQUIRED = {"build", "machine", "operation", "characteristic", "feature", "value", "unit", "measured_at"}
OPTIONAL = {
    "engine", "serial", "state", "method", "station_mm", "clock_deg", "reading", "target", "lower",
    "upper", "gauge", "operator", "made_at", "order", "trial", "pass", "sized_with", "master", "torque",
    "material", "part_c", "gauge_c", "note",
}  # fmt: skip
REGISTERS = {
    "events.csv": "machine,gauge,operation,at,event,note",
    "specifications.csv": "build,engine,operation,characteristic,feature,station_mm,clock_deg,state,reading,"
                          "lower,target,upper,unit,since,revision,source",
    "gauges.csv": "gauge,kind,resolution,standard_uncertainty,common_part,unit,calibrated_on,due_on,master,"
                  "value,correction,certificate",
    "builds.csv": "build,engine,serial,material,received_on,shipped_on,note",
    "measuring_plan.csv": "engine,characteristic,feature,station_mm,clock_deg,state,since,revision",
    "machines.csv": "machine,kind,since,note",
}  # fmt: skip
CHARACTERISTICS = {
    "bore_diameter", "bore_out_of_round", "bore_taper", "bore_barrel", "tunnel_diameter",
    "tunnel_out_of_round", "tunnel_offset", "rod_bore_diameter", "journal_diameter", "pin_diameter",
    "shell_wall", "shell_bore", "piston_diameter", "main_clearance", "rod_clearance",
    "piston_clearance", "end_play", "rod_side_clearance", "ring_gap", "deck_height", "deck_flatness",
    "ra", "rz", "rk", "rpk", "rvk", "mr1", "mr2", "vo", "crosshatch_angle", "minutes_per_bore",
    "master_check",
}  # fmt: skip
UM = {"mm": 1000.0, "um": 1.0, "in": 25400.0, "thou": 25.4, "tenth": 2.54, "uin": 0.0254, "min": 1.0}


def simulator():
    spec = importlib.util.spec_from_file_location("demo_generate", DEMO / "generate.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def shops():
    return {seed: simulated(seed) for seed in SEEDS}


def rows_of(name, content):
    if name.endswith(".xlsx"):
        sheet = openpyxl.load_workbook(io.BytesIO(content)).active
        head, *rest = (
            [("" if c is None else str(c)) for c in row] for row in sheet.iter_rows(values_only=True)
        )
        return [dict(zip(head, row, strict=True)) for row in rest]
    text = content.decode("utf-8")
    semicolon = ";" in text.split("\n", 1)[0]
    rows = list(csv.DictReader(io.StringIO(text), delimiter=";" if semicolon else ","))
    for row in rows if semicolon else ():
        for key in ("value", "target", "station_mm"):
            row[key] = row.get(key, "").replace(",", ".")
    return rows


@cache
def simulated(seed):
    return simulator().simulate(seed)


@cache
def read(seed):
    shop = simulated(seed)
    return [r for name, content in shop.files.items() if "-B1" in name for r in rows_of(name, content)]


def off_target(row):
    """Reading minus target in um, by the contract's rule for the unit of the target."""
    value = float(row["value"]) * UM[row["unit"]]
    if not row["target"] or row.get("reading") == "deviation":
        return value
    return value - float(row["target"]) * UM[row["unit"]]


def made_on(row):
    return datetime.fromisoformat(row["measured_at"]).date()


def test_the_same_seed_gives_the_same_bytes(shops):
    again = simulator().simulate(11)
    assert again.files == shops[11].files
    assert again.truth_text() == shops[11].truth_text()
    assert shops[12].files != shops[11].files


def test_shipped_files_are_what_the_script_writes(shops):
    told = tomllib.loads((DEMO / "dataset.toml").read_text(encoding="utf-8"))
    shop = shops[told["seed"]]
    shipped = {p.name: p.read_bytes() for p in (DEMO / told["files"]).iterdir()}
    assert shipped.keys() == shop.files.keys()
    assert [n for n in shipped if shipped[n] != shop.files[n]] == []
    assert (DEMO / told["truth"]).read_text(encoding="utf-8") == shop.truth_text()
    assert sum(map(len, shipped.values())) < 6_000_000


def test_writing_puts_every_file_into_the_folder(shops, tmp_path):
    paths = shops[12].write(tmp_path / "new")
    assert {p.name: p.read_bytes() for p in paths} == shops[12].files


@pytest.mark.parametrize("seed", SEEDS)
def test_there_are_120_builds_and_about_30000_readings(shops, seed):
    rows = read(seed)
    assert len({r["build"] for r in rows}) == 120
    assert sum("-B1" in n for n in shops[seed].files) == 120
    masters = [r for n, c in shops[seed].files.items() if n.startswith("master-") for r in rows_of(n, c)]
    assert 27_000 < len(rows) + len(masters) < 33_000
    assert len(rows) == shops[seed].truth["readings"]
    assert {m["build"] for m in masters} == {""}
    assert len([n for n in shops[seed].files if n.startswith("master-")]) == 18


def test_headers_are_those_of_the_contract(shops):
    for name, content in shops[11].files.items():
        if name in REGISTERS:
            assert content.decode("utf-8").split("\n", 1)[0] == REGISTERS[name]
        else:
            header = set(rows_of(name, content)[0])
            assert header >= REQUIRED, name
            assert header <= REQUIRED | OPTIONAL, name


def test_required_cells_are_filled_and_words_are_known(shops):
    for row in read(11):
        assert all(row[name] for name in REQUIRED), row
        assert row["characteristic"] in CHARACTERISTICS
        assert row["unit"] in UM
        assert date(2025, 5, 1) <= made_on(row) <= date(2026, 10, 31)


def test_no_place_is_read_twice_in_a_build(shops):
    place = ("build", "machine", "operation", "characteristic", "feature", "station_mm", "clock_deg")
    seen = Counter(tuple(r[name] for name in place) for r in read(11))
    assert seen.most_common(1)[0][1] == 1


def test_every_form_of_file_occurs(shops):
    heads = {n: c.decode("utf-8").split("\n", 1)[0] for n, c in shops[11].files.items() if n.endswith(".csv")}
    builds = {n: rows_of(n, c) for n, c in shops[11].files.items() if "-B1" in n}
    units = [{r["unit"] for r in rows} for rows in builds.values()]
    assert sum(n.endswith(".xlsx") for n in builds) >= 2
    assert sum(";" in head for head in heads.values()) >= 8
    assert sum("in" in found for found in units) >= 3
    assert sum("tenth" in found and "in" not in found for found in units) >= 3
    assert sum("reading" in rows[0] and "um" in {r["unit"] for r in rows} for rows in builds.values()) >= 3
    assert (
        sum(datetime.fromisoformat(rows[0]["measured_at"]).tzinfo is not None for rows in builds.values())
        >= 2
    )


@pytest.mark.parametrize("seed", SEEDS)
def test_each_month_has_three_blocks_on_each_hone(shops, seed):
    blocks = {(r["machine"], r["measured_at"][:7], r["build"]) for r in read(seed)
              if r["operation"] == "plateau_hone"}  # fmt: skip
    counts = Counter((machine, month) for machine, month, _ in blocks)
    assert len(counts) == 36
    assert min(counts.values()) >= 3
    uneven = shops[seed].truth["uneven_ra"]
    assert counts[uneven["machine"], uneven["month"]] == len(uneven["builds"]) >= 5
    assert counts[uneven["machine"], uneven["month_before"]] == len(uneven["builds_before"]) >= 5


@pytest.mark.parametrize("seed", SEEDS)
def test_stones_of_hone_1_will_reach_their_limit_in_five_to_fifteen_blocks(shops, seed):
    wear = shops[seed].truth["stone_wear"]
    assert sum(s["finished"] for s in wear["stretches"]) >= 4
    for figure in wear["figures"]:
        assert 5 <= figure["blocks_to_limit"] <= 15
        line = figure["start"] + figure["slope_per_bore_last_stretch"] * figure["bores_from_change_to_limit"]
        assert line == pytest.approx(figure["limit"], rel=1e-12)
    logged = {(r["machine"], r["at"]) for r in rows_of("events.csv", shops[seed].files["events.csv"])}
    assert {("hone-1", s["began_at"]) for s in wear["stretches"]} <= logged


@pytest.mark.parametrize("seed", SEEDS)
def test_stones_and_inserts_are_changed_before_any_other_line_meets_its_limit(shops, seed):
    insert = shops[seed].truth["insert_wear"]
    for stretch in insert["stretches"]:
        assert insert["start"] + insert["slope_per_bore"] * stretch["bores"] > insert["lower_limit"] + 5
    first = shops[seed].truth["stone_wear"]["figures"]
    usual = shops[seed].truth["usual_wear_hone_2"] + shops[seed].truth["stone_wear"]["stretches"][:-1]
    longest = max(s["bores"] for s in usual)
    assert all(f["start"] + f["slope_per_bore_usual"] * longest < f["limit"] * 0.75 for f in first)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_final_gauge_is_wrong_on_at_least_four_blocks_of_each_hone(shops, seed):
    fault = shops[seed].truth["gauge_fault"]
    assert min(len(b) for b in fault["builds"].values()) >= 4
    faulty = {b for builds in fault["builds"].values() for b in builds}
    bores = [r for r in read(seed) if r["gauge"] == fault["gauge"]]
    good = [off_target(r) for r in bores if r["build"] not in faulty and abs(off_target(r)) < 1000]
    bad = [off_target(r) for r in bores if r["build"] in faulty]
    # 9 blocks with a between-block sd of 1.3 um: standard error 0.45 um
    assert sum(bad) / len(bad) - sum(good) / len(good) == pytest.approx(fault["amount"], abs=1.8)
    events = rows_of("events.csv", shops[seed].files["events.csv"])
    assert [e["at"] for e in events if e["gauge"]] == [fault["ended_by"]["at"]]


@pytest.mark.parametrize("seed", SEEDS)
def test_only_the_master_of_the_wrong_gauge_moves(shops, seed):
    fault = shops[seed].truth["gauge_fault"]
    means = {}
    for name, content in shops[seed].files.items():
        for row in rows_of(name, content) if name.startswith("master-") else ():
            inside = fault["from"] <= row["measured_at"] < fault["until"]
            means.setdefault((row["gauge"], inside), []).append(off_target(row))
    # about 12 mornings with an sd of 0.5 um: standard error 0.15 um
    for (gauge, inside), values in means.items():
        expected = fault["amount"] if inside and gauge == fault["gauge"] else 0.0
        assert sum(values) / len(values) == pytest.approx(expected, abs=0.6), gauge


@pytest.mark.parametrize("seed", SEEDS)
def test_journals_of_the_tight_family_are_large_in_all_its_builds_of_the_last_year(shops, seed):
    tight = shops[seed].truth["tight_family"]
    assert len(tight["builds"]) >= 5
    journals = {}
    for row in read(seed):
        if row["characteristic"] == "journal_diameter" and row["engine"] == tight["engine"]:
            journals.setdefault(row["build"], []).append(off_target(row))
    means = {build: sum(v) / len(v) for build, v in journals.items()}
    assert means.keys() == {*tight["builds"], *tight["builds_before"]}
    for build, mean in means.items():
        expected = tight["journal_off_target"] if build in tight["builds"] else 0.0
        assert mean == pytest.approx(expected, abs=4.0)  # block sd 0.85 um, four journals with sd 1.0 um


@pytest.mark.parametrize("seed", SEEDS)
def test_one_file_has_two_bores_in_inches_and_no_other_reading_is_far_off(shops, seed):
    told = shops[seed].truth["mistyped_file"]
    far = [r for r in read(seed) if r["target"] and abs(off_target(r)) > 150]
    assert {r["build"] for r in far} == {told["build"]}
    assert {r["feature"] for r in far} == set(told["features"])
    assert len(far) == told["cells"] == 12
    assert all(float(r["value"]) == pytest.approx(told["about"], abs=0.01) and r["unit"] == "mm" for r in far)
    assert sum(told["build"] in name for name in shops[seed].files) == 1


@pytest.mark.parametrize("seed", SEEDS)
def test_every_build_has_planned_clearances_with_their_source(shops, seed):
    rows = rows_of("specifications.csv", shops[seed].files["specifications.csv"])
    plans = Counter(r["build"] for r in rows if r["build"] and not r["feature"])
    assert set(plans.values()) == {3}
    assert len(plans) == 120
    assert all(r["source"] for r in rows)
    for row in rows:
        if row["build"]:
            assert float(row["lower"]) < float(row["target"]) < float(row["upper"])


def test_truth_is_plain_json(shops):
    assert json.loads(shops[11].truth_text()) == shops[11].truth
