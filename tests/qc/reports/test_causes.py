"""What a change follows, and tool changes nobody logged, from files to the row of drift."""

import numpy as np
import pandas as pd
import pytest

from qc.drift import Judgement, Signal
from qc.records import Asked
from qc.reports import drift
from qc.reports.causes import gauge_or_machine
from qc.reports.conditions import signals
from tests.qc.reports.test_drift import day, drawn, of_blocks
from tests.qc.shopfloor import block, event, window


def rows_of(shop, machine):
    told = drift.answer(shop.store, Asked(characteristic=("bore_diameter",), machine=(machine,)))
    return told["series"][0]


@pytest.fixture(scope="module")
def shop(shop_of):
    """hone-1: blocks of kb, every other one from block 26 on, lie 7 um off; hone-2: one change not logged."""
    person, worn = drawn(5), drawn(6) / 2
    names = ["kb" if i >= 26 and i % 2 == 0 else "ab" for i in range(40)]
    person[[n == "kb" for n in names]] += 7
    for i in range(40):
        worn[i] += 0.3 * (4 * (i % 10) + 2)
    mine = [
        r for i, values in enumerate(person)
        for r in block(f"P{i}", day(i), np.round(values, 2), machine="hone-1", operator=names[i])
    ]  # fmt: skip
    logged = [event("stones_changed", day(i)[:10], "hone-2") for i in (10, 20)]
    return shop_of([window(-60, 60)], mine, of_blocks(worn, "hone-2", gauge="bg-2"), logged)


def test_a_shift_that_goes_with_a_person_says_so_with_figures_for_a_picture(shop):
    found = rows_of(shop, "hone-1")
    told = found["evidence"]
    assert (told["kind"], told["id"]) == ("operator", "kb")
    assert told["amount"] == pytest.approx(7, abs=1.5)
    assert "follows the operator" in told["words"]
    assert len(told["points"]) == found["blocks"]
    assert {p["beside"] for p in told["points"]} == {"ab", "kb"}
    assert {"kind": "operator", "id": "kb"} in [s["cause"] for s in found["signals"]]


def test_a_change_of_stones_nobody_logged_is_proposed_with_its_command(shop):
    found = rows_of(shop, "hone-2")
    (proposed,) = found["proposed_events"]
    assert (proposed["event"], proposed["machine"], proposed["build"]) == ("stones_changed", "hone-2", "2B30")
    assert proposed["command"] == f"qc event add --machine hone-2 --event stones_changed --at {day(30)[:10]}"
    # 10 blocks of 4 bores at 0.3 um a bore are 12 um.
    assert proposed["amount"] == pytest.approx(-12, abs=2)
    assert "no event says why" in proposed["words"]


def test_what_is_proposed_is_taken_by_the_command_line_and_is_gone_then(shop, tmp_path):
    from click.testing import CliRunner

    from qc.cli import main

    (proposed,) = rows_of(shop, "hone-2")["proposed_events"]
    words = proposed["command"].removeprefix("qc ").split()
    answer = CliRunner().invoke(main, [*words, "--store", shop.store.place])
    assert answer.exit_code == 0, answer.output
    assert rows_of(shop, "hone-2")["proposed_events"] == []


def judged(condition, since, *seen):
    """A judgement of 9 blocks with signals (kind, block)."""
    return Judgement(
        key=("hone-1", "plateau_hone", "bore_diameter", "bore_gauge", "plate_on"), condition=condition,
        why="", since=since, slope=None, slope_interval=None, slope_per="bore", usual_slope=None,
        usual_stretch=None, toward=None, limit=None, bores_to_limit=None, change_early=False, lag1=0.0,
        level=0.00073, signals=tuple(Signal(block, block, kind, 3.0, "", "") for kind, block in seen),
        conditions=(condition,) * 9,
    )  # fmt: skip


@pytest.mark.parametrize(("one", "gauge", "told"), [
    (judged("stepped", 5, ("step", 5)), "bg-1", True),
    (judged("drifting", 5, ("slope", 5)), "bg-1", True),
    (judged("drifting", 5, ("change_early", 5)), "bg-1", False),  # wears as its machine does, only too far
    (judged("steady", 0, ("step", 5)), "bg-1", False),
    (judged("stepped", 5, ("step", 5)), None, False),
])  # fmt: skip
def test_a_step_or_slope_that_no_other_machine_and_no_master_tells_is_gauge_or_machine(one, gauge, told):
    words = "Gauge or machine: read the master of bg-1."
    assert (gauge_or_machine(one, gauge) or {}).get("words") == (words if told else None)


def test_what_only_one_gauge_saw_is_open_and_what_another_read_is_the_machines():
    one = judged("steady", 0, ("step", 2), ("one_block_off", 4), ("step", 7), ("spread_grown", 8))
    blocks = pd.DataFrame({
        "at": np.arange(9) * 86_400_000_000, "block": [f"B{i}" for i in range(9)],
        "build": [f"B{i}" for i in range(9)], "gauges": [("bg-2",)] * 4 + [("bg-1",)] * 5,
    })  # fmt: skip
    told = [(s["signal"], s["cause"]["kind"]) for s in signals(one, blocks, (), None, "bg-1")]
    assert told == [
        ("step", "machine"), ("one_block_off", "unknown"), ("step", "unknown"), ("spread_grown", "machine"),
    ]  # fmt: skip
