"""The frame of readings, in both back ends."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from qc.errors import QuestionError
from qc.records import Asked
from qc.store import Store
from qc.store.nouns import clean
from qc.store.readings import COLUMNS
from tests.qc.store.given import DAY, MM, NOON, reading, sha, take


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


# each example makes a store, in a place of its own
_few = settings(
    max_examples=3,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)


@_few
@given(texts=st.lists(st.text(min_size=1, max_size=20), min_size=10, max_size=30, unique=True))
def test_any_text_can_be_kept(new_place, texts):
    with Store.open(new_place(), create=True) as store:
        ids = take(store, [reading(2, text=t, machine=t, column=t, note=t, sheet=t) for t in texts])
        assert len(set(ids)) == len(texts)
        shown = store.readings().set_index("id").loc[ids]
        for name in ("text", "machine", "column", "note", "sheet"):
            assert shown[name].tolist() == [clean(t) for t in texts]
