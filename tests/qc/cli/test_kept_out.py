"""Readings kept out and made void, limits set and lifted, from the command line."""

import json

import pytest

BORES = ("--characteristic", "bore_diameter", "--machine", "hone-1")


def ids(qc, shop):
    done = qc("readings", "--store", shop, "--json", "--characteristic", "bore_diameter")
    return [r["id"] for r in json.loads(done.stdout)["readings"]]


def blocks(qc, shop):
    done = qc("chart", "--store", shop, "--json", *BORES)
    return json.loads(done.stdout)["series"][0]


def test_an_exclusion_is_added_told_and_lifted(qc, shop):
    before = len(ids(qc, shop))
    done = qc("exclude", "add", "--build", "T03", "--reason", "burr", "--by", "ann", "--store", shop)
    assert done.exit_code == 0
    assert "exclusion 1: 16 readings more are kept out (build T03)" in done.stdout
    assert len(ids(qc, shop)) == before - 16
    listed = qc("exclude", "list", "--store", shop)
    assert "burr" in listed.stdout
    assert "ann" in listed.stdout
    assert qc("exclude", "lift", "1", "--reason", "was clean", "--store", shop).exit_code == 0
    assert len(ids(qc, shop)) == before
    assert "0 exclusions" in qc("exclude", "list", "--store", shop).stdout


def test_one_reading_is_excluded_by_its_id(qc, shop):
    one = ids(qc, shop)[0]
    done = qc("exclude", "add", "--reading", one, "--reason", "chip", "--store", shop, "--json")
    told = json.loads(done.stdout)
    assert told["readings"] == 1
    assert one not in ids(qc, shop)


@pytest.mark.parametrize(("words", "why"), [
    (("--reason", "x"), "needs a scope"),
    (("--build", "T99", "--reason", "x"), "T99"),
    (("--build", "T03", "--reason", " "), "needs a reason"),
    (("--reading", "nothing:1:value", "--reason", "x"), "nothing"),
    (("--build", "T03", "--reading", "a:1:value", "--reason", "x"), "not both"),
])  # fmt: skip
def test_an_exclusion_that_says_too_little_is_refused(qc, shop, words, why):
    done = qc("exclude", "add", *words, "--store", shop)
    assert done.exit_code == 2
    assert why in done.stderr
    assert "0 exclusions" in qc("exclude", "list", "--store", shop).stdout


def test_a_void_reading_leaves_all_figures_and_stays_in_the_store(qc, shop):
    one = ids(qc, shop)[0]
    done = qc("void", one, "--reason", "gauge slipped", "--store", shop)
    assert done.exit_code == 0
    assert one not in ids(qc, shop)
    every = json.loads(qc("readings", "--store", shop, "--json", "--all").stdout)["readings"]
    assert {r["id"]: r["status"] for r in every}[one] == "voided"
    again = qc("void", one, "--reason", "again", "--store", shop)
    assert again.exit_code == 2
    assert "void" in again.stderr


def test_limits_learned_are_frozen_and_learned_again(qc, shop):
    learned = blocks(qc, shop)
    assert learned["limits"]["phase"] == "being_learned"
    done = qc("limits", "set", *BORES, "--reason", "ten good blocks", "--by", "ann", "--store", shop)
    assert done.exit_code == 0, done.stderr
    frozen = blocks(qc, shop)
    assert frozen["limits"]["phase"] == "set"
    assert frozen["limits"]["by"] == "ann"
    assert frozen["upper_limit"] == learned["upper_limit"]
    twice = qc("limits", "set", *BORES, "--reason", "x", "--store", shop)
    assert twice.exit_code == 2
    assert "lift them first" in twice.stderr
    assert "ten good blocks" in qc("limits", "list", "--store", shop).stdout
    assert qc("limits", "lift", *BORES, "--reason", "new stones", "--store", shop).exit_code == 0
    assert blocks(qc, shop)["limits"]["phase"] == "being_learned"
    assert "no limits are set" in qc("limits", "lift", *BORES, "--reason", "x", "--store", shop).stderr


