"""Fixed series with known troubles; how often they are found is in tests/simulations."""

from dataclasses import replace

import numpy as np
import pytest

from qc.drift import judge
from tests.qc.drift.made_series import drift, noise, quiet, saw_tooth, series, step


def one(s, **options):
    return judge([s], **({"pooled_lag1": 0.0} | options))[0]


def test_a_quiet_series_is_steady_and_keeps_its_level():
    found = one(quiet(np.random.default_rng(1), 0.0))
    assert found.condition == "steady"
    assert found.why == "keeps its level"
    assert found.bores_to_limit is None


def test_under_eight_blocks_since_the_last_repair_is_thin():
    s = quiet(np.random.default_rng(1), 0.0)
    assert one(replace(s, since_block=85)).condition == "thin"
    assert one(replace(s, since_block=80)).condition == "steady"
    assert "5 blocks" in one(replace(s, since_block=85)).why


def test_a_series_without_blocks_is_thin():
    s = series(np.random.default_rng(1), np.array([np.nan, np.nan]))
    assert one(s).condition == "thin"


def test_a_step_without_an_event_is_named_with_its_block():
    rng = np.random.default_rng(2)
    s = series(
        rng, noise(rng, 66, 0.0) + 5.0 * (np.arange(66) >= 60), builds=tuple(f"B{i}" for i in range(66))
    )
    found = one(s)
    assert found.condition == "stepped"
    assert found.since == 60
    assert "B60" in found.why
    assert [x.kind for x in found.signals if x.kind == "step"] == ["step"]


def test_the_same_step_at_a_declared_joint_is_no_step():
    s = step(np.random.default_rng(2), 0.0, 5.0)
    declared = replace(s, joint=(np.arange(90) >= 60).astype(int))
    assert "stepped" not in one(declared).conditions
    assert one(replace(s, stretch=declared.joint)).condition == "steady"


def test_a_step_becomes_history_after_twenty_quiet_blocks():
    found = one(step(np.random.default_rng(3), 0.0, 5.0))
    assert "stepped" in found.conditions[60:70]
    assert found.condition == "steady"
    assert any(x.kind == "step" and x.block == 60 for x in found.signals)


def test_a_level_that_comes_back_is_steady_again():
    rng = np.random.default_rng(4)
    at = np.arange(75)
    found = one(series(rng, noise(rng, 75, 0.0) + 6.0 * ((at >= 50) & (at < 60))))
    assert "stepped" in found.conditions[50:60]
    assert found.condition == "steady"


def test_one_block_that_is_off_changes_no_condition():
    rng = np.random.default_rng(5)
    means = noise(rng, 60, 0.0)
    means[40] += 8.0
    found = one(series(rng, means))
    assert set(found.conditions[20:]) == {"steady"}
    assert [x.block for x in found.signals if x.kind == "one_block_off"] == [40]


def test_a_slow_drift_is_called_with_its_limit():
    found = one(drift(np.random.default_rng(6), 0.0, 40))
    assert found.condition == "drifting"
    assert (found.toward, found.limit) == ("upper", 4.0)
    assert found.slope_interval.lower < 4.0 / 40 / 8 < found.slope_interval.upper
    assert found.bores_to_limit.of == "bores"
    assert 36 <= found.since + 1 <= 60


def test_wear_that_is_reset_before_its_limit_is_steady_and_has_a_forecast():
    s, slope = saw_tooth(np.random.default_rng(7), 0.0, shown=8)
    found = one(s)
    assert set(found.conditions[8:]) == {"steady"}
    assert found.usual_stretch == 104.0
    assert found.toward == "upper"
    assert found.bores_to_limit.lower < 11.0 / slope - 64 < found.bores_to_limit.upper


def test_wear_far_beyond_the_machines_slope_is_drifting_since_the_stretch_began():
    s, _ = saw_tooth(np.random.default_rng(8), 0.0, shown=10, last=0.16, limit=30.0)
    found = one(s)
    assert found.condition == "drifting"
    assert found.since == 78
    assert "as usual" in found.why


def test_a_limit_that_comes_before_the_usual_change_says_change_early():
    s, _ = saw_tooth(np.random.default_rng(9), 0.0, shown=8, limit=6.0)
    found = one(s)
    assert found.change_early
    assert found.condition == "drifting"
    assert any(x.kind == "change_early" for x in found.signals)


def test_wear_downwards_is_judged_as_wear_upwards():
    s, _ = saw_tooth(np.random.default_rng(10), 0.0, shown=8)
    up, down = one(s), one(replace(s, means=-s.means))
    assert down.toward == "lower"
    assert up.condition == down.condition
    assert down.bores_to_limit.median == pytest.approx(up.bores_to_limit.median, rel=1e-6)


def test_a_spread_that_grew_is_scattered():
    s = quiet(np.random.default_rng(11), 0.0)
    found = one(replace(s, spreads=s.spreads * np.where(np.arange(90) >= 80, 2.5, 1.0)))
    assert found.condition == "scattered"
    assert "times as far apart" in found.why
    calmer = one(replace(s, spreads=s.spreads * np.where(np.arange(90) >= 80, 0.4, 1.0)))
    assert calmer.condition == "steady"


