"""Typed clearances against those that the parts give; expected figures are differences of the sizes here."""

import shutil

import pytest

from qc.errors import QuestionError
from qc.ingest.held import decide
from qc.ingest.plausible import clearances, registry
from qc.ingest.run import ingest
from qc.records import Asked
from qc.store import Store

CHECKS = (clearances,)
HEAD = {"build": "P1", "engine": "finch-4", "machine": "bench", "operation": "receive", "unit": "mm",
        "measured_at": "2026-02-02T09:00"}  # fmt: skip


def part(characteristic, feature, *values, clock="", state="free", **more):
    return [
        HEAD | {"characteristic": characteristic, "feature": feature, "value": v, "clock_deg": clock,
                "state": state, "station_mm": str(20 + 40 * i), "gauge": "", **more}
        for i, v in enumerate(values)
    ]  # fmt: skip


def typed(characteristic, feature, value, **more):
    return [HEAD | {"operation": "fit", "characteristic": characteristic, "feature": feature, "value": value,
                    "state": "free", "clock_deg": "", "station_mm": "", "gauge": "", **more}]  # fmt: skip


# bore 96.012 in the mean (96.010 to 96.014) less skirt 95.940: 0.072 mm, by single readings 0.070 to 0.074
PISTON = [
    *part("bore_diameter", "cyl-1", "96.010", "96.012", "96.014", clock="90", state="plate_on",
          machine="hone-1", operation="hone"),
    *part("piston_diameter", "cyl-1", "95.940"),
]  # fmt: skip
# shells 60.050 in the mean, largest journal 59.998: 0.052 mm
MAIN = [
    *part("shell_bore", "main-2", "60.049", "60.051", clock="0", state="caps_torqued"),
    *part("journal_diameter", "main-2", "59.995", "59.998", clock="0"),
]
# housing 64.000 less walls 2.000 and 1.998 less pin 59.950: 0.052 mm
ROD = [
    *part("rod_bore_diameter", "rod-3", "64.000", clock="0", state="caps_torqued"),
    *part("shell_wall", "rod-3-upper", "2.000"), *part("shell_wall", "rod-3-lower", "1.998"),
    *part("pin_diameter", "rod-3", "59.950", clock="0"),
]  # fmt: skip
SPEC = {"characteristic": "piston_clearance", "engine": "finch-4", "reading": "size", "lower": "0.060",
        "target": "0.070", "upper": "0.080", "unit": "mm"}  # fmt: skip


@pytest.fixture
def asked(tmp_path, empty_store, as_file, monkeypatch):
    """Findings of our code in files taken in one after the other."""
    monkeypatch.setattr(registry, "CHECKS", CHECKS)
    place = shutil.copy(empty_store, tmp_path / "shop.db")

    def took(*files):
        with Store.open(place) as store:
            paths = [as_file(tmp_path / f"{i}.csv", rows) for i, rows in enumerate(files)]
            results = ingest(store, paths, by="test").files
        return [f for r in results for f in r.findings if f["code"] == "clearance_differs"]

    return took


# allowed beyond 0.070 to 0.074: a step of 1 um each of bore, skirt and typed figure
@pytest.mark.parametrize("value", ["0.067", "0.072", "0.077"])
def test_a_typed_clearance_that_some_of_the_readings_give_is_not_doubted(asked, value):
    assert asked([*PISTON, *typed("piston_clearance", "cyl-1", value)]) == []


@pytest.mark.parametrize(
    ("parts", "what", "feature", "value", "gives", "rests"),
    [
        (PISTON, "piston_clearance", "cyl-1", "0.078", "0.072 mm",
         ["96.012 mm (mean of 3 readings: rows 2-4)", "95.94 mm (1 reading: row 5)"]),
        (MAIN, "main_clearance", "main-2", "0.025", "0.052 mm",
         ["60.05 mm (mean of 2 readings: rows 2-3)", "59.998 mm (largest of 2 readings: rows 4-5)"]),
        (ROD, "rod_clearance", "rod-3", "0.25", "0.052 mm",
         ["64 mm (1 reading: row 2)", "2 mm", "1.998 mm", "59.95 mm"]),
    ],
)  # fmt: skip
def test_one_that_they_cannot_give_is_asked_about(asked, parts, what, feature, value, gives, rests):
    (found,) = asked([*parts, *typed(what, feature, value)])
    assert found["severity"] == "ask"
    assert [c["text"] for c in found["cells"]] == [value]
    assert value in found["saw"]
    assert f"gives {gives}." in found["saw"]
    assert all(text in found["saw"] for text in rests)


