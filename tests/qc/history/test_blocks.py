"""The block table: means and spreads by hand, stretches, joints, wear."""

import numpy as np
import pytest

from qc.history.zone import iso
from tests.qc.shopfloor import block, event, ra, reading

DAYS = [f"2026-05-{d:02d}T08:00" for d in range(1, 29)]


def table(floor, characteristic="bore_diameter", **asked):
    found = floor.history(**asked).blocks
    return found[found["characteristic"] == characteristic].set_index("block")


def test_mean_spread_and_extremes_of_a_block(floor):
    floor.take(block("B1", DAYS[0], [1, 2, 3, 6]))
    found = table(floor).loc["B1"]
    # mean 3, squares 4 + 1 + 0 + 9 = 14, sd = sqrt(14/3)
    assert (found["bores"], found["mean"], found["lowest"], found["highest"]) == (4, 3.0, 1.0, 6.0)
    assert found["spread"] == pytest.approx((14 / 3) ** 0.5)


def test_one_bore_has_no_spread(floor):
    floor.take(block("B1", DAYS[0], [1]))
    assert np.isnan(table(floor).loc["B1", "spread"])


def test_only_complete_bores_of_the_first_pass_count(floor):
    floor.take([*block("B1", DAYS[0], [1, 3], **{"pass": 1}), *block("B1", DAYS[1], [9, 9], **{"pass": 2})])
    found = table(floor).loc["B1"]
    assert (found["bores"], found["mean"]) == (2, 2.0)
    assert iso(found["at"]) == "2026-05-01T08:00:00Z"


def test_a_blocks_time_is_its_last_of_the_first_pass(floor):
    rows = block("B1", DAYS[0], [1, 2])
    rows[1]["measured_at"] = "2026-05-01T09:30"
    floor.take(rows)
    assert iso(table(floor).loc["B1", "at"]) == "2026-05-01T09:30:00Z"


def test_blocks_stand_in_order_of_time_whatever_the_order_of_the_files(floor):
    for i in (2, 0, 1):
        floor.take(block(f"B{i}", DAYS[i], [i]))
    assert list(table(floor).index) == ["B0", "B1", "B2"]


def test_a_renewal_begins_a_stretch_and_the_wear_count_anew(floor):
    for i in range(4):
        floor.take(block(f"B{i}", DAYS[i], [0] * 4))
    floor.take([event("stones_changed", "2026-05-03T07:00")])
    found = table(floor)
    assert found["stretch"].tolist() == [0, 0, 1, 1]
    # up to the middle of the block: 0 + 2, 4 + 2, then anew
    assert found["wear"].tolist() == [2, 6, 2, 6]


def test_work_at_the_very_time_of_the_event_belongs_to_the_new_stretch(floor):
    for i in range(2):
        floor.take(block(f"B{i}", DAYS[i], [0] * 4))
    floor.take([event("stones_changed", DAYS[1])])
    found = table(floor)
    assert found["stretch"].tolist() == [0, 1]
    assert found["wear"].tolist() == [2, 2]


def test_an_event_told_by_its_date_is_before_that_days_work(floor):
    for i in range(2):
        floor.take(block(f"B{i}", DAYS[i], [0]))
    floor.take([event("stones_changed", "2026-05-02")])
    assert table(floor)["stretch"].tolist() == [0, 1]


def test_wear_counts_every_bore_of_the_machine_and_not_only_the_measured_ones(floor):
    # texture is measured on one bore of each block, the machine honed four
    for i in range(3):
        floor.take([*block(f"B{i}", DAYS[i], [0] * 4), *ra(f"B{i}", DAYS[i], ["0.3"])])
    assert table(floor, "ra")["bores"].tolist() == [1, 1, 1]
    assert table(floor, "ra")["wear"].tolist() == [2, 6, 10]
    assert table(floor, "ra")["made"].tolist() == [4, 4, 4]


def test_bores_made_between_without_this_characteristic_count_too(floor):
    for i in range(3):
        floor.take(block(f"B{i}", DAYS[i], [0] * 4) + (ra(f"B{i}", DAYS[i], ["0.3"]) if i != 1 else []))
    assert table(floor, "ra")["wear"].tolist() == [2, 10]


