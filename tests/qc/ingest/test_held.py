"""Decisions: each one revision, nothing lost, nothing asked twice."""

import io

import openpyxl
import pytest

from qc.errors import InputError, QuestionError
from qc.ingest.held import decide
from qc.records import Asked


@pytest.fixture
def waiting(shop, taken):
    """Number of the one finding of severity stop of a file."""

    def number(rows, name="bores.csv"):
        (finding,) = [f for f in taken(rows, name).findings if f["severity"] == "stop"]
        return finding["id"]

    return number


@pytest.fixture
def decided(shop):
    return lambda number, decision, correction=None: decide(
        shop, number, decision, "because", "ann", correction
    )


def _values(shop) -> dict[str, int]:
    frame = shop.readings()
    return dict(zip(frame["id"], frame["value"], strict=True))


def test_inches_are_converted_as_proposed_under_the_same_id_with_a_number(
    shop, bores, bore, waiting, decided
):
    rows = [*bores(6, target="96.000"), bore(feature="cyl-7", value="3.78", target="96.000"),
            bore(feature="cyl-8", value="3.7803", target="96.000")]  # fmt: skip
    number = waiting(rows)
    before = shop.revision()
    done = decided(number, "correct")
    assert (done.kept, done.held, done.revision) == (2, 0, before + 1)
    corrected = {k: v for k, v in _values(shop).items() if k.endswith("/2")}
    # 3.78 in = 96.012 mm and 3.7803 in = 96.01962 mm, exactly
    assert {k[-9:]: v for k, v in corrected.items()} == {
        "8:value/2": 9_601_200_000,
        "9:value/2": 9_601_962_000,
    }
    assert shop.findings()["code"].tolist().count("far_from_target") == 0
    last = shop.revisions().iloc[-1]
    assert (last["by"], last["command"], last["reason"]) == ("ann", "held correct", "because")


def test_far_readings_are_taken_as_they_stand_when_accepted(shop, bores, bore, waiting, decided):
    number = waiting([*bores(6), bore(feature="cyl-8", value="3.78")])
    assert decided(number, "accept").kept == 1
    (value,) = [v for k, v in _values(shop).items() if k.endswith(":8:value")]
    assert value == 378_000_000


@pytest.mark.parametrize("decision", ["accept", "correct", "discard"])
def test_a_decision_once_taken_is_not_asked_again(
    shop, taken, bores, bore, waiting, decided, codes, decision
):
    rows = [*bores(6), bore(feature="cyl-8", value="3.78")]
    number = waiting(rows)
    decided(number, decision)
    grown = taken([*rows, bore(feature="cyl-7", value="96.01")])
    assert (grown.kept, grown.held, grown.already_kept, codes(grown)) == (1, 0, 7, [])
    with pytest.raises(QuestionError, match="decided in revision"):
        decided(number, "accept")


def test_discarded_rows_count_nowhere_and_stay_in_the_store(shop, bores, bore, waiting, decided):
    number = waiting([*bores(6), bore(feature="cyl-8", value="3.78")])
    decided(number, "discard")
    assert len(shop.readings()) == 6
    assert shop.held().empty
    assert len(shop.held(open_only=False)) == 1


def test_an_unknown_unit_is_corrected_for_all_rows_or_for_one(shop, bore, waiting, decided):
    rows = [bore(feature=f"cyl-{i}", unit="millis") for i in (1, 2, 3)]
    number = waiting(rows)
    with pytest.raises(QuestionError, match="cannot be read as they are"):
        decided(number, "accept")
    with pytest.raises(QuestionError, match="no proposal"):
        decided(number, "correct")
    with pytest.raises(InputError, match="cannot be read either"):
        decided(number, "correct", "furlong")
    assert shop.readings().empty
    assert decided(number, "correct", {"3:unit": "in", "3:value": "3.78"}).kept == 1
    assert len(shop.held()) == 2
    assert decided(number, "correct", "mm").kept == 2
    assert sorted(_values(shop).values()) == [9_601_200_000] * 3
    assert all(k.endswith("/2") for k in _values(shop))


def test_a_nearest_characteristic_is_taken_on_correct(shop, bore, waiting, decided):
    decided(waiting([bore(characteristic="bore diametre")]), "correct")
    assert shop.readings()["characteristic"].tolist() == ["bore_diameter"]


