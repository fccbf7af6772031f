"""The build sheet: verdicts on local sizes by the last pass, and what is not known."""

import pytest

from qc.errors import QuestionError
from qc.records import Asked
from qc.reports import build
from tests.qc.shopfloor import block, ra, reading, window

AT = "2026-05-04T08:00"


def sheet(floor, name="B1", **asked):
    return build.answer(floor.store, name, Asked(**asked))


def quantities(floor, characteristic="bore_diameter", name="B1"):
    return {
        q["feature"]: q for q in sheet(floor, name)["quantities"] if q["characteristic"] == characteristic
    }


def gauge(u="1"):
    return {"gauge": "bg-1", "standard_uncertainty": u, "unit": "um"}


def test_a_size_is_in_mm_with_its_limits_and_its_distance_from_target(floor):
    floor.take([window(-10, 12)])
    floor.take([reading(value=3)])
    one = quantities(floor)["cyl-1"]
    assert one["unit"] == "mm"
    assert (one["value"], one["lower"], one["upper"]) == pytest.approx((96.003, 95.990, 96.012))
    assert one["off_target"] == 3
    assert (one["source"], one["verdict"], one["gauge"]) == ("book", "conforms", "bg-1")
    assert len(one["readings"]) == 1


@pytest.mark.parametrize(
    ("value", "verdict"),
    # u = 1 um, g = 1.645 um about -10 and 10
    [(8.3, "conforms"), (8.4, "undecided"), (11.6, "undecided"), (11.7, "does_not_conform"),
     (-8.4, "undecided"), (-11.7, "does_not_conform")],
)  # fmt: skip
def test_verdicts_keep_off_the_limits_by_the_guard_band(floor, value, verdict):
    floor.take([gauge()])
    floor.take([window(-10, 10)])
    floor.take([reading(value=value)])
    assert quantities(floor)["cyl-1"]["verdict"] == verdict


def test_the_worst_local_size_decides(floor):
    floor.take([window(-10, 10)])
    floor.take([reading(value=v, station_mm=s) for v, s in ((0, 20), (11, 110))])
    one = quantities(floor)["cyl-1"]
    assert one["off_target"] == 5.5
    assert one["verdict"] == "does_not_conform"
    assert "1 quantity outside" in sheet(floor)["sentence"]


def test_the_last_pass_is_judged(floor):
    floor.take([window(-10, 10)])
    floor.take(
        [reading(value=15, **{"pass": 1}), reading(value=2, measured_at="2026-05-04T10:00", **{"pass": 2})]
    )
    found = [q for q in sheet(floor)["quantities"] if q["characteristic"] == "bore_diameter"]
    assert [(q["pass"], q["verdict"]) for q in found] == [(2, "conforms")]


def test_a_bore_read_in_part_is_not_called_conforming(floor):
    floor.take([{"engine": "v8", "characteristic": "bore_diameter", "station_mm": s} for s in (20, 110)])
    floor.take([window(-10, 10)])
    floor.take([reading(value=0, station_mm=20), reading(feature="cyl-2", value=15, station_mm=20)])
    found = quantities(floor)
    assert found["cyl-1"]["verdict"] is None
    assert found["cyl-1"]["not_given"]["verdict"] == "1 of 2 planned positions not read"
    assert found["cyl-2"]["verdict"] == "does_not_conform"
    assert not sheet(floor)["complete"]
    assert "not complete" in sheet(floor)["sentence"]


def test_without_a_target_the_size_is_shown_and_judged_by_a_size_window(floor):
    floor.take([window("95.99", "96.01", reading="size", unit="mm")])
    told = {"reading": "size", "unit": "mm", "target": ""}
    floor.take([reading(value="96.004", **told), reading(feature="cyl-2", value="96.02", **told)])
    found = quantities(floor)
    assert found["cyl-1"]["value"] == pytest.approx(96.004)
    assert (found["cyl-1"]["lower"], found["cyl-1"]["upper"]) == pytest.approx((95.99, 96.01))
    assert [found[f]["verdict"] for f in ("cyl-1", "cyl-2")] == ["conforms", "does_not_conform"]
    assert found["cyl-1"]["not_given"]["off_target"] == "no target is known"
    assert sheet(floor)["complete"]


def test_without_a_target_the_rows_own_limits_judge(floor):
    told = {"reading": "size", "unit": "mm", "target": "", "lower": "95.99", "upper": "96.01"}
    floor.take([reading(value="96.02", **told)])
    one = quantities(floor)["cyl-1"]
    assert (one["lower"], one["upper"], one["verdict"]) == (95.99, 96.01, "does_not_conform")
    assert one["source"] == "limits written in the readings' own rows"


def test_places_with_limits_of_their_own_still_give_a_verdict(floor):
    floor.take([window(-10, 10), window(-2, 2, station_mm=110)])
    floor.take([reading(value=v, station_mm=s) for v, s in ((5, 20), (3, 110))])
    assert quantities(floor)["cyl-1"]["verdict"] == "does_not_conform"


def test_texture_is_shown_as_it_is(floor):
    floor.take([{"characteristic": "ra", "reading": "size", "unit": "um", "upper": "0.5", "source": "book"}])
    floor.take(ra("B1", AT, ["0.55"]))
    one = quantities(floor, "ra")["cyl-1"]
    assert (one["value"], one["upper"], one["unit"], one["verdict"]) == (0.55, 0.5, "um", "does_not_conform")
    assert one["not_given"]["lower"] == "no limit on this side"


def test_without_limits_there_is_no_verdict_and_a_reason(floor):
    floor.take([reading(value=0)])
    one = quantities(floor)["cyl-1"]
    assert one["verdict"] is None
    assert one["not_given"]["verdict"] == "no limits are in force for it"


def test_a_build_is_asked_for_by_its_name(floor):
    floor.take([*block("B1", AT, [1]), *block("B2", AT, [2])])
    assert quantities(floor, name="B2")["cyl-1"]["off_target"] == 2
    with pytest.raises(QuestionError, match="qc series lists"):
        sheet(floor, "B3")


def test_as_of_before_a_build_came_it_is_unknown(floor):
    floor.take(block("B1", AT, [1]))
    first = floor.store.revision()
    floor.take(block("B2", AT, [2]))
    with pytest.raises(QuestionError):
        sheet(floor, "B2", as_of=first)


def test_releases_are_not_claimed(floor):
    floor.take([reading()])
    found = sheet(floor)
    assert found["released"] is None
    assert "responsible machinist" in found["not_given"]["released"]
