from dataclasses import replace

import numpy as np
import pytest

from qc.drift.causes import Factor, cause_of
from qc.drift.ownchange import Member, moved_by_itself
from tests.simulations import drift_worlds as worlds

BLOCKS = 60


def shop(seed, effect):
    rng = np.random.default_rng(seed)
    means = worlds.noise(rng, BLOCKS, 0.0) + effect
    return worlds.series(means, worlds.inside(rng, BLOCKS, 0.5))


def people(since=20, one_in=2):
    return tuple("kb" if k >= since and k % one_in == 0 else "ab" for k in range(BLOCKS))


def test_a_shift_that_comes_and_goes_with_a_person_is_that_persons():
    names = people()
    s = shop(1, 3.0 * np.array([n == "kb" for n in names]))
    found = cause_of(
        s, 20, "step", [Factor("operator", names), Factor("time", figures=np.arange(BLOCKS) % 9.0)]
    )
    assert (found.kind, found.id) == ("operator", "kb")
    assert found.amount == pytest.approx(3.0, abs=0.8)


def test_a_person_who_came_with_the_step_and_does_all_since_tells_nothing():
    names = tuple("kb" if k >= 40 else "ab" for k in range(BLOCKS))
    s = shop(2, 3.0 * (np.arange(BLOCKS) >= 40))
    assert cause_of(s, 40, "step", [Factor("operator", names)]) is None


def test_a_step_of_the_machine_is_laid_on_nobody_who_works_before_and_after():
    names = tuple("kb" if k % 2 else "ab" for k in range(BLOCKS))
    s = shop(3, 3.0 * (np.arange(BLOCKS) >= 40))
    assert cause_of(s, 40, "step", [Factor("operator", names)]) is None


def test_a_drift_that_goes_with_the_temperature_is_the_temperatures():
    warmth = (
        20 + np.where(np.arange(BLOCKS) < 25, 0.0, 0.2 * (np.arange(BLOCKS) - 25)) + np.sin(np.arange(BLOCKS))
    )
    s = shop(4, 1.1 * (warmth - 20))
    found = cause_of(s, 25, "slope", [Factor("temperature", figures=warmth, unit="degree")])
    assert found.kind == "temperature"
    assert found.slope == pytest.approx(1.1, abs=0.2)


def test_a_family_with_few_blocks_or_unknown_ones_is_not_asked():
    s = shop(5, 3.0 * (np.arange(BLOCKS) >= 40))
    rare = tuple("v6" if k in (10, 50, 55) else "v8" for k in range(BLOCKS))
    unknown = tuple(None if k == 3 else n for k, n in enumerate(people()))
    assert cause_of(s, 40, "step", [Factor("engine", rare), Factor("operator", unknown)]) is None


def test_a_machine_that_moved_by_itself_is_no_witness_for_its_gauge():
    s = shop(6, 6.0 * (np.arange(BLOCKS) >= 30))
    member = Member(replace(s), "hone-1", np.ones(BLOCKS, dtype=bool))
    assert moved_by_itself(member, [(42.0, 50.0)], 0.0)
    assert not moved_by_itself(member, [(30.0, 59.0)], 0.0)
