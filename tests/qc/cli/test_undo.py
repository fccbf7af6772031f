"""A decision is listed and taken back from the command line."""

import json


def waiting(qc, shop):
    return json.loads(qc("held", "--json", "--store", shop).stdout)["findings"]


def test_a_decision_is_listed_and_taken_back(qc, shop):
    (before,) = waiting(qc, shop)
    number = str(before["id"])
    words = ("--to", "86.2487", "--reason", "point slipped", "--by", "ann", "--store", shop)
    done = qc("held", "correct", number, *words)
    assert done.exit_code == 0
    assert waiting(qc, shop) == []
    listed = qc("held", "list", "--decided", "--store", shop)
    assert "point slipped" in listed.stdout
    assert "ann" in listed.stdout
    done = qc("held", "undo", number, "--reason", "wrong file", "--store", shop)
    assert done.exit_code == 0
    assert "1 readings void" in done.stdout
    (again,) = waiting(qc, shop)
    assert (again["code"], again["cells"]) == (before["code"], before["cells"])
    assert [(s["by"], s["decision"], s["reason"]) for s in again["history"]] == [
        ("ann", "correct", "point slipped"), (again["history"][1]["by"], "undo", "wrong file")
    ]  # fmt: skip
    listed = qc("held", "list", "--store", shop).stdout
    assert "ann took it as corrected on" in listed
    assert "took that back on" in listed
    listed = qc("held", "list", "--decided", "--store", shop).stdout
    assert listed.startswith("0 doubts decided")
    old = qc("held", "show", number, "--store", shop)
    assert f"it waits again as {again['id']}." in old.stdout
    assert old.exit_code == 1
    assert qc("store", "check", "--store", shop).exit_code == 0


def test_a_doubt_is_shown_before_and_after(qc, shop):
    (one,) = waiting(qc, shop)
    told = qc("held", "show", str(one["id"]), "--store", shop)
    assert "As written 1 reading lies outside its limits" in told.stdout
    document = json.loads(qc("held", "show", str(one["id"]), "--json", "--store", shop).stdout)
    assert document["findings"][0]["before_after"][0]["as_written"]["verdict"] == "does_not_conform"
