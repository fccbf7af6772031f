"""Matters in the drift answer, over files taken in as everybody takes them in."""

import pandas as pd
import pytest

from qc.errors import InputError, QuestionError
from qc.history.zone import microseconds
from qc.records import Asked
from qc.reports import acts, drift, matter_words
from tests.qc.reports.textured import day, limits, texture
from tests.qc.shopfloor import event

NAME = "hone-1-plateau-hone-wear-1b"


def us(i: float) -> int:
    when = pd.Timestamp("2025-01-05T08:00", tz="UTC") + pd.Timedelta(hours=round(96 * i))
    return microseconds(when.to_pydatetime())


def told(store, **asked):
    return drift.answer(store, Asked(**asked))["matters"]


def say(store, kind, said, i, initials="RK"):
    return acts.act(store, NAME, kind, initials=initials, said=said, by="test", at=us(i))


@pytest.fixture
def shop(floor):
    """Open since build 1B24 or soon after; the last block is 1B33."""
    floor.take(limits())
    floor.take(texture(0, 34))
    return floor


def test_two_series_of_one_hone_are_one_matter_with_what_to_do(shop):
    document = drift.answer(shop.store, Asked())
    (matter,) = document["matters"]
    assert (matter["state"], matter["what"], matter["machine"]) == ("open", "wear", "hone-1")
    assert matter["name"] == "hone-1, plateau hone: stones"
    assert {s["characteristic"] for s in matter["series"]} == {"ra", "rk"}
    assert "hone-1" in matter["sentence"]
    assert "The same shows in" in matter["sentence"]
    assert matter["id"].startswith(NAME)
    for row in document["series"]:
        assert row["matter"] == {
            "id": matter["id"], "opened_at": matter["opened_at"], "taken_up_by": None, "ended_at": None
        }  # fmt: skip


def test_a_series_that_never_had_an_alarm_has_none_and_says_so(floor):
    floor.take(limits())
    floor.take(texture(0, 20))
    document = drift.answer(floor.store, Asked())
    assert document["matters"] == []
    assert {r["matter"] for r in document["series"]} == {None}
    assert {r["not_given"]["matter"] for r in document["series"]} == {"it never had an alarm"}


def test_the_name_stays_when_blocks_are_added(shop):
    before = told(shop.store)[0]["id"]
    shop.take(texture(34, 38))
    assert [m["id"] for m in told(shop.store)] == [before]


def test_the_bores_since_the_last_good_block_are_listed_by_build_and_feature(shop):
    (matter,) = told(shop.store)
    # the step stands in the files from 1B24 on; the block before it is good
    assert matter["last_good"]["build"] == "1B23"
    assert [b["build"] for b in matter["bores_since"]] == [f"1B{i}" for i in range(24, 34)]
    assert matter["bores_since"][0]["features"] == ["cyl-1", "cyl-2", "cyl-3", "cyl-4"]
    assert matter["bores_since_count"] == 40


def test_a_block_whose_readings_are_held_is_listed_and_marked(shop):
    rows = texture(34, 36)
    for r in rows[:8]:
        r["unit"] = "furlong"  # all of 1B34 waits, unreadable
    rows[8]["value"] = "see note"  # Ra of the first bore of 1B35
    shop.take(rows, held=9)
    (matter,) = told(shop.store)
    assert [b["build"] for b in matter["bores_since"]] == [f"1B{i}" for i in range(24, 36)]
    four = ["cyl-1", "cyl-2", "cyl-3", "cyl-4"]
    found = [(b["features"], b["waiting"], b["waiting_rows"]) for b in matter["bores_since"][-3:]]
    assert found == [(four, [], 0), (four, four, 8), (four, ["cyl-1"], 1)]
    assert matter["bores_since"][-2]["at"].startswith("2025-05-21T")  # 34 times 4 days after 5 January
    assert matter["bores_since_count"] == 48
    assert "2 builds have readings that wait for a decision" in matter_words.bores(matter)
    assert [matter_words.made(b) for b in matter["bores_since"][-3:]] == [
        "cyl-1 to cyl-4", "cyl-1 to cyl-4, waiting for a decision",
        "cyl-1 to cyl-4 (waiting for a decision: cyl-1)",
    ]  # fmt: skip


def test_held_readings_of_the_last_good_block_of_earlier_ones_and_of_other_machines_are_not(shop):
    late = [r | {"measured_at": day(50), "unit": "furlong"} for r in texture(23, 24)[:1]]
    early = [r | {"build": "1B10", "unit": "furlong"} for r in texture(10, 11)[:1]]
    alone = [r | {"build": "1B9x", "unit": "furlong"} for r in texture(9, 10)[:1]]
    other = [r | {"unit": "furlong"} for r in texture(33, 34, machine="hone-2")[:1]]
    shop.take([*late, *early, *alone, *other], held=4)
    (matter,) = told(shop.store)
    assert [b["build"] for b in matter["bores_since"]] == [f"1B{i}" for i in range(24, 34)]
    assert {b["waiting_rows"] for b in matter["bores_since"]} == {0}


def test_a_person_takes_it_up_and_the_answer_before_it_does_not_know(shop):
    before = shop.store.revision()
    say(shop.store, "taken_up", "Stones are ordered.", 33.5)
    (matter,) = told(shop.store)
    assert (matter["taken_up_by"], matter["taken_up"]["said"]) == ("RK", "Stones are ordered.")
    assert told(shop.store, as_of=before)[0]["taken_up"] is None


