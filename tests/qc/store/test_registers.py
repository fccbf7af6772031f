"""Records other than readings, findings and decisions, in both back ends."""

import pytest

from qc.errors import QuestionError
from qc.records import Build, Event, Machine, Spec
from tests.qc.store.given import DAY, NOON, batch, fill, finding, held, reading, sha


def test_a_record_in_force_is_added_once_and_the_latest_of_a_name_is_meant(store):
    spec = Spec("bore_diameter", "deviation", "um", lower=-5, upper=5)
    with store.write(by="bea", command="spec") as write:
        assert write.add_specs(None, [spec, spec]) == 1
        assert write.add_builds(None, [Build("K-17", engine="V8"), Build("K-17", engine="six")]) == 2
        assert write.add_machines(None, [Machine("hone-2")]) == 1
    with store.write(by="bea", command="spec") as write:
        assert write.add_specs(None, [spec]) == 0
        assert write.add_builds(None, [Build("K-17", engine="six")]) == 0
    assert store.revision() == 1
    assert store.specs() == [spec]
    assert store.builds() == {"K-17": Build("K-17", engine="six")}
    assert len(store.records("build", all_rows=True)) == 2
    with store.write(by="bea", command="spec") as write:
        write.withdraw("spec", 1, "superseded")
    assert store.specs() == []
    assert store.specs(1) == [spec]
    with store.write(by="bea", command="spec") as write:
        assert write.add_specs(None, [spec]) == 1
    assert store.specs() == [spec]
    with pytest.raises(QuestionError, match="no spec number 9"), store.write(by="b", command="s") as write:
        write.withdraw("spec", 9, "none")
    with pytest.raises(QuestionError, match="ask for one of"):
        store.records("colour")


def test_events_come_in_order_of_time_with_their_source(store):
    fill(store)
    with store.write(by="bea", command="event") as write:
        write.add_events(None, [Event("gauge_reset", NOON - DAY, gauge="bg-1", at_is_date=True)])
    first, second = store.events()
    assert (first.event, first.at_is_date, first.source) == ("gauge_reset", True, None)
    assert second.source.place == f"{sha('records.csv')[:12]}:2:event"
    assert [e.event for e in store.events(as_of=2)] == ["stones_changed"]


def test_settings_are_the_latest_of_each_name(store):
    for value in ("UTC", "Europe/Lisbon"):
        with store.write(by="bea", command="shop") as write:
            write.set("zone", value)
    with store.write(by="bea", command="shop") as write:
        write.set("zone", "Europe/Lisbon")
    assert store.revision() == 2
    assert store.settings() == {"zone": "Europe/Lisbon"}
    assert store.settings(1) == {"zone": "UTC"}
    with store.write(by="bea", command="shop") as write:
        write.set("zone", None)
    assert store.settings() == {}


def test_a_finding_is_open_until_every_row_it_holds_is_decided(store):
    with store.write(by="ann", command="ingest") as write:
        number = write.add_file(batch("b.csv", rows=2), status="held", kept=0, held=2, already_kept=0)
        told = write.add_findings(number, [finding(), finding("new_name", "ask")], [
            held(3, name="b.csv"), held(4, name="b.csv"),
        ])  # fmt: skip
    assert told == [1, 2]
    assert store.findings()["held"].tolist() == [2, 0]
    assert store.held()["readings"].tolist() == [1, 1]
    assert store.held()["reading"][0] == reading(3, name="b.csv")
    assert store.held()["fields"][0] == {"machine": "hone-2", "value": "9.3"}
    with store.write(by="bea", command="held") as write:
        write.decide(1, "accept", "right", rows=[1])
    assert store.findings()["held"].tolist() == [1, 0]
    with store.write(by="bea", command="held") as write:
        write.decide(1, "discard", "wrong")
        write.decide(2, "accept", "a new name")
    assert store.findings().empty
    assert store.held().empty
    told = store.findings(open_only=False)
    assert told["decided"][0]["decision"] == "discard"
    assert told["decided"][1]["by"] == "bea"
    assert len(store.findings(as_of=1)) == 2
    assert store.counts()["held"] == 0
    with pytest.raises(QuestionError, match="already"), store.write(by="bea", command="held") as write:
        write.decide(1, "accept", "x")
    with pytest.raises(QuestionError, match="no finding 7"), store.write(by="bea", command="held") as write:
        write.decide(7, "accept", "x")

KEY = ("hone-2", "finish_bore", "bore_diameter", "two-point", "plate_on")


def test_the_latest_choice_of_a_name_counts_and_needs_a_reason(store):
    with store.write(by="ann", command="chart") as write:
        write.choose(KEY, "chart", "ewma", "slow walks matter here")
        write.choose(KEY, "family", "lognormal", "skewed")
    with store.write(by="bea", command="chart") as write:
        write.choose(KEY, "chart", None, "back to the usual")
        with pytest.raises(QuestionError, match="needs a reason"):
            write.choose(KEY, "chart", "cusum", " ")
    now, then = store.records("choice"), store.records("choice", 1)
    assert dict(zip(then["name"], then["value"], strict=True)) == {"chart": "ewma", "family": "lognormal"}
    assert now[now["name"] == "chart"]["by"].tolist() == ["bea"]
    assert now[now["name"] == "chart"]["value"].isna().all()


def test_the_life_of_a_matter_is_kept_in_order(store):
    for act in ("taken_up", "done"):
        with store.write(by="ann", command="matter") as write:
            write.note("matter", {"matter": "M-1", "act": act, "initials": "RB", "told": "{}"})
    assert store.records("matter")["act"].tolist() == ["taken_up", "done"]
    assert store.records("matter", 1)["act"].tolist() == ["taken_up"]
