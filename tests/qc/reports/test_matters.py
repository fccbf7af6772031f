"""The life of a matter: what belongs together, what ends it, when it opens again, and its name."""

import json

import pandas as pd
import pytest

from qc.reports.alarms import ACT, BLOCK, EVENT, Group, Point
from qc.reports.matters import swept, worked_out

WEAR = Group("hone-1", "plateau_hone", "wear")
RK = ("hone-1", "plateau_hone", "rk", "iso13565-1", "plate_on")
RPK = ("hone-1", "plateau_hone", "rpk", "iso13565-1", "plate_on")
DAY = 86_400_000_000


def blocks(key, states, first=0):
    """A block a day: u urgent, q quiet, a dash none."""
    words = {"u": ("urgent", "drifting"), "q": ("quiet", "steady")}
    return [
        Point((first + i) * DAY, BLOCK, *words[s], key, first + i, f"B{first + i}")
        for i, s in enumerate(states) if s != "-"
    ]  # fmt: skip


def event(day, words="stones changed"):
    return Point(int(day * DAY), EVENT, "ends", words, how="event")


def person(day, words="it is known"):
    return Point(int(day * DAY), ACT, "ends", words, how="person")


def lived(*points):
    return [[(t.act, t.at // DAY, t.how) for t in m.turns] for m in swept(WEAR, points)]


def test_alarms_of_several_series_at_one_time_are_one_matter():
    (matter,) = swept(WEAR, [*blocks(RK, "qquuu"), *blocks(RPK, "qqquu")])
    assert [k[2] for k in matter.members] == ["rk", "rpk"]
    assert matter.open
    assert (matter.opened_at // DAY, matter.turns[0].build) == (2, "B2")


def test_five_quiet_blocks_of_every_series_end_it_and_four_do_not():
    assert lived(*blocks(RK, "uqqqq")) == [[("opened", 0, "alarm")]]
    assert lived(*blocks(RK, "uqqqqq")) == [[("opened", 0, "alarm"), ("ended", 5, "quiet")]]
    # the other series has been quiet for four only
    assert lived(*blocks(RK, "uqqqqq"), *blocks(RPK, "-uqqqq")) == [[("opened", 0, "alarm")]]


def test_an_alarm_between_quiet_blocks_keeps_it_open():
    assert lived(*blocks(RK, "uqqqquqqqq")) == [[("opened", 0, "alarm")]]


def test_an_event_ends_it_at_once():
    assert lived(*blocks(RK, "uuu"), event(5)) == [[("opened", 0, "alarm"), ("ended", 5, "event")]]


def test_an_event_before_it_opened_is_none_of_its_ends():
    assert lived(event(1), *blocks(RK, "qqu")) == [[("opened", 2, "alarm")]]


def test_an_event_stands_before_that_days_blocks():
    (turns,) = lived(*blocks(RK, "uuu"), event(2))
    assert turns == [("opened", 0, "alarm"), ("ended", 2, "event"), ("reopened", 2, "alarm")]


def test_one_that_goes_on_within_five_blocks_opens_again():
    (turns,) = lived(*blocks(RK, "uu"), event(1.5), *blocks(RK, "qqqqu", 2))
    assert turns == [("opened", 0, "alarm"), ("ended", 1, "event"), ("reopened", 6, "alarm")]


def test_after_five_quiet_blocks_behind_an_event_an_alarm_is_another_matter():
    found = lived(*blocks(RK, "uu"), event(1.5), *blocks(RK, "qqqqqu", 2))
    assert found == [[("opened", 0, "alarm"), ("ended", 1, "event")], [("opened", 7, "alarm")]]


def test_one_ended_by_quiet_opens_again_within_five_more_blocks_only():
    assert [len(m) for m in lived(*blocks(RK, "u" + "q" * 9 + "u"))] == [3]
    assert [len(m) for m in lived(*blocks(RK, "u" + "q" * 10 + "u"))] == [2, 1]


def test_a_person_ends_it_and_it_opens_again_by_itself_if_it_goes_on():
    (turns,) = lived(*blocks(RK, "uuu"), person(2.5))
    assert turns[-1] == ("ended", 2, "person")
    (turns,) = lived(*blocks(RK, "uuuu"), person(2.5))
    assert turns[-1] == ("reopened", 3, "alarm")


def told(opened):
    return json.dumps({"group": ["hone-1", "plateau_hone", "wear", ""], "opened_at": int(opened * DAY)})


def acts(*rows):
    frame = pd.DataFrame(
        [{"matter": m, "act": a, "at": int(at * DAY), "initials": "RK", "said": said, "by": "test",
          "told": told(opened), "revision": i + 1} for i, (m, a, at, said, opened) in enumerate(rows)],
        columns=["matter", "act", "at", "initials", "said", "by", "told", "revision"],
    )  # fmt: skip
    return frame


NONE = acts()


def test_the_name_is_made_of_the_first_alarm_and_stays_when_a_block_is_added():
    names = [
        [m.id for m in worked_out({WEAR: blocks(RK, "qquu" + more)}, NONE).all]
        for more in ("", "u", "uqqqqq")
    ]
    assert names == [["hone-1-plateau-hone-wear-b2"]] * 3


def test_a_matter_that_was_acted_on_keeps_its_name_when_its_first_alarm_moves():
    said = acts(("hone-1-plateau-hone-wear-b2", "taken_up", 4, "ordered", 2))
    (matter,) = worked_out({WEAR: blocks(RK, "qqquu")}, said).all
    assert (matter.id, matter.taken_up.said) == ("hone-1-plateau-hone-wear-b2", "ordered")


def test_what_was_said_of_an_alarm_that_no_longer_is_one_is_kept():
    said = acts(("hone-1-plateau-hone-wear-b2", "taken_up", 4, "ordered", 2))
    found = worked_out({WEAR: blocks(RK, "qqqqq")}, said)
    assert found.all == ()
    assert [(m.id, m.open, m.acts[0].said) for m in found.lost] == [
        ("hone-1-plateau-hone-wear-b2", False, "ordered")
    ]


def test_a_later_matter_does_not_take_the_name_of_an_earlier_one():
    said = acts(("hone-1-plateau-hone-wear-b0", "done", 1, "dressed", 0))
    points = [*blocks(RK, "uu"), event(1.5), *blocks(RK, "qqqqqqu", 2)]
    found = worked_out({WEAR: points}, said).all
    assert [(m.id, len(m.acts)) for m in found] == [
        ("hone-1-plateau-hone-wear-b0", 1), ("hone-1-plateau-hone-wear-b8", 0)
    ]  # fmt: skip


def test_an_act_ends_the_matter_it_is_about():
    said = acts(("hone-1-plateau-hone-wear-b0", "ended", 2.5, "known", 0))
    (matter,) = worked_out({WEAR: blocks(RK, "uuu")}, said).all
    assert (matter.open, matter.turns[-1].words) == (False, "known")


def test_nobody_has_one_in_hand_that_opened_again_later():
    name = "hone-1-plateau-hone-wear-b0"
    said = acts((name, "taken_up", 1.2, "ordered", 0))
    points = [*blocks(RK, "uu"), event(1.5), *blocks(RK, "u", 2)]
    assert worked_out({WEAR: points}, said).all[0].taken_up is None
    said = acts((name, "taken_up", 1.2, "ordered", 0), (name, "taken_up", 2.2, "again", 0))
    assert worked_out({WEAR: points}, said).all[0].taken_up.said == "again"


@pytest.mark.parametrize("other", ["Hone 1", "HONE_1"])
def test_names_that_read_alike_are_told_apart(other):
    twin = Group(other, "plateau_hone", "wear")
    key = (other, *RK[1:])
    found = worked_out({WEAR: blocks(RK, "u"), twin: blocks(key, "u")}, NONE).all
    assert len({m.id for m in found}) == 2


def test_a_moved_matter_is_not_taken_for_the_one_that_ended_before_it():
    said = acts(("hone-1-plateau-hone-wear-b8", "taken_up", 9, "ordered", 8))
    points = [*blocks(RK, "uu"), event(1.5), *blocks(RK, "qqqqqqqu", 2)]
    first, second = worked_out({WEAR: points}, said).all
    assert (first.id, first.acts) == ("hone-1-plateau-hone-wear-b0", [])
    assert (second.id, second.taken_up.said) == ("hone-1-plateau-hone-wear-b8", "ordered")


def test_an_alarm_long_after_one_that_vanished_is_another_matter_that_nobody_took_up():
    name = "hone-1-plateau-hone-wear-b2"
    said = acts((name, "taken_up", 4, "ordered", 2))
    found = worked_out({WEAR: blocks(RK, "q" * 8 + "uu")}, said)
    assert [(m.id, m.acts) for m in found.all] == [("hone-1-plateau-hone-wear-b8", [])]
    assert [(m.id, m.acts[0].said) for m in found.lost] == [(name, "ordered")]
    # five blocks later the same one has only moved
    (moved,) = worked_out({WEAR: blocks(RK, "q" * 7 + "uu")}, said).all
    assert (moved.id, moved.taken_up.said) == (name, "ordered")
