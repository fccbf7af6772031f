from dataclasses import replace

import numpy as np

from qc.drift import judge
from qc.drift.condition import replayed
from qc.drift.past import past
from qc.drift.resets import resets
from tests.simulations import drift_worlds as worlds


def test_alarms_of_the_past_are_runs_of_blocks_with_first_and_last():
    rng = np.random.default_rng(2)
    means = worlds.noise(rng, 66, 0.0) + 5.0 * (np.arange(66) >= 60)
    found = past(worlds.series(means, worlds.inside(rng, 66, 0.5)), 0.00073, 0.0)
    (alarm,) = found.alarms
    assert alarm.condition == "stepped"
    assert alarm.stands
    assert (alarm.first, alarm.last) in {(61, 65), (62, 65), (63, 65)}


def test_what_was_told_of_a_block_knows_nothing_of_later_ones():
    rng = np.random.default_rng(3)
    s, _ = worlds.stepped(rng, 0.0, 0.5, 4.0)
    whole = judge([s], pooled_lag1=0.0)[0].conditions
    cut = {n: getattr(s, n)[:50] for n in ("means", "bores", "spreads", "wear", "stretch", "joint", "at")}
    assert judge([replace(s, **cut)], pooled_lag1=0.0)[0].conditions == whole[:50]


def test_forecasts_of_wear_are_held_against_where_the_line_met_the_limit():
    rng = np.random.default_rng(4)
    # Slope 8/25 a block from -4: the limit 4 is met with block 25 of the stretch, which goes on to 32.
    s, _ = worlds.worn(rng, 0.0, 0.5, finished=5, shown=32, unlike=0.0)
    found = past(s, 0.00073, 0.0)
    mine = [f for f in found.forecasts if f.block >= s.means.size - 32]
    assert len(mine) >= 8
    assert all(f.held is not None for f in mine)
    assert np.mean([f.held for f in mine]) > 0.6


def test_forecasts_of_stretches_renewed_before_the_limit_say_nothing():
    rng = np.random.default_rng(5)
    found = past(worlds.renewed(rng, 0.0, 0.5), 0.00073, 0.0)
    assert sum(f.held is None for f in found.forecasts) > 0.8 * len(found.forecasts)


def fallen(logged):
    """Wear over 60 blocks in four stretches; the last renewal is logged, or nobody wrote it down."""
    rng = np.random.default_rng(6)
    stretch = np.repeat([0, 1, 2, 3], 15)
    wear = 8 * (np.arange(60) % 15 + 0.5)
    means = 0.06 * wear + 0.4 * worlds.noise(rng, 60, 0.0)
    if not logged:
        stretch = np.minimum(stretch, 2)
        wear = np.where(np.arange(60) >= 45, wear + 120, wear)
    s = worlds.series(means, worlds.inside(rng, 60, 0.5), stretch=stretch, wears=True, limit=12.0)
    return replace(s, wear=wear)


def test_wear_that_falls_back_without_an_event_is_proposed_as_one():
    replay = replayed(fallen(logged=False), 0.00073, 0.0)
    (found,) = resets(replay, replay.usual(60).slope)
    assert found.block == 45
    # 15 blocks of 8 bores at 0.06 a bore are 7.2; the fall takes all of it back.
    assert abs(found.amount + 7.2) < 1.2
    assert 0.7 < found.share < 1.3


def test_a_logged_change_is_not_proposed_again():
    replay = replayed(fallen(logged=True), 0.00073, 0.0)
    assert resets(replay, replay.usual(60).slope) == ()


def test_a_step_on_in_the_direction_of_wear_is_no_renewal():
    s = fallen(logged=True)
    means = s.means + 6.0 * (np.arange(60) >= 52)
    replay = replayed(replace(s, means=means), 0.00073, 0.0)
    assert resets(replay, replay.usual(60).slope) == ()