def test_a_row_with_two_faults_waits_under_the_second_when_the_first_is_corrected(shop, taken, bore, decided):
    result = taken([bore(unit="millis", measured_at="2026-02-30")])
    first, second = (f["id"] for f in result.findings if f["severity"] == "stop")
    with pytest.raises(QuestionError, match=f"wait under finding {first}"):
        decided(second, "correct", "2026-02-28")
    done = decided(first, "correct", "mm")
    assert (done.kept, done.held) == (0, 1)
    (still,) = shop.findings().query("severity == 'stop'").itertuples()
    assert still.code == "impossible_date"
    assert decided(int(still.id), "correct", "2026-02-28").kept == 1
    assert shop.readings()["unit"].tolist() == ["mm"]
    assert shop.readings()["id"].iloc[0].endswith(":2:value/2")
    assert shop.findings().query("severity == 'stop'").empty


def test_both_faults_of_a_row_can_be_corrected_at_once(shop, taken, bore, decided):
    result = taken([bore(unit="millis", measured_at="2026-02-30")])
    first = next(f["id"] for f in result.findings if f["severity"] == "stop")
    assert decided(first, "correct", {"unit": "mm", "measured_at": "2026-02-28"}).kept == 1
    assert shop.findings().query("severity == 'stop'").empty