def test_block_to_block_that_grew_is_scattered():
    rng = np.random.default_rng(12)
    s = quiet(rng, 0.0)
    means = s.means * np.where(np.arange(90) >= 80, 6.0, 1.0)
    found = one(replace(s, means=means), level=0.005)
    assert any(x.kind == "block_to_block_grown" for x in found.signals)


def test_shifting_or_scaling_values_changes_no_condition():
    s = step(np.random.default_rng(13), 0.0, 4.0)
    plain = one(s)
    moved = one(replace(s, means=s.means + 96_000.0))
    inches = one(replace(s, means=s.means / 25_400, spreads=s.spreads / 25_400))
    assert plain.conditions == moved.conditions == inches.conditions


def test_one_series_alone_is_judged_as_in_a_batch():
    rng = np.random.default_rng(14)
    batch = [step(rng, 0.0, 4.0), quiet(rng, 0.0), saw_tooth(rng, 0.0, shown=8)[0]]
    together = judge(batch, pooled_lag1=0.1)
    assert together == [judge([s], pooled_lag1=0.1)[0] for s in batch]


def test_missing_block_means_are_passed_over():
    s = step(np.random.default_rng(15), 0.0, 5.0)
    wide = {
        name: np.insert(getattr(s, name), 30, value)
        for name, value in (
            ("means", np.nan), ("bores", 8), ("spreads", np.nan), ("wear", 0.0), ("stretch", 0), ("joint", 0),
            ("at", 29.5),
        )
    }  # fmt: skip
    gap = replace(s, **wide)
    assert one(gap).conditions == one(s).conditions
    assert any(x.kind == "step" and x.block == 61 for x in one(gap).signals)


@pytest.mark.parametrize("means", [np.zeros(40), np.repeat([0.0, 5.0], 20), np.array([1.0]), np.array([])])
@pytest.mark.parametrize("wears", [False, True])
def test_series_without_any_scatter_are_judged(means, wears):
    blocks = means.size
    s = series(np.random.default_rng(18), means, wears=wears, upper=9.0, lower=-9.0)
    stretch = np.arange(blocks) // 8
    found = one(replace(s, stretch=stretch, wear=8.0 * (np.arange(blocks) % 8) + 4.0))
    assert found.condition in {"thin", "steady"}
    assert len(found.conditions) == blocks


def test_lag_is_pooled_over_series_of_one_characteristic_when_not_given():
    rng = np.random.default_rng(16)
    batch = [
        replace(series(rng, noise(rng, 80, rho)), key=(f"hone-{i}", "hone", name, "ends", "plate_on"))
        for name, rho in (("bore_taper", 0.0), ("ra", 0.6))
        for i in range(5)
    ]
    found = judge(batch)
    assert found[0].lag1 == found[4].lag1 < 0.2
    assert found[5].lag1 == found[9].lag1 > 0.4


def first_stretch(rng, blocks, slope, limit=12.0, level=-6.0):
    """One stretch that no event ever ended; sd of a block mean 1, 8 bores a block."""
    wear = 8.0 * (np.arange(blocks) + 0.5)
    means = level + slope * wear + noise(rng, blocks, 0.0)
    return series(rng, means, wear=wear, wears=True, lower=-limit, upper=limit)


def test_wear_that_no_event_ever_ended_is_drifting_when_half_as_many_bores_again_would_reach_the_limit():
    found = one(first_stretch(np.random.default_rng(12), 60, 0.05))  # the line ends at -6 + 24 = 18
    assert found.condition == "drifting"
    assert "already beyond the upper limit" in found.why
    assert "before the usual change" not in found.why
    # The line passes 12 at 360 bores, with block 45: it is called when half as many bores again would reach
    # it, which by hand is from block 30 on, and not long before.
    assert found.conditions.index("drifting") in range(26, 36)


def test_wear_never_seen_to_its_end_is_not_said_to_keep_its_level():
    found = one(first_stretch(np.random.default_rng(13), 40, 0.03))
    assert found.condition == "steady"
    assert "keeps its level" not in found.why
    assert "no finished stretch yet" in found.why


def test_a_level_beyond_its_limit_that_does_not_move_is_no_drift():
    found = [one(first_stretch(np.random.default_rng(n), 40, 0.0, level=14.0)) for n in range(20, 26)]
    assert [f.condition for f in found].count("steady") >= 5
    assert all(f.toward == "upper" and f.bores_to_limit.median == 0 for f in found)


def test_a_stretch_that_outran_the_usual_one_is_drifting_beyond_its_limit():
    # Usual stretches of 104 bores end 6 below the limit; this one goes on to 240 bores: 1 + 14.4 > 12.
    s, _ = saw_tooth(np.random.default_rng(14), 0.0, shown=30, scatter=0.0)
    assert one(s).condition == "drifting"
    assert "already beyond" in one(s).why
