"""The whole of it: filters, revisions, order of files, exclusions."""

from itertools import permutations
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from qc.history import history
from qc.history.zone import microseconds
from qc.records import Asked
from qc.reports import capability
from qc.store import Store
from tests.qc.shopfloor import Shop, block, event, ra, reading, window

DAYS = [f"2026-05-{d:02d}T08:00" for d in range(1, 29)]
VALUES = ["block", "feature", "value", "least", "greatest", "lower_limit", "upper_limit", "made_at"]
BLOCKS = ["block", "at", "bores", "mean", "spread", "stretch", "joint", "wear", "made"]


def us(day: str) -> int:
    return microseconds(pd.Timestamp(day, tz="UTC").to_pydatetime())


def files() -> list[list[dict]]:
    return [
        block("B0", DAYS[0], [1, 2, 4]) + ra("B0", DAYS[0], ["0.31", "0.33", "0.35"]),
        block("B1", DAYS[3], [2, 2, 5], machine="hone-2"),
        block("B2", DAYS[5], [0, 1, 3], gauge="bg-2") + ra("B2", DAYS[5], ["0.30", "0.36"]),
        [event("stones_changed", "2026-05-04T07:00")],
        [window(-4, 4)],
    ]


@pytest.fixture
def told(floor):
    for rows in files():
        floor.take(rows)
    return floor


def shown(found, columns=BLOCKS):
    frame = found.blocks if columns is BLOCKS else found.values
    names = ["machine", "characteristic", *columns]
    return frame[names].sort_values(names[:4]).reset_index(drop=True)


@pytest.mark.parametrize(
    "asked",
    [{"machine": ("hone-1",)}, {"characteristic": ("ra",)}, {"build": ("B2",)}, {"since": us("2026-05-02")},
     {"until": us("2026-05-04T23:00")}, {"engine": ("v8",)}, {"state": ("plate_on",)}],
    ids=str,
)  # fmt: skip
def test_a_filter_never_changes_the_figures_it_lets_through(told, asked):
    whole, part = told.history(), told.history(**asked)
    for columns in (BLOCKS, VALUES):
        every = {tuple(map(str, row)) for row in shown(whole, columns).itertuples(index=False)}
        some = [tuple(map(str, row)) for row in shown(part, columns).itertuples(index=False)]
        assert some
        assert set(some) <= every
    assert len(part.blocks) < len(whole.blocks) or asked.keys() & {"engine", "state"}


def test_a_filter_inside_a_block_keeps_its_place_wear_and_stretch(told):
    whole = told.history(characteristic=("bore_diameter",), machine=("hone-1",)).blocks.set_index("block")
    part = told.history(
        characteristic=("bore_diameter",), machine=("hone-1",), feature=("cyl-1", "cyl-2")
    ).blocks.set_index("block")
    assert part["bores"].tolist() == [2, 2]
    assert part["mean"].tolist() == [1.5, 0.5]
    for name in ("at", "stretch", "wear", "made", "joint"):
        assert part[name].tolist() == whole[name].tolist()


def test_a_gauge_is_a_filter_too(told):
    found = told.history(gauge=("bg-2",))
    assert set(found.blocks["block"]) == {"B2"}
    assert found.blocks["wear"].tolist() == [1.5]  # anew since the stones of 4 May


def test_dates_let_a_block_through_whole_or_not_at_all(floor):
    rows = block("B1", DAYS[0], [1, 2, 3])
    rows[2]["measured_at"] = "2026-05-02T09:00"
    floor.take(rows)
    # the block is of 2 May, the time of its last bore
    second = floor.history(since=us("2026-05-02"))
    assert second.blocks["bores"].tolist() == [3]
    assert len(second.values) == 3
    first = floor.history(until=us("2026-05-01T23:59"))
    assert len(first.blocks) == len(first.values) == 0


def test_filters_that_let_nothing_through_leave_empty_tables(told):
    found = told.history(machine=("nobody",))
    assert len(found.values) == len(found.blocks) == 0
    found = told.history(feature=("cyl-9",))
    assert len(found.values) == len(found.blocks) == 0


@pytest.mark.parametrize("order", list(permutations(range(5)))[::17], ids=str)
def test_the_order_of_the_files_changes_no_figure(told, tmp_path: Path, order):
    (tmp_path / "other").mkdir()
    with Store.open(tmp_path / "other" / "in.db", create=True) as store:
        other = Shop(store, tmp_path / "other")
        for i in order:
            other.take(files()[i])
        for columns in (BLOCKS, VALUES):
            pd.testing.assert_frame_equal(shown(told.history(), columns), shown(other.history(), columns))


def test_a_late_file_gives_what_it_would_have_given_from_the_start(floor, tmp_path: Path):
    (tmp_path / "late").mkdir()
    rows = [block(f"B{i}", DAYS[i], [i, i + 1, i + 3]) for i in range(4)]
    for table in rows:
        floor.take(table)
    with Store.open(tmp_path / "late" / "in.db", create=True) as store:
        late = Shop(store, tmp_path / "late")
        for i in (0, 2, 3):
            late.take(rows[i])
        before = late.history()
        assert before.blocks["wear"].tolist() == [1.5, 4.5, 7.5]
        late.take(rows[1])
        pd.testing.assert_frame_equal(shown(floor.history()), shown(late.history()))


