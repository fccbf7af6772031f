"""Where wear begins anew, where a level may step, and for whom."""

import numpy as np
import pytest

from qc.catalogue import CATALOGUE
from qc.records import Event
from qc.stretches import concerns, joints, renewals, stretch_numbers

BORE, RA, OUT_OF_ROUND = CATALOGUE["bore_diameter"], CATALOGUE["ra"], CATALOGUE["bore_out_of_round"]


def machine_event(event, at, machine="hone-1", operation=None):
    return Event(event=event, at=at, machine=machine, operation=operation)


def test_a_blank_operation_means_all_of_that_machines():
    blank = machine_event("stones_changed", 5)
    one = machine_event("stones_changed", 5, operation="plateau_hone")
    assert concerns(blank, "hone-1", "rough_bore")
    assert concerns(one, "hone-1", "plateau_hone")
    assert not concerns(one, "hone-1", "rough_bore")
    assert not concerns(blank, "hone-2", "plateau_hone")


def test_work_before_the_first_event_is_stretch_nought_and_work_at_its_very_time_the_next():
    found = stretch_numbers(np.array([5, 10, 11, 20, 25]), [20, 10])
    np.testing.assert_array_equal(found, [0, 1, 1, 2, 2])


def test_without_events_all_is_one_stretch():
    np.testing.assert_array_equal(stretch_numbers(np.array([1, 2]), []), [0, 0])


def test_each_characteristic_is_renewed_by_its_own_events_in_order_of_time():
    events = [
        machine_event("insert_changed", 30), machine_event("brush_changed", 20),
        machine_event("shoes_changed", 15), machine_event("stones_changed", 10),
        machine_event("stones_changed", 5, machine="hone-2"),
    ]  # fmt: skip
    assert [e.at for e in renewals(events, BORE, "hone-1", "hone")] == [10, 30]
    assert [e.at for e in renewals(events, RA, "hone-1", "hone")] == [10, 20, 30]
    assert [e.at for e in renewals(events, OUT_OF_ROUND, "hone-1", "hone")] == [10, 15, 30]


def test_a_joint_is_no_renewal_and_a_renewal_no_joint():
    events = [machine_event("coolant_changed", 10), machine_event("stones_changed", 20)]
    assert [e.event for e in renewals(events, BORE, "hone-1", "hone")] == ["stones_changed"]
    assert [e.event for e in joints(events, BORE, "hone-1", "hone", [])] == ["coolant_changed"]


@pytest.mark.parametrize("machine", [None, "hone-1", "hone-2"])
def test_a_gauges_joint_concerns_what_that_gauge_read_on_any_machine_and_nothing_else(machine):
    reset = [Event(event="gauge_reset", at=10, gauge="bg-1", machine=machine)]
    assert len(joints(reset, BORE, "hone-1", "hone", ["bg-1", "bg-2"])) == 1
    assert joints(reset, BORE, "hone-1", "hone", ["bg-2"]) == []
