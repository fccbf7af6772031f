import json

import pytest


def document(done):
    return json.loads(done.stdout)


def test_a_specification_is_added_once_and_listed_with_its_source(qc, shop):
    words = ["spec", "add", "--characteristic", "ra", "--reading", "size", "--upper", "0.6", "--unit", "um",
             "--source", "ring sheet 12"]  # fmt: skip
    assert qc(*words, store=shop).exit_code == 0
    again = qc(*words, "--json", store=shop)
    assert document(again)["files"][0]["status"] == "already_kept"
    rows = document(qc("spec", "list", "--json", store=shop))["specifications"]
    mine = [row for row in rows if row["characteristic"] == "ra"]
    assert [(row["upper"], row["lower"], row["unit"], row["source"]) for row in mine] == [
        (0.6, None, "um", "ring sheet 12")
    ]
    assert "ring sheet 12" in qc("spec", "list", store=shop).stdout


def test_a_specification_without_its_source_is_refused(qc, shop):
    done = qc(
        "spec",
        "add",
        "--characteristic",
        "ra",
        "--reading",
        "size",
        "--upper",
        "1",
        "--unit",
        "um",
        store=shop,
    )
    assert done.exit_code == 2
    assert "--source" in done.stderr


def test_an_event_that_cannot_be_read_is_held(qc, shop):
    done = qc(
        "event",
        "add",
        "--event",
        "stones_eaten",
        "--at",
        "2026-05-01",
        "--machine",
        "hone-1",
        "--json",
        store=shop,
    )
    assert document(done)["files"][0]["held"] == 1
    assert done.exit_code == 1


def test_events_and_gauges_are_added_and_listed(qc, shop):
    assert (
        qc(
            "event",
            "add",
            "--event",
            "stones_changed",
            "--at",
            "2026-05-01",
            "--machine",
            "hone-1",
            store=shop,
        ).exit_code
        == 0
    )
    events = document(qc("event", "list", "--json", store=shop))["events"]
    assert [e["event"] for e in events] == ["stones_changed", "stones_changed"]
    assert events[1]["at"].startswith("2026-05-01T00:00")
    words = ["gauge", "add", "--gauge", "bg-1", "--kind", "bore_gauge", "--resolution", "1",
             "--standard-uncertainty", "0.8", "--unit", "um"]  # fmt: skip
    assert qc(*words, store=shop).exit_code == 0
    gauges = document(qc("gauge", "list", "--json", store=shop))["gauges"]
    assert [(g["gauge"], g["resolution"], g["standard_uncertainty"]) for g in gauges] == [("bg-1", 1.0, 0.8)]
    before = document(qc("gauge", "list", "--json", "--as-of", "3", store=shop))["gauges"]
    assert before == []


def test_who_did_it_and_by_which_command_is_kept(qc, shop):
    from qc.store import Store

    assert qc("shop", "set", "units", "inch", "--by", "Jo at the bench", store=shop).exit_code == 0
    with Store.open(shop) as store:
        last = store.revisions().to_dict("records")[-1]
    assert (last["by"], last["command"]) == ("Jo at the bench", "shop set")


def test_a_list_keeps_to_what_is_asked_and_to_what_a_blank_means(qc, shop):
    for machine in ("hone-1", "hone-2"):
        words = [
            "--event",
            "coolant_changed",
            "--at",
            "2026-05-03",
            "--machine",
            machine,
            "--note",
            "-5 degrees",
        ]
        assert qc("event", "add", *words, store=shop).exit_code == 0
    asked = ["--machine", "hone-2", "--since", "2026-05", "--json"]
    done = qc("event", "list", *asked, store=shop)
    assert done.exit_code == 0, done.output
    events = document(done)["events"]
    assert [(e["machine"], e["note"]) for e in events] == [("hone-2", "-5 degrees")]
    specs = document(
        qc("spec", "list", "--build", "T01", "--characteristic", "bore_taper", "--json", store=shop)
    )
    assert [s["characteristic"] for s in specs["specifications"]] == ["bore_taper"], (
        "it names no build: it is for any"
    )


@pytest.mark.parametrize(
    ("name", "value", "kept"),
    [
        ("zone", "Europe/Berlin", "Europe/Berlin"),
        ("units", "Inch", "inch"),
        ("date_order", "Month_First", "month_first"),
        ("false_alarms_a_month", "0,5", "0.5"),
        ("costs", "stones_changed=85; bore = 12", "stones_changed=85; bore=12"),
        ("units", "", None),
    ],
)
def test_a_setting_is_checked_and_kept(qc, shop, name, value, kept):
    done = qc("shop", "set", name, value, "--json", store=shop)
    assert done.exit_code == 0, done.output
    assert document(done)["value"] == kept
    listed = document(qc("shop", "list", "--json", store=shop))["settings"]
    assert {row["name"]: row["value"] for row in listed}[name] == kept


@pytest.mark.parametrize(
    ("name", "value", "cure"),
    [
        ("zone", "Berlin", "Europe/Berlin"),
        ("zone", "../../etc/passwd", "Europe/Berlin"),
        ("units", "cubits", "metric, inch"),
        ("date_order", "dmy", "day_first, month_first"),
        ("false_alarms_a_month", "0", "like 0.5"),
        ("false_alarms_a_month", "-1", "number from 0"),
        ("false_alarms_a_month", "nan", "number from 0"),
        ("costs", "85", "what=amount"),
        ("costs", "bore=much", "number from 0"),
    ],
)
def test_a_setting_that_means_nothing_is_refused_with_the_cure(qc, shop, name, value, cure):
    done = qc("shop", "set", name, value, store=shop)
    assert done.exit_code == 2
    assert cure in done.stderr


def test_a_negative_value_may_stand_behind_its_option(qc, shop):
    words = ["--characteristic", "bore_barrel", "--reading", "size", "--lower", "-5", "--upper", "5",
             "--unit", "um", "--source", "us"]  # fmt: skip
    done = qc("spec", "add", *words, store=shop)
    assert done.exit_code == 0, done.output
    rows = document(qc("spec", "list", "--json", store=shop))["specifications"]
    assert [(r["lower"], r["upper"]) for r in rows if r["characteristic"] == "bore_barrel"] == [(-5.0, 5.0)]


@pytest.mark.parametrize(("order", "day"), [("day_first", "2026-04-03"), ("month_first", "2026-03-04")])
def test_dates_are_read_in_the_order_that_was_set(qc, shop, tmp_path, order, day):
    sheet = tmp_path / "events.csv"
    sheet.write_text("machine,at,event\nhone-9,03/04/2026,stones_changed\n", encoding="utf-8")
    assert qc("shop", "set", "date_order", order, store=shop).exit_code == 0
    done = qc("ingest", sheet, store=shop)
    assert done.exit_code == 0, done.output
    (event,) = document(qc("event", "list", "--machine", "hone-9", "--json", store=shop))["events"]
    assert event["at"].startswith(day)