def test_own_limits_are_for_one_series_and_in_order(qc, shop):
    wrong = qc("limits", "set", *BORES, "--lower", "3", "--upper", "-3", "--reason", "x", "--store", shop)
    assert wrong.exit_code == 2
    assert "order" in wrong.stderr
    done = qc("limits", "set", *BORES, "--lower", "-4", "--center", "0", "--upper", "4", "--reason", "x",
              "--store", shop)  # fmt: skip
    assert done.exit_code == 0, done.stderr
    found = blocks(qc, shop)
    assert (found["lower_limit"], found["center"], found["upper_limit"]) == (-4, 0, 4)
    all_of_them = qc("limits", "set", "--reason", "x", "--store", shop)
    assert all_of_them.exit_code == 2
    assert "which series" in all_of_them.stderr


@pytest.mark.parametrize("number", ["nan", "inf", "-inf"])
def test_a_limit_that_is_no_number_is_refused(qc, shop, number):
    done = qc("limits", "set", *BORES, "--upper", number, "--reason", "own", "--store", shop)
    assert done.exit_code == 2
    assert "a limit is a number" in done.stderr
    assert "0 series" in qc("limits", "list", "--store", shop).stdout


@pytest.mark.parametrize("words", [
    ("limits", "set", *BORES), ("limits", "lift", *BORES), ("exclude", "lift", "1"), ("void", "a:1:value"),
])  # fmt: skip
def test_a_reason_of_blanks_is_none(qc, shop, words):
    done = qc(*words, "--reason", "  ", "--store", shop)
    assert done.exit_code == 2
    assert "needs a reason" in done.stderr


def test_an_exclusion_is_not_put_into_the_past(qc, shop):
    done = qc("exclude", "add", "--build", "T03", "--as-of", "1", "--reason", "x", "--store", shop)
    assert done.exit_code == 2
    assert "leave --as-of out" in done.stderr


def test_what_is_lifted_is_told_as_json_too(qc, shop):
    qc("exclude", "add", "--build", "T03", "--reason", "burr", "--store", shop)
    done = qc("exclude", "lift", "1", "--reason", "was clean", "--json", "--store", shop)
    assert json.loads(done.stdout)["lifted"] == 1
    qc("limits", "set", *BORES, "--upper", "3", "--reason", "own", "--store", shop)
    done = qc("limits", "lift", *BORES, "--reason", "again", "--json", "--store", shop)
    assert [one.split("/")[2] for one in json.loads(done.stdout)["lifted"]] == ["bore_diameter"]


def test_a_machine_may_have_a_slash_in_its_name(qc, tmp_path):
    shop, pack = str(tmp_path / "shop.db"), str(tmp_path / "pack.zip")
    header = (
        "build,machine,operation,characteristic,feature,state,value,unit,measured_at,reading,target,lower,upper"
    )
    rows = [
        f"B{b},hone/2,finish_bore,bore_diameter,cyl-{c},plate_on,{b % 3 + c % 2},um,2026-05-{b:02d},"
        "deviation,93,-9,9"
        for b in range(1, 13) for c in range(1, 5)
    ]  # fmt: skip
    (tmp_path / "a.csv").write_text("\n".join([header, *rows]) + "\n", encoding="utf-8")
    qc("ingest", str(tmp_path / "a.csv"), "--no-judge", "--store", shop)
    filters = ("--machine", "hone/2", "--upper", "5", "--reason", "own")
    done = qc("limits", "set", *filters, "--store", shop)
    assert done.exit_code == 0, done.stderr
    assert "hone/2/finish_bore/" in qc("limits", "list", "--store", shop).stdout
    assert qc("audit", pack, "--store", shop).exit_code == 0
    done = qc("verify", pack)
    assert done.exit_code == 0, done.stdout