def test_an_excluded_bore_was_still_made(floor):
    for i in range(2):
        floor.take(block(f"B{i}", DAYS[i], [0] * 4))
    floor.exclude(build=["B0"])
    assert table(floor)["wear"].tolist() == [6]
    assert list(table(floor).index) == ["B1"]


def test_a_block_honed_again_later_keeps_its_place_in_the_wear(floor):
    floor.take(block("B0", DAYS[0], [0] * 4, **{"pass": 1}))
    floor.take(block("B1", DAYS[1], [0] * 2))
    floor.take(block("B0", DAYS[2], [0] * 4, **{"pass": 2}))
    assert table(floor)["wear"].to_dict() == {"B0": 2, "B1": 5}


def test_another_operation_and_another_machine_wear_apart(floor):
    floor.take(block("B0", DAYS[0], [0] * 4, operation="rough_bore"))
    floor.take(block("B1", DAYS[1], [0] * 4, machine="hone-2"))
    floor.take(block("B2", DAYS[2], [0] * 4))
    assert table(floor).loc["B2", "wear"] == 2


def test_where_wear_is_counted_in_blocks_a_block_is_one(floor):
    told = {"characteristic": "journal_diameter", "machine": "grinder-1", "operation": "journal_grind"}
    for i in range(3):
        rows = [reading(f"B{i}", f"main-{n}", 0, measured_at=DAYS[i], **told) for n in range(1, 6)]
        floor.take(rows)
    floor.take([event("wheel_dressed", "2026-05-03T07:00", "grinder-1")])
    found = table(floor, "journal_diameter")
    assert found["wear"].tolist() == [0.5, 1.5, 0.5]


def test_a_machines_joint_concerns_all_that_follows(floor):
    for i in range(3):
        floor.take(block(f"B{i}", DAYS[i], [0]))
    floor.take([event("coolant_changed", "2026-05-02T07:00")])
    found = table(floor)
    assert found["joint"].tolist() == [0, 1, 1]
    assert found["stretch"].tolist() == [0, 0, 0]
    assert found["wear"].tolist() == [0.5, 1.5, 2.5]  # the wear count goes on


def test_a_gauges_joint_concerns_that_gauges_readings_only(floor):
    for i, gauge in enumerate(["bg-1", "bg-2", "bg-1", "bg-2"]):
        floor.take(block(f"B{i}", DAYS[i], [0], gauge=gauge))
    floor.take([{"gauge": "bg-1", "at": "2026-05-02T07:00", "event": "gauge_reset"}])
    assert table(floor)["joint"].tolist() == [0, 0, 1, 0]


def test_a_repair_is_counted_apart(floor):
    for i in range(2):
        floor.take(block(f"B{i}", DAYS[i], [0]))
    floor.take([event("machine_repaired", "2026-05-02T07:00")])
    assert table(floor)["repair"].tolist() == [0, 1]


def test_an_event_of_another_operation_or_machine_changes_nothing(floor):
    floor.take(block("B0", DAYS[0], [0]))
    floor.take(block("B1", DAYS[2], [0]))
    floor.take([event("stones_changed", DAYS[1], "hone-2"),
                event("stones_changed", DAYS[1], operation="rough_bore"),
                event("wheel_dressed", DAYS[1])])  # fmt: skip
    assert table(floor)["stretch"].tolist() == [0, 0]


def test_each_morning_reading_of_a_master_is_a_block_of_its_own(floor):
    rows = [
        {"build": "", "machine": "bg-1", "operation": "check", "characteristic": "master_check",
         "feature": "master", "value": f"50.00{i}", "target": "50", "unit": "mm", "measured_at": DAYS[i]}
        for i in range(3)
    ]  # fmt: skip
    floor.take(rows)
    found = floor.history().blocks
    assert found["mean"].tolist() == [0, 1, 2]
    assert found["build"].isna().all()


def test_values_behind_a_block_lead_to_its_readings(floor):
    floor.take(block("B1", DAYS[0], [1, 2]))
    history = floor.history()
    ids = history.ids_behind(history.blocks["values"].iloc[0])
    assert [i.split(":", 1)[1] for i in ids] == ["2:value", "3:value"]
