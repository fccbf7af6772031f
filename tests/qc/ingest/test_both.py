"""Files in and decisions about them, in both back ends: the answers are the same."""

from qc.ingest.held import decide
from qc.ingest.run import ingest


def test_a_shops_week_is_the_same_in_both_back_ends(store, file, bores, bore):
    with store.write(by="ann", command="set up") as write:
        write.set("zone", "UTC")
    week = bores(8, gauge="bg-2", target="96.000")
    odd = [bore(feature="cyl-9", value="3.78", target="96.000"), bore(feature="cyl-10", unit="millis"),
           bore(feature="cyl-11", measured_at="03/04/2026")]  # fmt: skip
    first = ingest(store, [file([*week, *odd], "week.csv")], by="ann").files[0]
    assert (first.rows, first.kept, first.held, first.already_kept) == (11, 8, 3, 0)
    changed = [week[0] | {"value": "96.400"}, *week[1:], bore(feature="cyl-12")]
    second = ingest(store, [file(changed, "again.csv")], by="ann").files[0]
    assert (second.rows, second.kept, second.held, second.already_kept) == (9, 1, 1, 7)
    copied = [row | {"measured_at": "2026-05-04"} for row in week]
    third = ingest(store, [file(copied, "copied.csv")], by="ann").files[0]
    assert (third.held, third.kept) == (8, 0)
    numbers = {
        f["code"]: f["id"] for r in (first, second, third) for f in r.findings if f["severity"] == "stop"
    }
    assert set(numbers) == {
        "far_from_target",
        "unknown_unit",
        "date_order",
        "reads_otherwise",
        "perhaps_again",
    }
    decide(store, numbers["far_from_target"], "correct", "inches", "ann")
    decide(store, numbers["unknown_unit"], "correct", "typo", "ann", "mm")
    decide(store, numbers["date_order"], "accept", "we write the day first", "ann")
    decide(store, numbers["reads_otherwise"], "accept", "read again", "ann")
    decide(store, numbers["perhaps_again"], "discard", "copied", "ann")
    assert store.findings().query("severity == 'stop'").empty
    frame = store.readings()
    assert len(frame) == 12
    assert sorted(i.rpartition(":")[2] for i in frame["id"] if "/" in i) == ["value/2", "value/2"]
    assert len(store.readings(status="all")) == 13
    assert store.settings()["date_order"] == "day_first"
    again = ingest(store, [file([*week, *odd, bore(feature="cyl-13")], "grown.csv")], by="ann").files[0]
    assert (again.kept, again.held, again.already_kept) == (1, 0, 11), again.findings
