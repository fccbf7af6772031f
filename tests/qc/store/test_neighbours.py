"""What a new file is compared with, in both back ends."""

from qc.records import Build, Event, HeldRow, Spec
from qc.store import known, neighbours
from tests.qc.store.given import batch, finding, reading, take


def test_readings_of_the_builds_asked_for_count_unless_voided(store):
    first, _, _ = take(store, [reading(2), reading(3, gauge="bg-2"), reading(4, build="K-18")])
    with store.write(by="bea", command="void") as write:
        write.void(first, "slipped")
    with store.write(by="bea", command="look") as write:
        (one,) = neighbours.of_builds(write, ["K-17", "K-99"])
        assert neighbours.of_builds(write, []) == []
    kept = reading(3, gauge="bg-2")
    for name in ("build", "machine", "operation", "characteristic", "method", "state", "feature",
    "station", "clock",
                 "trial", "pass_", "value", "made_at", "gauge", "relative"):  # fmt: skip
        assert getattr(one, name) == getattr(kept, name), name


def test_names_come_from_readings_and_from_registers(store):
    take(store, [reading(2, engine="v8", gauge="bg-2")])
    with store.write(by="bea", command="add") as write:
        write.add_builds(None, [Build("K-30", engine="i4")])
        write.add_events(
            None, [Event("gauge_reset", 1, gauge="bg-7"), Event("stones_changed", 1, machine="bar-1")]
        )
        write.add_specs(None, [Spec("ra", "size", "um", upper=1, operation="deck", engine="v6")])
    with store.write(by="bea", command="look") as write:
        assert neighbours.names(write) == {
            "machine": {"hone-2", "bar-1"}, "operation": {"finish_bore", "deck"}, "engine": {"v8", "i4",
            "v6"},
            "gauge": {"bg-2", "bg-7"},
        }  # fmt: skip


def test_a_row_once_unreadable_is_known_by_its_cells(store):
    cells = (("build", "K-17"), ("value", "OK"))
    with store.write(by="bea", command="ingest") as write:
        number = write.add_file(batch(), status="held", kept=0, held=1, already_kept=0)
        write.add_findings(number, [finding()], [HeldRow(2, None, 0, cells)])
    with store.write(by="bea", command="look") as write:
        asked = [cells, (("build", "K-17"), ("value", "ok")), cells[:1]]
        assert neighbours.once_unreadable(write, asked) == [True, False, False]


def test_a_record_in_force_or_further_up_is_known(store):
    spec = Spec("ra", "size", "um", upper=1)
    with store.write(by="bea", command="add") as write:
        write.add_specs(None, [spec])
    other = Spec("ra", "size", "um", upper=2)
    with store.write(by="bea", command="look") as write:
        assert neighbours.in_force(write, "spec", [spec, other, other]) == [True, False, True]
        write.withdraw("spec", 1, "superseded")
    with store.write(by="bea", command="look") as write:
        assert neighbours.in_force(write, "spec", [spec]) == [False]


def _plan(connection, statement, parameters) -> str:
    """How SQLite would go about a statement."""
    said = []
    raw = connection.connection.driver_connection
    raw.set_trace_callback(said.append)
    connection.execute(statement, parameters).all()
    raw.set_trace_callback(None)
    return "; ".join(row[3] for row in raw.execute(f"EXPLAIN QUERY PLAN {said[-1]}"))


def test_what_a_new_file_asks_reads_no_whole_series(sqlite_store):
    take(sqlite_store, [reading(2)])
    with sqlite_store.write(by="bea", command="look") as write:
        places = _plan(
            write.connection, known.READINGS["sqlite"], {"series": 1, "places": [b"1" * 16, b"2" * 16]}
        )
        builds = _plan(write.connection, neighbours.OF_BUILDS, {"some": ["K-17", "K-18"]})
        past = _plan(write.connection, neighbours.PAST, {"some": [1, 2], "most": 600})
    assert "(series_id=? AND place=?)" in places
    assert "context_build (build=?)" in builds
    assert "reading_row (context_id=?)" in builds
    assert "(series_id=? AND arrival>?)" in past
    assert "SCAN" not in places + builds + past


HONED = ("hone-2", "finish_bore", "bore_diameter", "two-point", "plate_on")


def test_the_past_of_series_is_their_last_readings_that_count(store):
    first, *_ = take(store, [reading(2), reading(3), reading(4, machine="hone-9"), reading(5)])
    with store.write(by="bea", command="void") as write:
        write.void(first, "slipped")
    other = ("hone-9", *HONED[1:])
    with store.write(by="bea", command="look") as write:
        found = neighbours.past(write, [HONED, other, ("hone-0", *HONED[1:])], 2)
        # three arrivals on hone-2, of which the last two are asked for
        assert {s: [r.feature for r in rows] for s, rows in found.items()} == {
            HONED: ["cyl-2", "cyl-4"], other: ["cyl-3"],
        }  # fmt: skip
        assert [r.arrival for r in neighbours.past(write, [HONED], 9)[HONED]] == [2, 3]


def test_what_an_operation_has_brought_is_counted_over_its_machines(store):
    take(store, [reading(2), reading(3, machine="hone-9"), reading(4, characteristic="ra", method="g")])
    with store.write(by="bea", command="look") as write:
        assert neighbours.brought_by(write, "finish_bore") == {"bore_diameter": 2, "ra": 1}
        assert neighbours.brought_by(write, "deck") == {}