def test_acts_are_rows_and_the_latest_speaks(shop):
    say(shop.store, "taken_up", "Stones are ordered.", 33.5)
    say(shop.store, "taken_up", "I am on holiday.", 33.6, initials="MB")
    assert told(shop.store)[0]["taken_up_by"] == "MB"
    assert list(shop.store.records("matter")["initials"]) == ["RK", "MB"]


def test_an_event_ends_it_and_five_blocks_at_the_old_level_agree(shop):
    shop.take([event("stones_changed", day(34)[:10])])
    (matter,) = told(shop.store)
    assert (matter["state"], matter["turns"][-1]["how"]) == ("ended", "event")
    assert matter["next_blocks"]["made"] == 0
    assert "the next 5 blocks will tell" in matter["sentence"]
    assert matter["bores_since_count"] == 40  # still to be looked at
    shop.take(texture(34, 37, back=34))
    after = told(shop.store)[0]["next_blocks"]
    assert (after["made"], after["agree"]) == (3, None)
    assert "3 of the next 5 blocks are in and agree" in after["words"]
    shop.take(texture(37, 39, back=34))
    (matter,) = told(shop.store)
    assert (matter["next_blocks"]["made"], matter["next_blocks"]["agree"]) == (5, True)
    assert matter["bores_since"] is None


def test_five_blocks_that_stay_high_do_not_agree(shop):
    say(shop.store, "done", "Stones dressed.", 33.5)
    shop.take(texture(34, 39))
    (matter,) = told(shop.store)
    after = matter["next_blocks"]
    assert (matter["state"], after["after"]["words"]) == ("open", "Stones dressed.")
    assert (after["made"], after["agree"]) == (5, False)
    # in the files they stand 1 um above the blocks before
    assert all(abs(s["off"] - 1) < 0.1 for s in after["series"])
    assert "do not agree with what is expected" in matter["sentence"]


def test_one_ended_by_a_person_opens_again_if_it_goes_on(shop):
    say(shop.store, "ended", "A rougher finish is wanted.", 33.5)
    assert told(shop.store)[0]["state"] == "ended"
    assert told(shop.store)[0]["taken_up_by"] is None
    shop.take(texture(34, 35))
    (matter,) = told(shop.store)
    assert (matter["state"], matter["turns"][-1]["build"]) == ("open", "1B34")
    assert "It goes on: opened again" in matter["sentence"]
    assert "A rougher finish is wanted." in matter["sentence"]


@pytest.mark.parametrize(
    ("initials", "said", "words"),
    [("", "x", "initials"), ("RK", "  ", "one sentence"), ("RK", "x" * 501, "501 characters"),
     ("far too long", "x", "initials")],
)  # fmt: skip
def test_an_act_without_initials_or_sentence_is_refused(shop, initials, said, words):
    with pytest.raises(QuestionError, match=words):
        say(shop.store, "taken_up", said, 33.5, initials)
    assert not len(shop.store.records("matter"))


def test_an_act_about_no_matter_or_an_ended_one_or_before_it_is_refused(shop):
    with pytest.raises(QuestionError, match="no matter .hone-9."):
        acts.act(shop.store, "hone-9", "taken_up", initials="RK", said="x", by="test")
    with pytest.raises(QuestionError, match="before the matter opened"):
        say(shop.store, "done", "x", 3)
    say(shop.store, "ended", "known", 33.5)
    with pytest.raises(QuestionError, match="opens again by itself"):
        say(shop.store, "taken_up", "x", 33.6)


def test_a_sentence_of_several_lines_is_kept_in_one(shop):
    say(shop.store, "taken_up", "Stones\r\nare   ordered.", 33.5)
    assert told(shop.store)[0]["taken_up"]["said"] == "Stones are ordered."


def set_(store, characteristic="ra", does="dress the stones", machine=None, operation=None, **more):
    about = {"characteristic": characteristic, "machine": machine, "operation": operation}
    parts = {"does": does, "tells": None, "remeasures": None, **more}
    return acts.react(store, about, by="test", **parts)


def test_a_matter_shows_the_reaction_of_its_characteristics(shop):
    set_(shop.store, tells="the foreman", remeasures="Ra of every bore")
    set_(shop.store, "bore_taper")
    (found,) = told(shop.store)[0]["reactions"]
    assert found["words"] == "dress the stones; tell the foreman; measure again: Ra of every bore"


def test_the_reaction_of_the_machine_comes_before_that_of_all(shop):
    set_(shop.store)
    set_(shop.store, does="change the brush", machine="hone-1")
    set_(shop.store, does="nothing", machine="hone-2")
    assert [r["does"] for r in told(shop.store)[0]["reactions"]] == ["change the brush"]


def test_the_latest_words_of_a_reaction_count_and_it_can_be_lifted(shop):
    before = set_(shop.store)
    set_(shop.store, does="change them")
    assert [r["does"] for r in told(shop.store)[0]["reactions"]] == ["change them"]
    assert [r["does"] for r in told(shop.store, as_of=before)[0]["reactions"]] == ["dress the stones"]
    set_(shop.store, does=None)
    assert told(shop.store)[0]["reactions"] == []
    with pytest.raises(QuestionError, match="there is no reaction for Ra"):
        set_(shop.store, does=None)


def test_a_reaction_to_what_nobody_knows_is_refused(floor):
    with pytest.raises(InputError, match="is it ra"):
        set_(floor.store, "raa")


def test_a_filter_shows_the_matters_of_its_series_only(shop):
    shop.take(texture(0, 20, "hone-2"))
    assert len(told(shop.store, machine=("hone-1",))) == 1
    assert told(shop.store, machine=("hone-2",)) == []
