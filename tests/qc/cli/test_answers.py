import csv
import io
import json

import pytest

HEAD = ["answer", "version", "revision", "asked", "zone", "cautions"]
SERIES = [
    "id", "machine", "operation", "characteristic", "method", "state", "unit", "coded", "readings",
    "features",
    "blocks", "first_at", "last_at", "left_out", "gauges", "condition", "why", "sentence",
]  # fmt: skip
OWN = {
    "series": [],
    "drift": ["since", "stretch", "slope", "slope_per", "slope_interval", "toward", "limit", "bores_to_limit",
              "signals", "matter"],
    "capability": [
        "window", "bores", "mean", "spread_in_block", "spread_between_blocks", "spread_of_block_means",
        "spread_short", "spread_all", "bores_not_conforming", "bores_undecided", "reworked", "family",
        "pp", "ppk",
        "pp_interval", "ppk_interval", "cp", "cpk", "cp_interval", "cpk_interval", "outside",
        "tolerance_interval",
        "gauge_free", "methods", "not_given",
    ],
    "chart": ["center", "lower_limit", "upper_limit", "limits", "stretches", "events"],
}  # fmt: skip


def document(done):
    return json.loads(done.stdout)


@pytest.mark.parametrize("answer", OWN)
def test_an_answer_about_series_has_the_keys_of_the_contract(qc, shop, answer):
    done = qc(answer, "--json", store=shop)
    assert done.exit_code == 0, done.output
    assert done.stderr == ""
    told = document(done)
    assert list(told)[: len(HEAD)] == HEAD
    assert (told["answer"], told["version"], told["zone"]) == (answer, 1, "UTC")
    ids = [row["id"] for row in told["series"]]
    assert "hone-1/plateau_hone/bore_diameter/two_point/plate_on" in ids
    for row in told["series"]:
        assert set(SERIES) | set(OWN[answer]) <= set(row), row["id"]


def test_a_month_and_clearances_have_the_keys_of_the_contract(qc, shop):
    month = document(qc("month", "2026-04", "--json", store=shop))
    assert month["month"] == "2026-04"
    row = month["rows"][0]
    assert {
        "machine",
        "operation",
        "state",
        "builds",
        "bores",
        "first_pass",
        "figures",
        "events",
        "held",
    } <= set(row)
    figure = row["figures"][0]
    assert {"characteristic", "method", "unit", "blocks", "mean", "spread_in_block", "spread_between_blocks",
            "against"} <= set(figure)  # fmt: skip
    assert document(qc("clearance", "--json", store=shop))["builds"] == []


def test_the_sheet_of_a_build_tells_every_quantity_and_its_verdict(qc, shop):
    told = document(qc("build", "T01", "--json", store=shop))
    assert list(told)[: len(HEAD)] == HEAD
    assert (told["build"], told["engine"]) == ("T01", "i4-test")
    keys = {"characteristic", "method", "feature", "state", "unit", "value", "lower", "upper", "source",
            "verdict", "gauge", "readings"}  # fmt: skip
    assert all(keys <= set(quantity) for quantity in told["quantities"])
    done = qc("build", "T01", store=shop)
    assert done.exit_code == 0, done.output
    assert told["sentence"] in " ".join(done.stdout.split())
    assert done.stdout.count("cyl-4") == sum(q["feature"] == "cyl-4" for q in told["quantities"])
    unknown = qc("build", "T99", store=shop)
    assert (unknown.exit_code, "T99" in unknown.stderr) == (2, True)


def test_the_same_question_gives_the_same_document_to_the_byte(qc, shop):
    first, second = (qc("capability", "--json", store=shop).stdout for _ in range(2))
    assert first == second


@pytest.mark.parametrize("answer", [["series"], ["drift"], ["capability"], ["chart"], ["month", "2026-04"]])
def test_an_answer_on_a_terminal_begins_with_what_the_document_says(qc, shop, answer):
    told = document(qc(*answer, "--json", store=shop))
    done = qc(*answer, store=shop)
    assert done.exit_code == 0, done.output
    rows = told.get("series") or told["rows"]
    sentence = rows[0]["sentence"]
    printed = " ".join(done.stdout.split())
    if answer[0] not in ("series", "drift"):  # a steady series has no line of its own there
        assert sentence in printed
    assert "\x1b[" not in done.stdout, "no colour where the output is no terminal"
    assert max(len(line) for line in done.stdout.splitlines()) <= 110


