"""Sizes at 20 degC: worked by hand from expansion coefficients, both values kept."""

import pytest

from qc.records import Asked
from qc.reports import clearance
from qc.reports import readings as report
from tests.qc.shopfloor import reading


def sized(build="B1", value="96.0600", **more):
    return reading(build, value=value, reading="size", unit="mm", **more)


def off_target(floor):
    return floor.history().values["value"].tolist()


def test_a_warm_aluminium_bore_is_brought_to_20_by_the_difference_to_its_master(floor):
    # Callister, table B.6: 356 aluminium 21.5e-6/K; gauge-block steel 11.5e-6/K (ISO 3650, from memory):
    # 96.06 mm x 10e-6 x 6 K = 5.76 um too large
    floor.take([sized(material="aluminium 356", part_c="26", gauge_c="26", master="ring-96")])
    assert off_target(floor) == pytest.approx([60 - 5.7636], abs=1e-4)


def test_an_instrument_whose_scale_holds_at_20_sees_the_whole_growth(floor):
    # 96.06 mm x 11.4e-6 x 15 K = 16.43 um: a bore honed 15 degrees warm reads 16 um big
    floor.take([sized(material="grey iron", part_c="35")])
    assert off_target(floor) == pytest.approx([60 - 16.4263], abs=1e-4)


def test_iron_and_master_at_one_temperature_hardly_differ(floor):
    # 96.06 mm x (11.4 - 11.5)e-6 x 8 K = -0.08 um
    floor.take([sized(material="grey iron", part_c="28", gauge_c="28")])
    assert off_target(floor) == pytest.approx([60.0768], abs=1e-4)


def test_the_builds_material_is_that_of_its_bores_but_not_of_its_journals(floor):
    floor.take("build,engine,material\nB1,v8,aluminium\n")
    journal = {"characteristic": "journal_diameter", "feature": "main-1", "operation": "journal_grind"}
    floor.take([sized(part_c="30"), sized(part_c="30") | journal | {"state": "free"}])
    found = floor.history().readings.set_index("characteristic")
    assert found.loc["bore_diameter", "at_20"]
    assert not found.loc["journal_diameter", "at_20"]
    assert "material is not said" in found.loc["journal_diameter", "not_at_20"]


@pytest.mark.parametrize(("more", "why"), [
    ({"material": "iron with liners"}, "not in our table"),
    ({}, "material is not said"),
    ({"material": "iron", "master": "ring-96"}, "ring-96, whose temperature"),
])  # fmt: skip
def test_what_cannot_be_brought_there_counts_as_read_and_says_why(floor, more, why):
    floor.take([sized(part_c="30", **more)])
    assert off_target(floor) == pytest.approx([60])
    assert why in floor.history().readings["not_at_20"].iloc[0]


def test_a_gauge_that_the_register_sets_on_a_master_needs_that_masters_temperature(floor):
    floor.take("gauge,kind,master,unit\nbg-1,dial bore gauge,ring-96,um\n")
    floor.take([sized(part_c="30", material="iron")])
    assert "ring-96" in floor.history().readings["not_at_20"].iloc[0]


def test_inch_and_millimetre_files_are_brought_to_the_same_size(floor):
    warm = {"material": "aluminium", "part_c": "27", "gauge_c": "24"}
    floor.take([sized("B1", "96.52", **warm)])
    floor.take([sized("B2", "3.8", **warm) | {"unit": "in", "target": "3.7795275590551"}])
    sizes = floor.history().readings["size"].tolist()
    assert sizes[0] == sizes[1] < 9_652_000_000


def test_what_was_measured_at_20_or_without_a_thermometer_is_left_alone(floor):
    aluminium = {"material": "aluminium"}
    floor.take([sized("B1", part_c="20", gauge_c="20", **aluminium), sized("B2", **aluminium)])
    found = floor.history().readings
    assert found["size"].tolist() == found["size_as_read"].tolist()
    assert not found["at_20"].any()


def test_both_sizes_are_in_the_table_of_readings(floor):
    floor.take([sized(material="grey iron", part_c="35")])
    row = report.table(floor.store, Asked()).iloc[0]
    assert row["value_um"] == pytest.approx(96_060)
    assert row["value_20_um"] == pytest.approx(96_060 - 16.4263, abs=1e-4)
    assert row["deviation_um"] == pytest.approx(60 - 16.4263, abs=1e-4)


def test_the_clearance_says_how_many_readings_were_moved(floor):
    shells = sized(
        characteristic="shell_bore", feature="main-1", operation="fit", machine="bench", state="caps_torqued",
        clock_deg=0, material="aluminium", part_c="25", gauge_c="25",
    )  # fmt: skip
    journal = shells | {"characteristic": "journal_diameter", "operation": "journal_grind", "value": "96",
                        "material": "steel", "clock_deg": ""}  # fmt: skip
    floor.take([shells, journal])
    said = clearance.answer(floor.store, Asked())
    assert any(c.startswith("2 of the readings") for c in said["cautions"])
    # bore 96.06 x 10e-6 x 5 = 4.803 um less, journal 96 x 0.2e-6 x 5 = 0.096 um less
    assert said["builds"][0]["positions"][0]["achieved"] == pytest.approx(60 - 4.803 + 0.096, abs=2e-3)
