"""The list of readings: columns of the contract, statuses, times in UTC."""

import pandas as pd
import pytest

from qc.records import Asked
from qc.reports import readings
from tests.qc.shopfloor import block, ra, reading, window

COLUMNS = (
    "id", "build", "engine", "serial", "machine", "operation", "characteristic", "method", "state", "feature",
    "station_mm", "clock_deg", "trial", "pass", "value_um", "value", "deviation_um", "target_um",
    "measured_at",
    "made_at", "gauge", "file", "row", "column", "text",
)  # fmt: skip
AT = "2026-05-04T08:00"


def one(floor, **more):
    return readings.table(floor.store, Asked(), **more).iloc[0]


def test_columns_are_those_of_the_contract(floor):
    floor.take([reading()])
    # the size at 20 degC is ours, behind those of the contract
    assert tuple(readings.table(floor.store, Asked()).columns) == (*COLUMNS, "value_20_um")
    told = readings.table(floor.store, Asked(), every=True).columns
    assert tuple(told) == (*COLUMNS, "value_20_um", "status")


def test_a_length_is_in_um_with_its_target_and_distance(floor):
    floor.take([reading(value="12.7", station_mm=20, clock_deg=270, measured_at="2026-05-04T08:00+02:00")])
    found = one(floor)
    assert (found["value_um"], found["target_um"], found["deviation_um"]) == (96_012.7, 96_000, 12.7)
    assert pd.isna(found["value"])
    assert (found["station_mm"], found["clock_deg"]) == (20, 90)  # a diameter at 270 is the one at 90
    assert (found["trial"], found["pass"]) == (1, 1)
    assert found["measured_at"] == "2026-05-04T06:00:00Z"


def test_what_is_not_coded_has_no_target_and_what_is_no_length_its_own_unit(floor):
    told = {"reading": "", "target": ""}
    floor.take([*ra("B1", AT, ["0.35"]),
                reading(characteristic="crosshatch_angle", value=44, unit="deg", **told),
                reading(characteristic="minutes_per_bore", value="3.5", unit="min", **told)])  # fmt: skip
    found = readings.table(floor.store, Asked()).set_index("characteristic")
    assert found.loc["ra", "value_um"] == 0.35
    assert found.loc[["ra"], ["target_um", "deviation_um"]].isna().all(axis=None)
    assert found["value"].to_dict()["crosshatch_angle"] == 44
    assert found["value"].to_dict()["minutes_per_bore"] == 3.5
    assert pd.isna(found.loc["minutes_per_bore", "value_um"])


def test_an_id_leads_back_to_file_row_column_and_text(floor):
    result = floor.take([reading(value="1.50"), reading(feature="cyl-2", value="2")], "may.csv")
    found = one(floor)
    assert found["id"] == f"{result.sha256[:12]}:2:value"
    assert (found["file"], found["row"], found["column"], found["text"]) == ("may.csv", "2", "value", "1.50")


def test_a_deviation_whose_target_stands_in_a_specification_has_its_size(floor):
    floor.take([{"characteristic": "bore_diameter", "reading": "size", "target": "96.01", "unit": "mm"}])
    floor.take([reading(value=8, target="")])
    found = one(floor)
    assert (found["value_um"], found["target_um"], found["deviation_um"]) == (96_018, 96_010, 8)


@pytest.fixture
def mixed(floor):
    """Two that count, one excluded, one voided of pass 2, one held."""
    floor.take([window(-10, 10)])
    floor.take(block("B1", AT, [1, 2, 3]))
    floor.take([reading("B1", "cyl-4", 5, measured_at="2026-05-05T08:00", order=4, **{"pass": 2})])
    floor.exclude(build=["B1"], feature=["cyl-2"])
    frame = readings.table(floor.store, Asked())
    with floor.store.write(by="test", command="void") as write:
        write.void(frame[frame["feature"] == "cyl-4"]["id"].iloc[0], "misread")
    floor.take([reading("B2", "cyl-1", 40_000, station_mm=20, gauge="bg-7")], "held.csv", held=1)
    return floor


def test_only_those_that_count_are_listed_unless_all_are_asked_for(mixed):
    assert readings.table(mixed.store, Asked())["feature"].tolist() == ["cyl-1", "cyl-3"]
    every = readings.table(mixed.store, Asked(), every=True).set_index("feature")
    assert every.loc["cyl-2", "status"] == "excluded"
    assert every.loc["cyl-3", "status"] == "counts"
    assert every.loc["cyl-4", "status"] == "voided"
    assert sorted(every["status"]) == ["counts", "counts", "excluded", "held", "voided"]


def test_a_voided_reading_keeps_its_pass_its_size_and_its_engine(mixed):
    found = readings.table(mixed.store, Asked(), every=True).set_index("status").loc["voided"]
    assert (found["pass"], found["value_um"], found["engine"]) == (2, 96_005, "v8")


def test_a_held_reading_shows_what_it_would_be(mixed):
    found = readings.table(mixed.store, Asked(), every=True).set_index("status").loc["held"]
    assert (found["build"], found["feature"], found["gauge"]) == ("B2", "cyl-1", "bg-7")
    assert (found["station_mm"], found["value_um"], found["text"]) == (20, 136_000, "40000")
    assert (found["file"], found["row"], found["column"]) == ("held.csv", "2", "value")
    assert found["made_at"] == "2026-05-04T08:00:00Z"


def test_filters_hold_for_every_status(mixed):
    found = readings.table(mixed.store, Asked(build=("B1",)), every=True)
    assert sorted(found["status"]) == ["counts", "counts", "excluded", "voided"]
    found = readings.table(mixed.store, Asked(gauge=("bg-7",)), every=True)
    assert found["status"].tolist() == ["held"]
    found = readings.table(mixed.store, Asked(engine=("v8",), feature=("cyl-4",)), every=True)
    assert found["status"].tolist() == ["voided"]


def test_a_held_row_of_another_kind_of_file_is_no_reading(floor):
    floor.take([reading()])
    floor.take([window(-10, 10), window("ten", 10)], held=1)
    assert readings.table(floor.store, Asked(), every=True)["status"].tolist() == ["counts"]


def test_an_empty_store_has_an_empty_list(floor):
    assert len(readings.table(floor.store, Asked())) == 0
    assert len(readings.table(floor.store, Asked(), every=True)) == 0
    assert readings.answer(floor.store, Asked())["readings"] == []
