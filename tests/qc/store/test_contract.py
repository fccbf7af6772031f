"""What every back end promises; each test runs over SQLite and PostgreSQL."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy.exc import DBAPIError

from qc.errors import InputError, QuestionError, StoreError, StoreMissing
from qc.records import Asked, Build, Event, Machine, Spec
from qc.store import Store, tables
from qc.store.nouns import clean
from qc.store.readings import COLUMNS
from tests.qc.store.given import DAY, MM, NOON, batch, fill, finding, held, reading, sha, take

# each example makes a store, in a place of its own
_few = settings(
    max_examples=3,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)


def test_a_store_that_is_not_there_is_not_made_by_looking(new_place):
    place = new_place()
    with pytest.raises(StoreMissing, match="qc ingest"):
        Store.open(place)
    with pytest.raises(StoreMissing):
        Store.open(place)


def test_what_was_written_is_there_when_opened_again(new_place):
    place = new_place()
    with Store.open(place, create=True) as store:
        ids = take(store, [reading(2), reading(3)])
    with Store.open(place, create=True) as store:
        assert list(store.readings()["id"]) == ids


def test_the_id_is_file_row_and_column(store):
    sheet = reading(7, sheet="Bores", column="D", feature="cyl-9")
    ids = take(store, [reading(2), sheet])
    start = sha("a.csv")[:12]
    assert ids == [f"{start}:2:value", f"{start}:Bores!7:D"]


def test_every_field_of_a_reading_comes_back(store):
    told = reading(
        2, engine="straight six", serial="s1", station=10 * MM, clock=9_000_000, trial=2, pass_=3, order=4,
        target=93 * MM, lower=93 * MM - 5, upper=93 * MM + 5, made_is_date=True, gauge="bg-1", operator="ann",
        sized_with="bg-2", master="ring", torque="90 Nm", material="iron", part_c=21.5, gauge_c=20.25,
        note="warm", sheet="S", text=" 93,00002 ",
    )  # fmt: skip
    take(store, [told])
    row = store.readings().iloc[0]
    for name in (
        "machine", "operation", "characteristic", "method", "state", "feature", "value", "unit",
        "measured_at", "made_at", "build", "engine", "serial", "relative", "target", "lower", "upper",
        "station", "clock", "trial", "order", "made_is_date", "gauge", "operator", "sized_with", "master",
        "torque", "material", "part_c", "gauge_c", "note",
    ):  # fmt: skip
        assert row[name] == getattr(told, name), name
    assert row["pass"] == 3
    assert (row["sheet"], row["row"], row["column"], row["text"]) == ("S", 2, "value", " 93,00002 ")
    assert (row["file"], row["sha256"], row["revision"], row["version"]) == ("a.csv", sha("a.csv"), 1, 1)


def test_blank_fields_come_back_blank(store):
    take(store, [reading(2, build=None)])
    row = store.readings().iloc[0]
    blank = ["build", "engine", "gauge", "note", "sheet", "station", "clock", "pass", "order", "target",
    "lower",
             "upper", "part_c", "voided_in"]  # fmt: skip
    assert row[blank].isna().all()


def test_empty_frames_have_their_columns_and_types(store):
    for shown in (store.readings(), store.readings(status="all"), store.readings(Asked(machine=("no",)))):
        assert {name: str(kind) for name, kind in shown.dtypes.items()} == COLUMNS
        assert len(shown) == 0
    assert store.series().empty
    assert "last_revision" in store.series()
    assert "proposal" in store.findings()
    assert "fields" in store.held()
    assert "lower" in store.records("spec")
    assert store.revision() == 0
    assert store.counts()["readings"] == 0


def test_a_revision_is_numbered_and_says_who_and_why(store):
    take(store, [reading(2)])
    with store.write(by="bea", command="void", reason="slipped") as write:
        assert write.revision == 2
        write.void(store.readings()["id"][0], "slipped")
    told = store.revisions()
    assert list(told["number"]) == [1, 2]
    assert list(told["by"]) == ["ann", "bea"]
    assert told["reason"].isna().tolist() == [True, False]
    assert told["at"].is_monotonic_increasing


def test_a_write_that_adds_nothing_leaves_no_revision(store):
    with store.write(by="ann", command="ingest") as write:
        assert write.add_readings(1, []) == []
        write.set("zone", None)
    assert store.revision() == 0


def test_a_write_that_fails_leaves_nothing(store):
    take(store, [reading(2)])

    def fail():
        with store.write(by="ann", command="ingest") as write:
            number = write.add_file(batch("b.csv"), status="kept", kept=1, held=0, already_kept=0)
            write.add_readings(number, [reading(2, name="b.csv", machine="hone-3")])
            write.set("zone", "UTC")
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fail()
    assert store.revision() == 1
    assert list(store.series()["machine"]) == ["hone-2"]
    assert store.settings() == {}
    assert len(store.files()) == 1
    assert take(store, [reading(2, name="b.csv", machine="hone-3")], "b.csv")


def test_what_is_recorded_can_neither_be_changed_nor_deleted(store):
    fill(store)
    for table in tables.OF_RECORD:
        before = _rows(store, table)
        assert before, table.name
        for change in _changes(store, table):
            with store.database.engine.connect() as raw, pytest.raises(DBAPIError, match="never changed"):
                raw.exec_driver_sql(change)
        assert _rows(store, table) == before


def _changes(store, table):
    column = next(c.name for c in table.columns if not c.primary_key)
    yield f'UPDATE "{table.name}" SET "{column}" = "{column}"'
    yield f'DELETE FROM "{table.name}"'
    if store.database.path is None:
        yield f'TRUNCATE "{table.name}" CASCADE'
    else:
        names = ", ".join(f'"{c.name}"' for c in table.columns)
        yield f'INSERT OR REPLACE INTO "{table.name}" ({names}) SELECT {names} FROM "{table.name}"'


def _rows(store, table):
    with store.database.reading() as connection:
        return sorted(map(repr, connection.execute(table.select())))


def test_a_correction_has_its_own_id_and_voids_what_it_replaces(store):
    first, other = take(store, [reading(2), reading(3)])
    with store.write(by="bea", command="correct", reason="misread") as write:
        (second,) = write.add_readings(1, [reading(2, value=93 * MM + 7)], replaces={0: first})
    with store.write(by="bea", command="correct") as write:
        (third,) = write.add_readings(1, [reading(2, value=93 * MM + 9)], replaces={0: second})
    assert (second, third) == (first + "/2", first + "/3")
    assert list(store.readings()["id"]) == [third, other]
    every = store.readings(status="all").set_index("id")
    assert every.loc[[first, second, third], "version"].tolist() == [1, 2, 3]
    assert every.loc[[first, second], "voided_in"].tolist() == [2, 3]
    assert every["voided_in"].isna().sum() == 2


def test_what_a_person_corrected_before_it_ever_counted_has_a_slash_too(store):
    with store.write(by="bea", command="correct") as write:
        number = write.add_file(batch(), status="held", kept=0, held=1, already_kept=0)
        ids = write.add_readings(number, [reading(2)], suffix=2)
    assert ids == [f"{sha('a.csv')[:12]}:2:value/2"]
    with store.write(by="bea", command="void") as write:
        write.void(ids[0], "no")
    assert store.readings().empty


def test_two_readings_never_count_at_one_place(store):
    take(store, [reading(2)])
    again = reading(9, name="b.csv", feature="cyl-1", made_at=NOON + 2, value=1)
    with pytest.raises(StoreError, match="which one"):
        take(store, [again], "b.csv")
    with pytest.raises(StoreError, match="which one"):
        take(store, [reading(2, name="c.csv", build="K-18"), reading(2, name="c.csv", build="K-18")], "c.csv")
    assert store.revision() == 1


def test_a_reading_is_voided_once(store):
    (first,) = take(store, [reading(2)])
    with store.write(by="bea", command="void") as write:
        write.void(first, "slipped")
    with pytest.raises(QuestionError, match="revision 2"), store.write(by="bea", command="void") as write:
        write.void(first, "slipped")
    with pytest.raises(QuestionError, match="no reading"), store.write(by="bea", command="void") as write:
        write.void(first + "/2", "slipped")
    assert store.revision() == 2


def test_known_tells_every_version_and_what_waits_or_was_discarded(store):
    (first,) = take(store, [reading(2, target=93 * MM)])
    with store.write(by="bea", command="correct") as write:
        write.add_readings(1, [reading(2, value=5)], replaces={0: first})
        number = write.add_file(batch("b.csv", rows=2), status="held", kept=0, held=2, already_kept=0)
        write.add_findings(number, [finding()], [
            held(2, name="b.csv", feature="cyl-1", made_at=NOON + 2, value=6),
            held(3, name="b.csv", value=7),
            held(4, name="b.csv", value=8),
        ])  # fmt: skip
    with store.write(by="bea", command="held") as write:
        write.decide(1, "discard", "no", rows=[2])
        write.decide(1, "accept", "yes", rows=[3])
    with store.write(by="ann", command="ingest") as write:
        here, discarded, accepted, new = write.known([
            reading(2, name="c.csv"), reading(3, name="c.csv"), reading(4, name="c.csv"),
            reading(5, name="c.csv", machine="hone-7"),
        ])  # fmt: skip
    assert [(k.value, k.status, k.version) for k in here] == [
        (93 * MM + 2, "voided", 1), (5, "counts", 2), (6, "held", 0),
    ]  # fmt: skip
    assert here[0].target == 93 * MM
    assert (here[0].reading_id, here[1].reading_id, here[2].reading_id) == (first, first + "/2", None)
    assert [(k.value, k.status) for k in discarded] == [(7, "discarded")]
    assert accepted == new == []


def test_a_place_is_all_that_identifies_it(store):
    take(store, [reading(2)])
    others = [{"gauge": "bg-2"}, {"pass_": 1}, {"trial": 2}, {"clock": 0}, {"build": None}, {"made_at": NOON}]
    with store.write(by="ann", command="ingest") as write:
        same_place, *known = write.known(
            [reading(2, name="b.csv", value=1, note="x"), *(reading(2, **change) for change in others)]
        )
    assert len(same_place) == 1
    assert known == [[]] * len(others)


def test_a_file_is_taken_in_once_and_its_content_kept(store):
    take(store, [reading(2)])
    assert store.file_content(sha("a.csv")) == b"a.csv"
    with store.write(by="ann", command="ingest") as write:
        told = write.file(sha("a.csv"))
        assert (told["file_id"], told["kept"], told["status"]) == (1, 1, "kept")
        assert write.file(sha("b.csv")) is None
    with pytest.raises(StoreError, match="already, as a.csv"):
        take(store, [reading(3)])
    with pytest.raises(QuestionError, match="no file"):
        store.file_content(sha("b.csv"))


def test_readings_come_in_the_order_of_series_time_order_trial_and_arrival(store):
    rows = [
        reading(2, machine="hone-9"), reading(3, made_at=NOON + 50), reading(4, made_at=NOON + 9, order=2),
        reading(5, made_at=NOON + 9), reading(6, made_at=NOON + 9, order=1, trial=2),
        reading(7, made_at=NOON + 9, order=1), reading(8, characteristic="bore_taper"),
        reading(9, made_at=NOON + 9, order=1),
    ]  # fmt: skip
    take(store, rows)
    assert store.readings()["row"].tolist() == [7, 9, 6, 4, 5, 3, 8, 2]


def test_filters_of_one_kind_widen_and_of_several_narrow(store):
    take(store, [
        reading(2, gauge="bg-1"), reading(3, gauge="bg-2", build="K-18", engine="V8"), reading(4,
        machine="hone-3"), reading(5, state="plate_off", made_at=NOON + DAY),
    ])  # fmt: skip

    def rows(**asked):
        return sorted(store.readings(Asked(**asked))["row"])

    assert rows(gauge=("bg-1", "bg-2")) == [2, 3]
    assert rows(machine=("hone-2", "hone-3"), feature=("cyl-1", "cyl-3")) == [2, 4]
    assert rows(build=("K-18",)) == rows(engine=("V8",)) == [3]
    assert rows(build=("K-18",), gauge=("bg-1",)) == []
    assert rows(state=("plate_off",), method=("two-point",), operation=("finish_bore",)) == [5]
    assert rows(characteristic=("nothing",)) == []
    assert rows(since=NOON + 4) == [4, 5]
    assert rows(since=NOON + 3, until=NOON + 4) == [3, 4]


@pytest.mark.parametrize(
    ("scope", "rows"),
    [
        ({"feature": "cyl-1"}, {2}),
        ({"machine": ["hone-2"], "build": ("K-17", "K-18")}, {2, 3}),
        ({"since": NOON + 3, "until": NOON + 3}, {3}),
        ({"gauge": "bg-9"}, set()),
    ],
)
def test_an_excluded_reading_is_shown_and_marked(store, scope, rows):
    take(store, [reading(2), reading(3), reading(4, machine="hone-3")])
    with store.write(by="bea", command="exclude") as write:
        write.exclude(scope, "burr")
    shown = store.readings()
    assert len(shown) == 3
    assert set(shown["row"][shown["excluded"]]) == rows
    assert not store.readings(Asked(as_of=1))["excluded"].any()
    with store.write(by="bea", command="exclude") as write:
        write.withdraw("exclusion", 1, "no burr")
    assert not store.readings()["excluded"].any()
    assert store.readings(Asked(as_of=2))["excluded"].sum() == len(rows)


@pytest.mark.parametrize(
    ("scope", "reason", "cure"),
    [({}, "x", "name the reading"), ({"colour": "red"}, "x", "colour"), ({"build": "K-17"}, " ", "a reason")],
)
def test_an_exclusion_without_scope_or_reason_is_refused(store, scope, reason, cure):
    with pytest.raises(QuestionError, match=cure), store.write(by="bea", command="exclude") as write:
        write.exclude(scope, reason)


def test_series_are_summed_up_and_follow_voids(store):
    ids = take(store, [reading(2), reading(3), reading(4, machine="hone-1")])
    with store.write(by="bea", command="void") as write:
        write.void(ids[0], "slipped")
    told = store.series()
    assert told["machine"].tolist() == ["hone-1", "hone-2"]
    assert told["readings"].tolist() == [1, 1]
    assert told["first_at"].tolist() == [NOON + 4, NOON + 3]
    assert told["last_revision"].tolist() == [1, 2]
    assert store.series(1)["readings"].tolist() == [1, 2]
    assert store.series(0).empty
    with store.write(by="bea", command="void") as write:
        write.void(ids[1], "slipped")
    assert store.series()["machine"].tolist() == ["hone-1"]
    take(store, [reading(3, name="b.csv", made_at=NOON - 5)], "b.csv")
    assert store.series()["first_at"].tolist() == [NOON + 4, NOON - 5]


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


def test_as_of_takes_a_number_or_a_time(store):
    take(store, [reading(2)])
    take(store, [reading(2, name="b.csv", build="K-18")], "b.csv")
    assert [store.revision("1"), store.revision(2), store.revision(" 0 ")] == [1, 2, 0]
    assert store.revision("2001-01-01") == 0
    assert store.revision("2999-12-31") == 2
    assert store.revision("2999-12-31T10:00+01:00") == 2
    at = int(store.revisions()["at"][0])
    exact = (
        f"{__import__('datetime').datetime.fromtimestamp(at / 1e6, __import__('datetime').UTC).isoformat()}"
    )
    assert store.revision(exact) in (1, 2)
    with pytest.raises(QuestionError, match="newest is 2"):
        store.revision(3)
    with pytest.raises(QuestionError, match="no revision"):
        store.revision("yesterday")


def test_a_date_alone_is_the_end_of_that_day_in_the_shops_zone(store, monkeypatch):
    # 2026-05-31T23:30 in Auckland (UTC+12 in May) is 11:30 UTC of the same day.
    monkeypatch.setattr("time.time_ns", lambda: 1_780_227_000_000_000_000)
    with store.write(by="bea", command="shop") as write:
        write.set("zone", "Pacific/Auckland")
    assert store.revision("2026-05-30") == 0
    assert store.revision("2026-05-31") == 1
    assert store.revision("2026-05-31T23:29") == 0
    assert store.revision("2026-05-31T23:30") == 1


def test_a_clock_set_back_does_not_turn_revisions_round(store, monkeypatch):
    take(store, [reading(2)])
    monkeypatch.setattr("time.time_ns", lambda: 0)
    with store.write(by="bea", command="shop") as write:
        write.set("zone", "UTC")
    assert store.revisions()["at"].is_monotonic_increasing


def test_a_value_no_gauge_shows_is_refused(store):
    with pytest.raises(InputError, match="far outside"):
        take(store, [reading(2, value=2**63)])
    assert store.revision() == 0


_NAMES = (
    "O'Hara \"x\"", "100 %", "a;DROP TABLE reading;--", "%s %(a)s {0} :x ?", "Größe µm 孔", "\\N\t\r\n",
    "\x00x"
)  # fmt: skip


def test_names_come_back_as_they_were(store):
    for n, name in enumerate(_NAMES):
        told = dict.fromkeys(("machine", "build", "gauge", "feature", "note", "text", "column"), name)
        take(store, [reading(2, name=f"{n}{name}", **told)], f"{n}{name}")
        kept = name.replace("\x00", "\N{SYMBOL FOR NULL}")
        shown = store.readings(Asked(machine=(kept,), build=(kept,), feature=(kept,), gauge=(kept,)))
        assert shown[list(told)].to_numpy().tolist() == [[kept] * len(told)]
        assert shown["file"].tolist() == [f"{n}{kept}"]
        with store.write(by=name, command=name, reason=name) as write:
            write.void(shown["id"][0], name)
        assert store.revisions().iloc[-1][["by", "command", "reason"]].tolist() == [kept] * 3
    assert store.readings().empty


_EVERY_KIND = ("spec", "event", "gauge", "build", "machine", "plan", "setting", "set_limit", "exclusion")


def seen(store, as_of=None):
    """All that can be asked of a store, as of a revision."""
    frames = [store.readings(Asked(as_of=as_of), status=status) for status in ("counts", "all")]
    frames += [store.records(kind, as_of) for kind in _EVERY_KIND]
    # the last touching revision is of the newest state only
    frames += [store.series(as_of).drop(columns=["last_revision"])]
    frames += [store.findings(as_of=as_of), store.findings(as_of=as_of, open_only=False)]
    return [*frames, store.held(as_of=as_of), store.held(as_of=as_of, open_only=False)]


def late_file(store, n):
    take(store, [reading(2, name=f"{n}.csv", made_at=NOON - n * DAY)], f"{n}.csv")


def void(store, n):
    there = store.readings()
    if len(there):
        with store.write(by="bea", command="void") as write:
            write.void(there["id"][n % len(there)], "slipped")


def correct(store, n):
    there = store.readings()
    if len(there):
        old = there.iloc[n % len(there)]
        with store.write(by="bea", command="correct") as write:
            write.add_readings(int(old["file_id"]), [
                reading(int(old["row"]), name=old["file"], value=n, made_at=int(old["made_at"])),
            ], replaces={0: old["id"]})  # fmt: skip


def back_dated(store, n):
    with store.write(by="bea", command="spec") as write:
        write.add_specs(
            None, [Spec("bore_diameter", "deviation", "um", lower=-n, upper=n, since=NOON - n * DAY)]
        )
        write.add_events(None, [Event("stones_changed", NOON - n * DAY, machine="hone-2")])


def withdraw(store, n):
    for kind in ("spec", "event", "exclusion"):
        there = store.records(kind)
        if len(there):
            with store.write(by="bea", command="withdraw") as write:
                write.withdraw(kind, int(there["seq"][n % len(there)]), "moved")


def exclude(store, n):
    with store.write(by="bea", command="exclude") as write:
        write.exclude({"until": NOON - n * DAY, "machine": "hone-2"}, f"burr {store.revision()}")


def doubt(store, n):
    with store.write(by="ann", command="ingest") as write:
        name = f"doubt-{n}.csv"
        number = write.add_file(batch(name), status="held", kept=0, held=1, already_kept=0)
        write.add_findings(number, [finding()], [held(3, name=name)])


def decide(store, n):
    there = store.findings()
    if len(there):
        with store.write(by="bea", command="held") as write:
            write.decide(int(there["id"][n % len(there)]), ("accept", "correct", "discard")[n % 3], "so")


def settle(store, n):
    with store.write(by="bea", command="shop") as write:
        write.set("false_alarms_a_month", str(n))
        write.add_builds(None, [Build("K-17", note=str(n))])


_DEEDS = (late_file, void, correct, back_dated, withdraw, exclude, doubt, decide, settle)


@settings(
    max_examples=8,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(deeds=st.lists(st.tuples(st.sampled_from(_DEEDS), st.integers(0, 4)), min_size=8, max_size=12))
def test_what_an_old_revision_showed_never_changes(new_place, deeds):
    with Store.open(new_place(), create=True) as store:
        shown = {0: seen(store)}
        for n, (deed, choice) in enumerate([(late_file, 1), (late_file, 2), *deeds]):
            # late_file and doubt need a new name each time; an exclusion of the same scope is refused
            deed(store, n + 10 if deed in (late_file, doubt, exclude) else choice)
            shown[store.revision()] = seen(store)
        for number, before in shown.items():
            for was, now in zip(before, seen(store, number), strict=True):
                assert was.equals(now), number


@settings(
    max_examples=4,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(texts=st.lists(st.text(min_size=1, max_size=20), min_size=10, max_size=30, unique=True))
def test_any_text_can_be_kept(new_place, texts):
    with Store.open(new_place(), create=True) as store:
        ids = take(store, [reading(2, text=t, machine=t, column=t, note=t, sheet=t) for t in texts])
        assert len(set(ids)) == len(texts)
        shown = store.readings().set_index("id").loc[ids]
        for name in ("text", "machine", "column", "note", "sheet"):
            assert shown[name].tolist() == [clean(t) for t in texts]


@settings(
    max_examples=4,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    columns=st.lists(
        st.text(max_size=20) | st.just("value/2") | st.just("S!3:value"), max_size=9, unique=True
    )
)
def test_a_reading_is_found_by_its_id_whatever_its_column_is_called(new_place, columns):
    with Store.open(new_place(), create=True) as store:
        ids = take(store, [reading(2, column=c, trial=n + 1) for n, c in enumerate(columns)])
        for n, one in enumerate(ids):
            with store.write(by="bea", command="void") as write:
                write.void(one, "x")
            assert len(store.readings()) == len(columns) - n - 1
            assert one not in set(store.readings()["id"])
