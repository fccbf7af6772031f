"""Form from diameters: names of the methods, and which window judges which of them."""

import numpy as np
import pytest

from tests.qc.shopfloor import reading

DEPTHS, CLOCKS = (20, 60, 110), (0, 90)
# rows: depths from the deck down; columns: directions [um off target]
# out-of-round: |4-1|, |3-1|, |0-1| -> 3; taper: ((4+1) - (0+1))/2 = 2; range: max(4-0, 1-1) = 4
# barrel: middle (3+1)/2 = 2 minus ((4+1)/2 + (0+1)/2)/2 = 1.5 -> 0.5
BORE = ((4, 1), (3, 1), (0, 1))


def places(values=BORE, depths=DEPTHS, clocks=CLOCKS, **more):
    return [
        reading(value=v, station_mm=s, clock_deg=c, **more)
        for s, row in zip(depths, values, strict=True)
        for c, v in zip(clocks, row, strict=True)
    ]


def taper_window(**limits):
    return {"characteristic": "bore_taper", "reading": "size", "unit": "um", "source": "book"} | limits


def found(floor, characteristic):
    values = floor.history().values
    return values[values["characteristic"] == characteristic].set_index("method")


def test_form_of_a_bore_by_hand(floor):
    floor.take(places())
    assert found(floor, "bore_out_of_round")["value"].to_dict() == {"2x3": 3.0}
    assert found(floor, "bore_taper")["value"].to_dict() == {"ends": 2.0}
    assert found(floor, "bore_barrel")["value"].to_dict() == {"ends": 0.5}


def test_form_keeps_machine_operation_state_and_the_readings_behind_it(floor):
    floor.take(places())
    row = found(floor, "bore_taper").iloc[0]
    assert (row["machine"], row["operation"], row["state"]) == ("hone-1", "plateau_hone", "plate_on")
    assert len(row["rows"]) == 6


@pytest.mark.parametrize(
    ("depths", "clocks", "method"),
    [((20, 110), (0, 60, 120), "3x2"), ((60,), (0, 45, 90, 135), "4x1"), ((20, 60, 110), (0, 90), "2x3")],
)
def test_out_of_round_is_named_directions_by_stations(floor, depths, clocks, method):
    floor.take(places([[0] * len(clocks)] * len(depths), depths, clocks))
    assert list(found(floor, "bore_out_of_round").index) == [method]


def test_one_direction_shows_no_out_of_round_and_one_depth_no_taper(floor):
    floor.take(places([[4], [3], [0]], DEPTHS, (0,)))
    assert found(floor, "bore_out_of_round").empty
    assert found(floor, "bore_taper")["value"].to_dict() == {"ends": 4.0}
    floor.take(
        [r | {"feature": "cyl-2", "build": "B2"} for r in places([[4, 3]], (60,), CLOCKS, engine="i4")]
    )
    assert len(found(floor, "bore_taper")) == 1


def test_a_bore_read_in_part_has_no_form(floor):
    floor.take([r | {"feature": f"cyl-{i}"} for i in (1, 2) for r in places()])
    floor.take([r | {"feature": "cyl-3"} for r in places()[:5]])
    values = floor.history().values
    form = values[values["characteristic"].isin(["bore_taper", "bore_out_of_round", "bore_barrel"])]
    assert set(form["feature"]) == {"cyl-1", "cyl-2"}


def test_positions_that_are_no_grid_have_no_form(floor):
    floor.take(places()[:5])
    assert found(floor, "bore_out_of_round").empty


def test_a_two_sided_window_judges_the_signed_taper_and_asks_for_no_range(floor):
    floor.take([taper_window(lower=-1, upper=1)])
    floor.take(places())
    tapers = found(floor, "bore_taper")
    assert list(tapers.index) == ["ends"]
    assert tapers.loc["ends", "conforms"] is False


def test_a_books_maximum_asks_for_the_range_and_judges_that(floor):
    floor.take([taper_window(upper=3)])
    floor.take(places())
    tapers = found(floor, "bore_taper")
    assert tapers.loc["range", "value"] == 4.0
    assert tapers.loc["range", "conforms"] is False
    assert tapers.loc["ends", "conforms"] is None
    assert np.isnan(tapers.loc["ends", "upper_limit"])


def test_form_of_sizes_without_a_target_is_still_known(floor):
    sizes = [(96.004, 96.001), (96.003, 96.001), (96.0, 96.001)]
    floor.take(places(sizes, reading="size", unit="mm", target=""))
    taper = found(floor, "bore_taper").iloc[0]
    np.testing.assert_allclose(taper["value"], 2.0, atol=1e-9)
    assert taper["complete"]
    size = found(floor, "bore_diameter").iloc[0]
    assert size["reason"] == "no target is known"


def test_texture_measured_beside_makes_no_form(floor):
    floor.take([reading(characteristic="ra", reading="", target="", value=0.3, station_mm=s) for s in DEPTHS])
    assert set(floor.history().values["characteristic"]) == {"ra"}


def centres(heights, plane="vertical"):
    return [
        reading(
            feature=f"main-{i + 1}", characteristic="tunnel_centre", method=plane, reading="", target="",
            value=h, station_mm=100 * i, machine="line-hone-1", operation="line_hone", state="caps_torqued",
        )
        for i, h in enumerate(heights)
    ]  # fmt: skip


def test_the_main_line_of_a_block_is_one_value_a_plane(floor):
    # centres 0, 3, 0 at 0, 100, 200 mm: best-fit line at 1, residuals -1, 2, -1: overall 3
    floor.take(centres([0, 3, 0]))
    values = floor.history().values
    line = values[values["characteristic"] == "tunnel_offset"]
    assert line[["method", "feature"]].values.tolist() == [["overall-vertical", "whole"]]
    np.testing.assert_allclose(line["value"], [3.0])


def test_a_tilted_main_line_is_straight(floor):
    floor.take(centres([5, 7, 9, 11]))
    values = floor.history().values
    np.testing.assert_allclose(values[values["characteristic"] == "tunnel_offset"]["value"], [0.0], atol=1e-9)


def test_two_centres_make_no_line(floor):
    floor.take(centres([0, 3]))
    assert "tunnel_offset" not in set(floor.history().values["characteristic"])


def test_a_main_line_of_which_one_main_waits_is_no_line(floor):
    # without main-3 the others lie on a straight line, with it they do not
    up = centres([0, 0, 9, 0, 0])
    floor.take([*up[:2], *up[3:], *centres([0, 0, 0, 0, 0], "horizontal")])
    values = floor.history().values
    line = values[values["characteristic"] == "tunnel_offset"].set_index("method")
    assert line["complete"].to_dict() == {"overall-horizontal": True, "overall-vertical": False}
    assert np.isnan(line["value"]["overall-vertical"])
    assert line["reason"]["overall-vertical"] == "1 of 5 mains not read in this plane"