def test_the_figures_on_a_terminal_are_those_of_the_document(qc, shop):
    words = ["capability", "--characteristic", "bore_diameter"]
    row = document(qc(*words, "--json", store=shop))["series"][0]
    line = next(
        x for x in qc(*words, store=shop).stdout.splitlines() if x.strip().startswith("hone-1 bore_diameter")
    )
    minus = "\N{MINUS SIGN}"
    assert f" {row['mean']:.1f} ".replace("-0.0", "0.0").replace("-", minus) in line
    assert f"{row['spread_all']:.1f}" in line
    assert f"{minus}8.0 to 8.0" in line


def test_an_inch_shop_reads_tenths(qc, shop):
    words = ["capability", "--characteristic", "bore_diameter"]
    qc("shop", "set", "units", "inch", store=shop)
    row = document(qc(*words, "--json", store=shop))["series"][0]
    assert row["unit"] == "um", "files and JSON do not change with how a person reads"
    line = next(
        x for x in qc(*words, store=shop).stdout.splitlines() if x.strip().startswith("hone-1 bore_diameter")
    )
    assert " tenth " in line
    assert f"{row['spread_all'] / 2.54:.2f}" in line  # a tenth is 0.0001 in = 2.54 um exactly


@pytest.mark.parametrize(
    ("condition", "code"), [("steady", 0), ("thin", 0), ("drifting", 1), ("stepped", 1), ("scattered", 1)]
)
def test_drift_leaves_with_1_when_a_series_is_neither_steady_nor_thin(qc, shop, monkeypatch, condition, code):
    from qc.reports import drift

    told = drift.answer

    def stubbed(store, asked, within=None):
        found = told(store, asked, within)
        for row in found["series"]:
            row["condition"] = condition
        return found

    monkeypatch.setattr(drift, "answer", stubbed)
    assert qc("drift", "--json", store=shop).exit_code == code
    assert qc("drift", store=shop).exit_code == code


@pytest.mark.parametrize("name", ["a.csv", "a.xlsx", "a.json"])
def test_an_answer_goes_to_a_file_and_nothing_to_stdout(qc, shop, tmp_path, name):
    done = qc("capability", "--out", name, store=shop)
    assert (done.exit_code, done.stdout) == (0, "")
    assert (tmp_path / name).stat().st_size > 100


def test_a_file_of_an_answer_holds_floats_in_full(qc, shop, tmp_path):
    told = document(qc("capability", "--out", "a.csv", "--json", store=shop))
    rows = list(csv.DictReader(io.StringIO((tmp_path / "a.csv").read_text(encoding="utf-8"))))
    assert [row["id"] for row in rows] == [row["id"] for row in told["series"]]
    assert float(rows[0]["ppk_interval.lower"]) == told["series"][0]["ppk_interval"]["lower"]


def test_an_answer_can_be_asked_as_the_store_stood(qc, shop, files):
    now = document(qc("series", "--json", store=shop))
    event = ["event", "add", "--event", "gauge_reset", "--at", "2026-05-05", "--gauge", "bg-1"]
    assert qc(*event, store=shop).exit_code == 0
    then = document(qc("series", "--json", "--as-of", now["revision"], store=shop))
    assert then["revision"] == now["revision"]
    assert then["series"] == now["series"]
    assert document(qc("series", "--json", store=shop))["revision"] > now["revision"]


def test_filters_are_repeatable_and_stand_in_the_head(qc, shop):
    asked = ["--build", "T01", "--build", "T02", "--since", "2026-03"]
    told = document(qc("series", *asked, "--json", store=shop))
    assert told["asked"] == {"build": ["T01", "T02"], "since": "2026-03"}
    sizes = [row for row in told["series"] if row["characteristic"] == "bore_diameter"]
    assert [row["blocks"] for row in sizes] == [2]


def test_the_store_may_be_named_by_the_environment(qc, shop, monkeypatch):
    monkeypatch.setenv("QC_STORE", str(shop))
    assert qc("series", "--json").exit_code == 0


def test_an_audit_pack_is_made_and_verified(qc, shop, tmp_path):
    done = qc("audit", "pack.zip", store=shop)
    assert done.exit_code == 0, done.output
    assert "qc verify pack.zip" in done.stdout
    verified = qc("verify", "pack.zip", "--json")
    assert verified.exit_code == 0, verified.output
    told = document(verified)
    assert list(told)[: len(HEAD)] == HEAD
    assert told["agree"] is True
    assert set(told["checks"][0]) == {"what", "file", "expected", "found", "agrees"}
    data = bytearray((tmp_path / "pack.zip").read_bytes())
    data[200] ^= 1
    (tmp_path / "pack.zip").write_bytes(data)
    tampered = qc("verify", "pack.zip")
    assert tampered.exit_code == 1
    assert "disagree" in tampered.stdout
    (tmp_path / "pack.zip").write_bytes(data[:1000])
    broken = qc("verify", "pack.zip")
    assert (broken.exit_code, broken.stdout) == (2, "")
