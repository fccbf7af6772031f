"""What a kept reading is judged by: its target, its limits, its pass."""

import numpy as np
import pandas as pd
import pytest

from qc.history.readings import inside, passes
from tests.qc.shopfloor import block, ra, reading, window


def one(floor, **more):
    return floor.history(**more).readings.iloc[0]


def test_a_deviation_is_the_size_minus_its_own_target(floor):
    floor.take([reading(value="8", target="96.01")])
    found = one(floor)
    assert (found["size"], found["aim"], found["shown"]) == (9_601_800_000, 9_601_000_000, 8.0)


def test_a_deviation_without_a_target_takes_that_of_the_specification_in_force(floor):
    floor.take([
        {"characteristic": "bore_diameter", "reading": "size", "target": "96.01", "unit": "mm"}
    ])  # fmt: skip
    floor.take([reading(value="8", target="")])
    assert (one(floor)["size"], one(floor)["shown"]) == (9_601_800_000, 8.0)


def test_limits_are_those_in_force_even_where_the_row_has_others(floor):
    floor.take([window(-10, 10)])
    floor.take([reading(value=0, lower=-3, upper=3)])
    found = one(floor)
    assert (found["lower_limit"], found["upper_limit"]) == (-10, 10)
    assert found["disagrees"]


def test_the_rows_own_limits_count_where_no_specification_matches(floor):
    floor.take([window(-10, 10, engine="i6")])
    floor.take([reading(value=0, lower=-3, upper=4)])
    found = one(floor)
    assert (found["lower_limit"], found["upper_limit"], found["spec"]) == (-3, 4, -1)
    assert not found["disagrees"]


def test_own_limits_of_a_size_are_counted_from_its_target(floor):
    floor.take(
        [reading(reading="size", unit="mm", value="96.012", lower="95.99", upper="96.02", target="96.01")]
    )
    found = one(floor)
    np.testing.assert_allclose([found["shown"], found["lower_limit"], found["upper_limit"]], [2, -20, 10])


def test_own_limits_do_not_come_back_where_a_size_window_was_passed_over(floor):
    # file contract: where nothing else matches, the reading counts as without limits and enters no index
    floor.take([window("97", "97.1", reading="size", unit="mm")])
    floor.take([reading(value=0, lower=-3, upper=3)])
    found = one(floor)
    assert found["passed_over"]
    assert np.isnan([found["lower_limit"], found["upper_limit"]]).all()


def test_texture_is_shown_as_it_is_whatever_its_target(floor):
    floor.take(ra("B1", "2026-05-04T08:00", ["0.35"], reading="size", target="0.3", upper="0.5"))
    found = one(floor)
    assert (found["shown"], found["upper_limit"]) == (0.35, 0.5)
    assert np.isnan(found["limit_target"])


def test_inch_and_millimetre_rows_of_one_length_are_one_number(floor):
    told = {"reading": "size", "gauge": "g"}
    floor.take([reading(feature="cyl-1", value="96.012", unit="mm", target="96", **told),
                reading(feature="cyl-2", value="3.78", unit="in", target="3.7795", **told)])  # fmt: skip
    shown = floor.history().readings.set_index("feature")["shown"]
    assert shown["cyl-1"] == 12.0
    assert shown["cyl-2"] == 12.7  # 0.0005 in = 12.7 um exactly


def test_the_engine_is_the_rows_own_or_that_of_its_build(floor):
    floor.take([{"build": "B2", "engine": "i6", "received_on": "2026-05-01"}])
    floor.take([reading("B1", engine="v8"), reading("B2", engine=""), reading("B3", engine="")])
    found = floor.history().readings.set_index("build")["known_engine"]
    assert (found["B1"], found["B2"]) == ("v8", "i6")
    assert pd.isna(found["B3"])


def test_a_typed_taper_is_judged_by_the_kind_of_window_that_fits_it(floor):
    # an upper limit only is a book's maximum: it judges the range, not the signed figure
    floor.take([{"characteristic": "bore_taper", "reading": "size", "upper": "10", "unit": "um"}])
    told = {"characteristic": "bore_taper", "reading": "size", "target": ""}
    floor.take([reading(feature="cyl-1", value=4, method="range", **told),
                reading(feature="cyl-2", value=-4, **told)])  # fmt: skip
    found = floor.history().readings.set_index("method")["upper_limit"]
    assert found["typed-range"] == 10
    assert np.isnan(found["typed"])


def passed(*told):
    frame = pd.DataFrame(told, columns=["feature", "pass", "made_at"])
    frame["pass"] = frame["pass"].astype("Int64")
    return passes(frame.assign(block="B1", machine="hone-1", operation="hone")).tolist()


def test_a_blank_pass_is_the_latest_known_of_that_bore_at_that_time():
    found = passed(("cyl-1", None, 5), ("cyl-1", 1, 10), ("cyl-1", 2, 20), ("cyl-1", None, 15),
                   ("cyl-1", None, 20), ("cyl-1", None, 30), ("cyl-2", None, 30))  # fmt: skip
    assert found == [1, 1, 2, 1, 2, 2, 1]


def test_without_any_pass_all_is_the_first():
    assert passed(("cyl-1", None, 5), ("cyl-1", None, 9)) == [1, 1]


def test_a_lower_pass_read_later_does_not_take_the_pass_back():
    assert passed(("cyl-1", 2, 10), ("cyl-1", 1, 20), ("cyl-1", None, 30)) == [2, 1, 2]


@pytest.mark.parametrize(("value", "good"), [(-10, True), (10, True), (10.00001, False), (-10.1, False)])
def test_on_the_limit_conforms_and_a_tick_beyond_does_not(value, good):
    assert inside(np.array([value]), np.array([-10.0]), np.array([10.0]))[0] == good


def test_where_there_is_no_limit_a_value_cannot_fail():
    both = inside(np.array([99.0, -99.0]), np.array([np.nan, -100]), np.array([np.nan, np.nan]))
    assert both.tolist() == [True, True]


def test_the_same_readings_from_inch_and_millimetre_files_give_the_same_answer(floor, tmp_path):
    from qc.store import Store
    from tests.qc.shopfloor import Shop

    # 0.1 thou = 2.54 um exactly; targets 96.012 mm = 3.78 in exactly
    values = [3, -1, 4, -1, 5, -9, 2, 6]
    inches = block("B1", "2026-05-04T08:00", [f"{v / 10}" for v in values], unit="thou", target="3.78")
    metric = block("B1", "2026-05-04T08:00", [f"{v * 2.54:.2f}" for v in values], unit="um", target="96.012")
    (tmp_path / "other").mkdir()
    with Store.open(tmp_path / "other" / "in.db", create=True) as store:
        other = Shop(store, tmp_path / "other")
        other.take(inches)
        floor.take(metric)
        a, b = floor.history(), other.history()
        for name in ("value", "least", "greatest", "aim"):
            assert a.values[name].tolist() == b.values[name].tolist()
        assert a.blocks[["mean", "spread"]].equals(b.blocks[["mean", "spread"]])
