from dataclasses import replace

import numpy as np
import pytest

from qc.drift import judge
from qc.drift.attribution import GaugeEvidence, Member, attribute
from tests.qc.drift.made_series import noise, series

DAYS = 540.0
SPAN = (270.0, 351.0)


def member(rng, machine, shift=6.0, *, reset=True, span=SPAN, blocks=60, form=False, sized=False):
    at = np.sort(rng.uniform(0.0, DAYS, blocks))
    inside = (at >= span[0]) & (at < span[1])
    s = series(rng, 1.3 * noise(rng, blocks, 0.0) + shift * inside)
    joint = (at >= span[1]).astype(int) if reset else np.zeros(blocks, dtype=int)
    return Member(
        replace(s, at=at, joint=joint, key=machine), machine, np.ones(blocks, dtype=bool), sized, form
    )


def master(rng, shift=6.0, span=SPAN):
    at = np.arange(0.0, DAYS, 7.0)
    s = series(rng, 0.5 * noise(rng, at.size, 0.0) + shift * ((at >= span[0]) & (at < span[1])))
    return replace(s, at=at, joint=(at >= span[1]).astype(int))


def test_a_past_shift_on_two_machines_is_the_gauges_and_ends_with_its_reset():
    rng = np.random.default_rng(1)
    (found,) = attribute([GaugeEvidence("bg-final", (member(rng, "hone-1"), member(rng, "hone-2")))])
    assert found.cause == "gauge"
    assert found.machines == ("hone-1", "hone-2")
    assert found.interval.lower < 6.0 < found.interval.upper
    assert found.from_at == pytest.approx(SPAN[0], abs=15)
    assert found.to_at == pytest.approx(SPAN[1], abs=15)
    assert "re-set it" in found.words


def test_a_shift_that_still_stands_has_no_end():
    rng = np.random.default_rng(2)
    pair = tuple(member(rng, m, reset=False, span=(450.0, 999.0)) for m in ("hone-1", "hone-2"))
    (found,) = attribute([GaugeEvidence("bg-final", pair)])
    assert found.to_at is None
    assert found.from_at == pytest.approx(450.0, abs=15)


def test_a_shift_whose_last_block_lies_low_by_chance_still_stands():
    pair = [member(np.random.default_rng(seed), "hone-1", 0.0, reset=False) for seed in (21, 22)]
    last = max(m.series.at[-1] for m in pair)
    moved = []
    for name, one in zip(("hone-1", "hone-2"), pair, strict=True):
        hit = np.where(one.series.at == last, 2.0, 6.0) * (one.series.at >= 450.0)
        moved.append(replace(one, series=replace(one.series, means=one.series.means + hit), machine=name))
    (found,) = attribute([GaugeEvidence("bg-final", tuple(moved))])
    assert (found.cause, found.to_at) == ("gauge", None)


def test_a_shift_that_went_back_by_itself_is_over():
    rng = np.random.default_rng(23)
    pair = tuple(member(rng, m, reset=False) for m in ("hone-1", "hone-2"))
    (found,) = attribute([GaugeEvidence("bg-final", pair)])
    assert found.to_at == pytest.approx(SPAN[1], abs=15)


def test_five_blocks_off_show_among_blocks_that_go_with_their_neighbours():
    rng = np.random.default_rng(24)
    means = noise(rng, 45, 0.5) + 8.0 * (np.arange(45) >= 40)
    alone = Member(series(rng, means), "hone-1", np.ones(45, dtype=bool))
    (found,) = attribute([GaugeEvidence("bg-final", (alone,))], lag1=0.5)
    assert (found.cause, found.from_at, found.to_at) == ("unknown", 40.0, None)


def test_a_quiet_gauge_has_no_shift():
    rng = np.random.default_rng(3)
    pair = tuple(member(rng, m, 0.0) for m in ("hone-1", "hone-2"))
    assert attribute([GaugeEvidence("bg-final", pair, master(rng, 0.0))]) == []


def test_one_machine_alone_leaves_the_question_open_until_the_master_is_read():
    rng = np.random.default_rng(4)
    alone = member(rng, "hone-1")
    (found,) = attribute([GaugeEvidence("bg-final", (alone,))])
    assert found.cause == "unknown"
    assert found.words.startswith("gauge or machine: read the master")
    (settled,) = attribute([GaugeEvidence("bg-final", (alone,), master(rng))])
    assert settled.cause == "gauge"
    assert settled.master_seen


def test_a_shift_the_master_does_not_show_is_not_the_gauges():
    rng = np.random.default_rng(5)
    assert attribute([GaugeEvidence("bg-final", (member(rng, "hone-1"),), master(rng, 0.0))]) == []


def test_a_shift_on_one_of_two_machines_is_that_machines():
    rng = np.random.default_rng(6)
    pair = (member(rng, "hone-1", reset=False), member(rng, "hone-2", 0.0, reset=False))
    assert attribute([GaugeEvidence("bg-final", pair)]) == []


def test_a_shift_that_touches_form_is_not_the_gauges():
    rng = np.random.default_rng(7)
    size = tuple(member(rng, m) for m in ("hone-1", "hone-2"))
    form = member(rng, "hone-1", 5.0, form=True)
    assert attribute([GaugeEvidence("bg-final", (*size, form))]) == []
    assert attribute([GaugeEvidence("bg-final", (*size, member(rng, "hone-1", 0.0, form=True)))])


def test_work_sized_with_the_gauge_tells_nothing_of_it():
    rng = np.random.default_rng(8)
    pair = tuple(member(rng, m, sized=True) for m in ("hone-1", "hone-2"))
    assert attribute([GaugeEvidence("bg-final", pair)]) == []


def test_with_the_gauges_shift_taken_out_the_machine_is_steady():
    rng = np.random.default_rng(9)
    pair = tuple(member(rng, m, reset=False, span=(450.0, 999.0)) for m in ("hone-1", "hone-2"))
    (shift,) = attribute([GaugeEvidence("bg-final", pair)])
    as_read, one = judge([pair[0].series], pooled_lag1=0.0)[0], pair[0].series
    means = one.means - shift.amount_um * (np.asarray(one.at) >= shift.from_at)
    right = judge([replace(one, means=means)], pooled_lag1=0.0)[0]
    assert "stepped" in as_read.conditions
    assert set(right.conditions[20:]) == {"steady"}


@pytest.mark.simulation
def test_quiet_gauges_are_seldom_accused():
    rng, accused = np.random.default_rng(10), 0
    for _ in range(100):
        pair = tuple(member(rng, m, 0.0, reset=False) for m in ("hone-1", "hone-2"))
        accused += bool(attribute([GaugeEvidence("bg-final", pair)]))
    assert accused <= 6
