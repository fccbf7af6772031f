"""Which alarms belong together, and which events put them right."""

from dataclasses import replace

import numpy as np
import pandas as pd

from qc.drift import Judgement, Signal
from qc.records import Event
from qc.reports.alarms import Group, points
from qc.reports.conditions import Condition, Conditions
from qc.reports.shifts import Shift
from qc.stats.intervals import Interval

DAY = 86_400_000_000
SHORT = {"s": "steady", "d": "drifting", "p": "stepped", "w": "scattered", "t": "thin"}


def series(machine, operation, characteristic, conditions, cause="machine", gauge="bg-1"):
    """A series, a block a day, with the condition it had after each."""
    key = (machine, operation, characteristic, "m", "plate_on")
    n = len(conditions)
    frame = pd.DataFrame({
        "at": np.arange(n) * DAY, "block": [f"B{i}" for i in range(n)], "build": [f"B{i}" for i in range(n)],
        "mean": np.zeros(n), "gauges": [(gauge,)] * n,
    })  # fmt: skip
    words = tuple(SHORT[c] for c in conditions)
    judgement = Judgement(
        key=key, condition=words[-1], why="", since=None, slope=None, slope_interval=None, slope_per="bore",
        usual_slope=None, usual_stretch=None, toward=None, limit=None, bores_to_limit=None,
        change_early=False, lag1=0.0, level=0.00073, signals=(Signal(0, 0, "step", 1.0, "", ""),),
        conditions=words,
    )  # fmt: skip
    signals = ({"block": "B0", "cause": {"kind": cause, "id": "ann"}},)
    return key, Condition(words[-1], "", judgement, frame, (), signals)


def shop(*rows, shifts=()):
    return Conditions(dict(rows), 0.00073, 10.0, tuple(shifts))


def shift(key, decided, first=2):
    return Shift("bg-1", decided, first * DAY, None, 4.0, Interval(3, 5, 0.95), "", "", (key[0],), False,
                 frozenset({key}))  # fmt: skip


def groups(known, events=()):
    return {
        (g.machine, g.operation, g.what, g.subject): [(p.state, p.at // DAY) for p in found]
        for g, found in points(known, events).items()
    }


def test_form_and_texture_of_one_machine_are_one_and_its_size_is_another():
    known = shop(
        series("hone-1", "plateau_hone", "rk", "ssd"), series("hone-1", "plateau_hone", "bore_taper", "sdd"),
        series("hone-1", "plateau_hone", "bore_diameter", "ssp"),
        series("hone-2", "plateau_hone", "rk", "ssd"), series("hone-1", "plateau_hone", "ra", "ssw"),
    )  # fmt: skip
    assert set(groups(known)) == {
        ("hone-1", "plateau_hone", "wear", ""), ("hone-1", "plateau_hone", "size", "bore_diameter"),
        ("hone-2", "plateau_hone", "wear", ""), ("hone-1", "plateau_hone", "spread", ""),
    }  # fmt: skip


def test_a_quiet_series_is_in_no_group_and_thin_blocks_tell_nothing():
    assert groups(shop(series("hone-1", "plateau_hone", "rk", "ttsss"))) == {}
    (found,) = groups(shop(series("hone-1", "plateau_hone", "rk", "ttdts"))).values()
    assert found == [("urgent", 2), ("quiet", 4)]


def test_a_block_under_another_alarm_is_neither_quiet_nor_urgent():
    found = groups(shop(series("hone-1", "plateau_hone", "rk", "wdws")))
    assert found["hone-1", "plateau_hone", "spread", ""] == [("urgent", 0), ("urgent", 2), ("quiet", 3)]
    assert found["hone-1", "plateau_hone", "wear", ""] == [("urgent", 1), ("quiet", 3)]


def test_parts_that_meet_on_the_bench_are_matters_of_their_own():
    known = shop(
        series("bench", "fit", "main_clearance", "sp"), series("bench", "receive", "piston_diameter", "sp")
    )
    assert {g[3] for g in groups(known)} == {"main_clearance", "piston_diameter"}


def test_a_gauges_shift_seen_on_several_series_and_its_master_is_one_matter():
    size = series("hone-1", "plateau_hone", "bore_diameter", "sssss")
    other = series("hone-2", "plateau_hone", "bore_diameter", "sssss")
    master = series("bg-1", "check", "master_check", "ssspp")
    one = replace(shift(size[0], True), touched=frozenset({size[0], other[0]}))
    found = groups(shop(size, other, master, shifts=[one]))
    assert set(found) == {("bg-1", "", "gauge", "")}
    urgent = [("urgent", d) for d in (2, 2, 3, 3, 3, 4, 4, 4)]
    # the master's quiet readings before it are there to be counted
    assert sorted(found["bg-1", "", "gauge", ""]) == [("quiet", d) for d in (0, 1, 2)] + urgent


def test_a_step_that_cannot_be_told_from_the_gauges_is_one_matter_with_it():
    size = series("hone-1", "plateau_hone", "bore_diameter", "sssspp")
    assert set(groups(shop(size, shifts=[shift(size[0], False)]))) == {("bg-1", "", "gauge", "")}
    decided = set(groups(shop(size, shifts=[shift(size[0], True)])))
    assert ("hone-1", "plateau_hone", "size", "bore_diameter") in decided


def test_what_a_change_follows_is_known_later_and_never_moves_it_to_another_matter():
    told = [
        set(groups(shop(series("hone-1", "plateau_hone", "rk", "sd", cause))))
        for cause in ("machine", "operator", "temperature", "unknown")
    ]
    assert told == [{("hone-1", "plateau_hone", "wear", "")}] * 4


def ends(known, *events):
    found = points(known, [Event(kind, 5 * DAY, **where) for kind, where in events])
    return {g: [p.words for p in mine if p.state == "ends"] for g, mine in found.items()}


def test_wear_ends_with_what_renews_it_or_with_a_repair_and_with_nothing_else():
    known = shop(series("hone-1", "plateau_hone", "rk", "sd"))
    here = {"machine": "hone-1"}
    (told,) = ends(
        known, ("stones_changed", here), ("coolant_changed", here), ("machine_repaired", here),
        ("stones_changed", {"machine": "hone-2"}), ("gauge_reset", {"gauge": "bg-1"}),
    ).values()  # fmt: skip
    assert told == ["stones changed", "machine repaired"]


def test_a_size_ends_with_any_event_that_may_step_it():
    known = shop(series("hone-1", "plateau_hone", "bore_diameter", "sp"))
    events = ("coolant_changed", {"machine": "hone-1"}), ("gauge_reset", {"gauge": "bg-1"})
    (told,) = ends(known, *events).values()
    assert told == ["coolant changed", "gauge re-set"]


def test_a_gauges_matter_ends_when_it_is_set_and_not_with_the_machines_stones():
    size = series("hone-1", "plateau_hone", "bore_diameter", "ssss")
    told = ends(
        shop(size, shifts=[shift(size[0], True)]), ("gauge_reset", {"gauge": "bg-1"}),
        ("machine_repaired", {"machine": "hone-1"}),
    )  # fmt: skip
    assert told[Group("bg-1", "", "gauge")] == ["gauge re-set"]
    told = ends(shop(size, shifts=[shift(size[0], False)]), ("machine_repaired", {"machine": "hone-1"}))
    assert told[Group("bg-1", "", "gauge")] == ["machine repaired"]