def test_as_of_a_revision_the_store_is_as_that_revision_left_it(floor):
    floor.take(block("B0", DAYS[0], [1, 2]))
    first = floor.store.revision()
    then = shown(floor.history())
    floor.take(block("B1", DAYS[1], [3, 4]))
    floor.take([window(-5, 5)])
    floor.exclude(build=["B0"])
    assert set(floor.history().blocks["block"]) == {"B1"}
    pd.testing.assert_frame_equal(shown(floor.history(as_of=first)), then)
    assert floor.history(as_of=first).values["upper_limit"].isna().all()


def test_a_voided_reading_counts_as_of_before_and_not_after(floor):
    floor.take(block("B0", DAYS[0], [1, 2]))
    first = floor.store.revision()
    with floor.store.write(by="test", command="void") as write:
        write.void(floor.history().ids[0], "misread")
    assert floor.history().blocks["mean"].tolist() == [2.0]
    assert len(floor.history().voided) == 1
    assert floor.history(as_of=first).blocks["mean"].tolist() == [1.5]
    assert len(floor.history(as_of=first).voided) == 0


def test_excluded_readings_are_left_out_and_can_be_let_in(floor):
    floor.take(block("B0", DAYS[0], [1, 2, 9]))
    floor.exclude(build=["B0"], feature=["cyl-3"])
    assert floor.history().blocks["mean"].tolist() == [1.5]
    assert floor.history(with_excluded=True).blocks["mean"].tolist() == [4.0]
    assert floor.history().readings["excluded"].sum() == 1


def test_ids_behind_a_value_are_right_when_others_are_excluded(floor):
    floor.take(block("B0", DAYS[0], [1, 2, 9]))
    floor.exclude(build=["B0"], feature=["cyl-1"])
    found = floor.history()
    last = found.values[found.values["feature"] == "cyl-3"].index
    assert [i.split(":")[1] for i in found.ids_behind(last)] == ["4"]


def test_the_answer_is_not_that_of_another_store_made_at_the_same_place(tmp_path: Path):
    place = tmp_path / "shop.db"
    means = []
    for value in (1, 7):
        place.unlink(missing_ok=True)
        with Store.open(place, create=True) as store:
            shop = Shop(store, tmp_path)
            shop.take(block("B0", DAYS[0], [value]), f"{value}.csv")
            means.append(history(store).blocks["mean"].tolist())
        for rest in tmp_path.glob("shop.db-*"):
            rest.unlink()
    assert means == [[1.0], [7.0]]


def test_held_cells_can_be_asked_for_by_feature_engine_gauge_and_time(floor):
    far = reading("B0", "cyl-3", 40_000, measured_at=DAYS[0], order=3)
    floor.take([*block("B0", DAYS[0], [1, 2]), far], held=1)
    for asked in ({"feature": ("cyl-3",)}, {"engine": ("v8",)}, {"gauge": ("bg-1",)}, {"build": ("B0",)}):
        assert len(floor.history(**asked).held) == 1, asked
    for asked in ({"feature": ("cyl-1",)}, {"gauge": ("bg-9",)}, {"since": us("2026-05-02")}):
        assert len(floor.history(**asked).held) == 0, asked


def test_a_cell_that_is_no_number_waits_in_the_series_of_its_row(floor):
    # No column says method, and the state is blank: two_point and unstated are what that means.
    rows = [reading("B0", f"cyl-{i}", v, measured_at=DAYS[0], state="") for i, v in ((1, 1), (2, "abc"))]
    floor.take(rows, held=1)
    asked = {"method": ("two_point",), "state": ("unstated",), "feature": ("cyl-2",), "gauge": ("bg-1",)}
    assert len(floor.history(**asked).held) == 1
    assert len(floor.history(feature=("cyl-1",)).held) == 0
    row = capability.answer(floor.store, Asked())["series"][0]
    assert row["left_out"]["held"] == 1


def test_one_series_alone_is_the_same_as_in_a_batch(told, tmp_path: Path):
    (tmp_path / "alone").mkdir()
    with Store.open(tmp_path / "alone" / "in.db", create=True) as store:
        alone = Shop(store, tmp_path / "alone")
        for rows in files():
            mine = [r for r in rows if r.get("machine") != "hone-2" and r.get("characteristic") != "ra"]
            if mine:
                alone.take(mine)
        one = told.history(machine=("hone-1",), characteristic=("bore_diameter",))
        pd.testing.assert_frame_equal(shown(one), shown(alone.history()))


def test_shifting_values_shifts_means_and_leaves_spreads(floor, tmp_path: Path):
    (tmp_path / "other").mkdir()
    values = np.array([1, 2, 4, 5.5])
    floor.take(block("B0", DAYS[0], values))
    with Store.open(tmp_path / "other" / "in.db", create=True) as store:
        other = Shop(store, tmp_path / "other")
        other.take(block("B0", DAYS[0], values + 3))
        a, b = floor.history().blocks, other.history().blocks
        assert (b["mean"] - a["mean"]).tolist() == [3.0]
        assert b["spread"].tolist() == a["spread"].tolist()


def test_without_filters_asked_for_is_the_whole(told):
    assert history(told.store, Asked()) is history(told.store)
