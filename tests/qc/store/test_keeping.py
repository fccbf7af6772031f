"""Readings into the store: ids, versions, corrections, voids, what is known at a place; in both back ends."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from qc.errors import InputError, QuestionError, StoreError
from qc.store import Store
from tests.qc.store.given import MM, NOON, batch, finding, held, reading, sha, take


def test_the_id_is_file_row_and_column(store):
    sheet = reading(7, sheet="Bores", column="D", feature="cyl-9")
    ids = take(store, [reading(2), sheet])
    start = sha("a.csv")[:12]
    assert ids == [f"{start}:2:value", f"{start}:Bores!7:D"]


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


def test_a_value_no_gauge_shows_is_refused(store):
    with pytest.raises(InputError, match="far outside"):
        take(store, [reading(2, value=2**63)])
    assert store.revision() == 0


# each example makes a store, in a place of its own
_few = settings(
    max_examples=3,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)


@_few
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