def test_what_the_parts_give_is_said_to_a_tenth_of_a_um(asked):
    # bores 96.010, 96.012 and 96.015: 96.012333... in the mean, less 95.940
    rows = [*part("bore_diameter", "cyl-1", "96.010", "96.012", "96.015", clock="90", state="plate_on",
                  machine="hone-1", operation="hone"), *PISTON[3:]]  # fmt: skip
    (found,) = asked([*rows, *typed("piston_clearance", "cyl-1", "0.090")])
    assert "96.0123 mm (mean of 3 readings" in found["saw"]
    assert "gives 0.0723 mm." in found["saw"]


def test_a_coarse_typed_figure_is_held_against_its_own_step(asked):
    # 0.08 mm has a step of 10 um: 0.072 is within it
    assert asked([*PISTON, *typed("piston_clearance", "cyl-1", "0.08")]) == []


def test_one_that_changes_the_verdict_is_held_and_its_correction_is_what_the_parts_give(asked, tmp_path):
    (found,) = asked([SPEC], [*PISTON, *typed("piston_clearance", "cyl-1", "0.090")])
    assert found["severity"] == "stop"
    assert "only one of the two lies inside the limits" in found["doubt"]
    with Store.open(tmp_path / "shop.db") as store:
        (row,) = store.held()["fields"]
        assert dict(row)["proposed value"] == "0.072"


def test_one_that_counts_meanwhile_is_put_right_by_what_a_person_writes(asked, tmp_path):
    (found,) = asked([*PISTON, *typed("piston_clearance", "cyl-1", "0.090")])
    with Store.open(tmp_path / "shop.db") as store:
        with pytest.raises(QuestionError, match="write what the cells should read"):
            decide(store, found["id"], "correct", "by the parts", "bea")
        assert decide(store, found["id"], "correct", "by the parts", "bea", "0.072").kept == 1
        kept = store.readings(Asked())
    assert list(kept["value"][kept["characteristic"] == "piston_clearance"]) == [7_200_000]  # 72 um


def test_one_inside_the_limits_as_the_computed_one_is_only_asked_about(asked):
    (found,) = asked([SPEC], [*PISTON, *typed("piston_clearance", "cyl-1", "0.063")])
    assert found["severity"] == "ask"


def test_the_registered_uncertainty_of_the_gauges_counts(asked):
    gauges = [{"gauge": "bg-1", "kind": "bore gauge", "resolution": "0.001", "standard_uncertainty": "0.003",
               "unit": "mm"}]  # fmt: skip
    rows = [r | {"gauge": "bg-1"} for r in PISTON[:3]] + PISTON[3:]
    # 0.074 + 3 steps of 1 um + twice 3 um: 0.083
    assert asked(gauges, [*rows, *typed("piston_clearance", "cyl-1", "0.083")]) == []
    other = [r | {"build": "P2"} for r in [*rows, *typed("piston_clearance", "cyl-1", "0.084")]]
    assert len(asked(other)) == 1


def test_parts_that_come_after_the_typed_figure_are_asked_about(asked):
    assert asked(typed("piston_clearance", "cyl-1", "0.050"), PISTON[3:]) == []
    (found,) = asked(PISTON[:3])
    assert found["severity"] == "ask"
    assert [c["text"] for c in found["cells"]] == ["96.010", "96.012", "96.014"]
    assert "gives a piston clearance of 0.072 mm, while 0.05 mm was typed for cyl-1" in found["saw"]
    assert "95.94 mm (1 reading: 1 kept before)" in found["saw"]


def test_either_route_bears_a_typed_figure_out(asked):
    # by the installed shells 0.052; by housing and walls 64.038 - 2.005 - 2.005 - 59.998 = 0.030
    walls = [*part("tunnel_diameter", "main-2", "64.038", clock="0", state="caps_torqued"),
             *part("shell_wall", "main-2-upper", "2.005"),
             *part("shell_wall", "main-2-lower", "2.005")]  # fmt: skip
    assert asked([*MAIN, *walls, *typed("main_clearance", "main-2", "0.030")]) == []
    other = [r | {"build": "P2"} for r in [*MAIN, *walls, *typed("main_clearance", "main-2", "0.080")]]
    assert len(asked(other)) == 1