def test_the_answer_about_dates_is_kept_as_the_shops_setting_and_all_that_waits_comes_in(
    shop, taken, bores, waiting, decided
):
    number = waiting(bores(3, build="B-1", measured_at="03/04/2026"), "a.csv")
    waiting(bores(3, build="B-2", measured_at="05/06/2026 08:15"), "b.csv")
    assert decided(number, "accept").kept == 6
    assert shop.settings()["date_order"] == "day_first"
    day = 86_400_000_000
    made = shop.readings(Asked(build=("B-1",)))["made_at"].unique().tolist()
    assert made == [20_546 * day + day // 2]  # 3 April 2026
    assert shop.held().empty
    later = taken(bores(2, build="B-3", measured_at="04/05/2026"), "c.csv")
    assert (later.kept, later.held) == (2, 0)
    assert ("note", "date_order") in [(f["severity"], f["code"]) for f in later.findings]


def test_the_month_comes_first_when_the_question_is_answered_with_correct(shop, bores, waiting, decided):
    decided(waiting(bores(2, measured_at="04/03/2026")), "correct")
    assert shop.settings()["date_order"] == "month_first"
    assert shop.readings()["made_at"].unique().tolist() == [20_546 * 86_400_000_000 + 43_200_000_000]


def test_a_question_about_dates_is_put_in_words(taken, bores):
    result = taken(bores(2, measured_at="03/04/2026"))
    (finding,) = [f for f in result.findings if f["code"] == "date_order"]
    assert finding["doubt"].startswith("Is 03/04/2026 the 3rd of April?")


def test_serial_dates_are_read_once_accepted_and_set_nothing(shop, bores, waiting, decided):
    assert decided(waiting(bores(2, measured_at="45321.25")), "accept").kept == 2
    assert "date_order" not in shop.settings()
    # 2024-01-30 06:00 is day 19752 since 1970 and a quarter
    assert shop.readings()["made_at"].unique().tolist() == [19_752 * 86_400_000_000 + 21_600_000_000]


def test_accepting_another_value_voids_the_one_that_counted(shop, taken, bores, waiting, decided):
    taken(bores(3))
    number = waiting([bores(3)[0] | {"value": "96.200"}], "later.csv")
    assert decided(number, "accept").kept == 1
    counting = shop.readings()
    assert sorted(counting["value"]) == [9_601_100_000, 9_601_200_000, 9_620_000_000]
    everything = shop.readings(status="all")
    assert len(everything) == 4
    assert everything["voided_in"].notna().sum() == 1


def test_accepting_two_contradictions_of_one_place_lets_the_last_count(shop, taken, bore, decided):
    result = taken([bore(), bore(value="96.013"), bore(value="96.014")])
    (finding,) = [f for f in result.findings if f["severity"] == "stop"]
    decided(finding["id"], "accept")
    assert shop.readings()["value"].tolist() == [9_601_400_000]
    assert len(shop.readings(status="all")) == 3


def test_the_same_sheet_accepted_as_measured_again_counts_beside_the_first(
    shop, taken, bores, waiting, decided
):
    taken(bores(8, measured_at="2026-04-03"))
    number = waiting(bores(8, measured_at="2026-05-03"), "again.csv")
    assert decided(number, "accept").kept == 8
    assert len(shop.readings()) == 16


def test_a_deviation_waits_until_its_target_is_known(shop, taken, bore, waiting, decided):
    number = waiting([bore(reading="deviation", unit="um", value="12")])
    done = decided(number, "accept")
    assert (done.kept, done.held) == (0, 1)
    (finding,) = shop.findings().query("code == 'no_target'").itertuples()
    taken([{"build": "B-104", "characteristic": "bore_diameter", "reading": "size", "target": "96",
    "unit": "mm"}],
          "plan.csv")  # fmt: skip
    assert decided(int(finding.id), "accept").kept == 1
    assert shop.readings()[["value", "relative"]].to_numpy().tolist() == [[1_200_000, True]]


def _hidden_workbook(rows) -> bytes:
    book = openpyxl.Workbook()
    columns = list(rows[0])
    for row in [columns] + [[r[c] for c in columns] for r in rows]:
        book.active.append(row)
    book.active.row_dimensions[3].hidden = True
    sheet = book.copy_worksheet(book.active)
    sheet.title, sheet.sheet_state = "old", "hidden"
    for cell in list(sheet["A"])[1:]:
        cell.value = "B-9"
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def test_hidden_rows_and_sheets_are_held_and_come_in_when_accepted(shop, taken, bores, decided):
    result = taken(_hidden_workbook(bores(4)), "bores.xlsx")
    assert (result.rows, result.kept, result.held) == (8, 3, 5)
    numbers = {f["code"]: f["id"] for f in result.findings if f["severity"] == "stop"}
    assert set(numbers) == {"hidden_row", "hidden_sheet"}
    assert decided(numbers["hidden_row"], "accept").kept == 1
    decided(numbers["hidden_sheet"], "discard")
    frame = shop.readings()
    assert len(frame) == 4
    assert f"{result.sha256[:12]}:Sheet!3:value" in set(frame["id"])


def test_a_near_name_is_corrected_to_the_known_one(shop, taken, bores, bore, decided):
    taken(bores(2, machine="hone-2"))
    result = taken([bore(machine="Hone-2", feature=f"cyl-{i}") for i in (4, 5)], "late.csv")
    (ask,) = [f for f in result.findings if f["severity"] == "ask"]
    done = decided(ask["id"], "correct")
    assert done.kept == 2
    frame = shop.readings()
    assert set(frame["machine"]) == {"hone-2"}
    assert len(frame) == 4
    assert sum(i.endswith("/2") for i in frame["id"]) == 2


def test_an_event_of_a_near_name_is_withdrawn_and_added_under_the_known_one(shop, taken, bores, decided):
    taken(bores(2, machine="hone-2"))
    result = taken([{"machine": "hone2", "at": "2026-04-03", "event": "stones_changed"}], "events.csv")
    (ask,) = [f for f in result.findings if f["severity"] == "ask"]
    decided(ask["id"], "correct")
    assert [e.machine for e in shop.events()] == ["hone-2"]


def test_mixed_decimal_marks_are_asked_about_and_can_be_voided(shop, taken, bores, bore, decided):
    result = taken([*bores(4), bore(feature="cyl-7", value="96,012")])
    (ask,) = [f for f in result.findings if f["severity"] == "ask"]
    assert (ask["code"], result.kept) == ("decimal_marks", 5)
    decided(ask["id"], "discard")
    assert len(shop.readings()) == 4


def test_a_decision_needs_a_reason_a_finding_and_one_of_three_words(shop, bore, waiting):
    number = waiting([bore(unit="millis")])
    for arguments, words in (
        ((number, "discard", "  "), "needs a reason"), ((number, "burn", "x"), "no decision"), ((99,
        "discard", "x"), "no finding 99"),
    ):  # fmt: skip
        with pytest.raises(QuestionError, match=words):
            decide(shop, *arguments, "ann")


def test_a_file_that_could_not_be_read_can_only_be_discarded(shop, taken, decided):
    (finding,) = taken(b"%PDF-1.7", "sheet.pdf").findings
    with pytest.raises(QuestionError, match="could not be read at all"):
        decided(finding["id"], "accept")
    decided(finding["id"], "discard")
    assert shop.findings().empty
    assert taken(b"%PDF-1.7", "sheet.pdf").status == "already_kept"
