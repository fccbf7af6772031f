"""Slips of whole tables, each shown once and nearly once, in a shop of ten blocks."""

import math
import shutil
from pathlib import Path

import pytest
from scipy import stats

from qc.ingest.plausible import (
    again,
    copied,
    dates,
    elsewhere,
    holes,
    registered,
    rounded,
    runs,
    shifted,
    states,
    typed,
    zeroed,
)  # fmt: skip
from qc.ingest.run import ingest
from qc.store import Store
from tests.generate import small_shop as small

NEXT = 10
CHECKS = (copied, rounded, runs, holes, states, zeroed, shifted, elsewhere, dates, registered, again, typed)
OURS = {code for check in CHECKS for code in check.CODES}


@pytest.fixture(scope="module")
def grown(grow) -> Path:
    """A store of ten clean blocks, with the lists of builds and gauges."""
    files = {"builds.csv": small.builds(NEXT + 2), "gauges.csv": small.gauges()}
    files |= {f"N{i}.csv": small.sheet(i) for i in range(NEXT)}
    place, findings = grow(files)
    assert [f["code"] for f in findings if f["code"] in OURS] == []
    return place


@pytest.fixture
def asked(grown, tmp_path, as_file):
    """Findings at stop and ask of a next file in that shop, each with its code, rows and words."""

    def took(rows, name="next.csv"):
        place = tmp_path / "shop.db"
        if not place.exists():
            shutil.copy(grown, place)
        with Store.open(place) as store:
            result = ingest(store, [as_file(tmp_path / name, rows)], by="test").files[0]
        assert result.rows == result.kept + result.held + result.already_kept
        return [f for f in result.findings if f["severity"] != "note" and f["code"] in OURS]

    return took


def lines(rows, **named):
    """Row numbers in the file of rows with these cells."""
    return {i + 2 for i, r in enumerate(rows) if all(r[k] == v for k, v in named.items())}


def one(findings, code, severity):
    assert [(f["severity"], f["code"]) for f in findings] == [(severity, code)]
    words = findings[0]
    assert all(words[part].strip() for part in ("saw", "doubt", "proposal", "effect"))
    return words, {c["row"] for c in words["cells"]}


def changed(rows, change, **named):
    return [change(dict(r)) if all(r[k] == v for k, v in named.items()) else r for r in rows]


def by(um):
    return lambda r: r | {"value": f"{float(r['value']) + um / 1000:.3f}"}


def test_a_clean_next_sheet_is_asked_nothing(asked):
    assert asked(small.sheet(NEXT)) == []


def test_a_table_copied_from_another_build_is_stopped_with_that_build_named(asked):
    rows = small.sheet(NEXT)
    there = [r["value"] for r in small.bores(4) if r["state"] == "plate_on"]
    mine = lines(rows, state="plate_on")
    copied = [r | {"value": there[i]} if i + 2 in mine else r for i, r in enumerate(rows)]
    words, named = one(asked(copied), "copied_sheet", "stop")
    assert named == mine
    assert "N4" in words["saw"]


def test_of_a_copied_sheet_the_small_tables_came_along(asked):
    rows = small.sheet(NEXT)
    there = small.sheet(4)
    copied = [r | {"value": o["value"]} for r, o in zip(rows, there, strict=True)]
    _, named = one(asked(copied), "copied_sheet", "stop")
    assert named == set(range(2, len(rows) + 2))


def test_a_small_table_alone_that_agrees_is_no_copy(asked):
    rows = small.sheet(NEXT)
    there = [r["value"] for r in small.texture(4) if r["characteristic"] == "ra"]
    mine = sorted(lines(rows, characteristic="ra"))
    alike = [r | {"value": there[mine.index(i + 2)]} if i + 2 in mine else r for i, r in enumerate(rows)]
    assert "copied_sheet" not in [f["code"] for f in asked(alike)]


def test_half_a_table_that_agrees_by_chance_is_no_copy(asked):
    rows = small.sheet(NEXT)
    there = [r["value"] for r in small.bores(4) if r["state"] == "plate_on"]
    half = [r | {"value": there[i]} if i < 12 and i % 2 else r for i, r in enumerate(rows)]
    assert "copied_sheet" not in [f["code"] for f in asked(half)]


def test_eight_equal_figures_in_a_row_are_filled_down(asked):
    rows = small.sheet(NEXT)
    first = rows[4]["value"]
    filled = [r | {"value": first} if 4 <= i < 14 else r for i, r in enumerate(rows)]
    words, named = one(asked(filled), "filled_down", "ask")
    assert named == set(range(6, 16))
    assert "10 times in a row" in words["saw"]


def test_five_equal_figures_against_the_pattern_of_the_bore_are_filled_down(asked):
    rows = small.sheet(NEXT)
    # with the plate off the top along the crank line is 9 um tighter: no bore reads the same all the way down
    off = sorted(lines(rows, state="plate_off", feature="cyl-3", characteristic="bore_diameter"))[:5]
    first = rows[off[0] - 2]["value"]
    filled = [r | {"value": first} if i + 2 in off else r for i, r in enumerate(rows)]
    _, named = one(asked(filled), "filled_down", "ask")
    assert named == set(off)


def test_a_coarse_gauge_repeats_itself_and_is_asked_nothing(asked):
    coarse = [
        r | {"value": f"{round(float(r['value']), 2):.2f}", "gauge": "bg-2", "machine": "hone-9"}
        for i in range(NEXT) for r in small.bores(i, seed=5) if r["state"] == "plate_on"
    ]  # fmt: skip
    assert "filled_down" not in [f["code"] for f in asked(coarse)]


def test_the_target_written_for_every_bore_is_a_copied_nominal(asked):
    rows = changed(small.sheet(NEXT), lambda r: r | {"value": r["target"]}, state="plate_on")
    words, named = one(asked(rows), "nominal_copied", "ask")
    assert named == lines(rows, state="plate_on")
    assert "target" in words["saw"]


def test_one_bore_on_its_target_where_the_others_and_its_other_state_are_not(asked):
    bore = {"state": "plate_off", "feature": "cyl-2", "characteristic": "bore_diameter"}
    rows = changed(small.sheet(NEXT), lambda r: r | {"value": r["target"]}, **bore)
    words, named = one(asked(rows), "nominal_copied", "ask")
    assert named == lines(rows, **bore)
    assert words["saw"].startswith(f"6 readings in a row of bore 2 of N{NEXT} (rows ")


def unlike(rows):
    """Bores that were honed to other sizes, each alike in both states."""
    for feature, um in (("cyl-1", 8), ("cyl-4", -8)):
        rows = changed(rows, by(um), characteristic="bore_diameter", feature=feature)
    return rows


def test_bores_exchanged_in_one_state_are_told_by_the_other(asked):
    rows = unlike(small.sheet(NEXT))
    turned = {"cyl-1": "cyl-4", "cyl-4": "cyl-1"}
    on = lines(rows, state="plate_on", feature="cyl-1") | lines(rows, state="plate_on", feature="cyl-4")
    there = {(r["feature"], r["station_mm"], r["clock_deg"]): r["value"] for r in (rows[i - 2] for i in on)}
    for r in (rows[i - 2] for i in on):
        r["value"] = there[turned[r["feature"]], r["station_mm"], r["clock_deg"]]
    words, named = one(asked(rows), "wrong_holes", "ask")
    # with one target for all bores nothing tells which of the two states it was
    ends = [lines(rows, state=state, feature=f"cyl-{n}", characteristic="bore_diameter")
            for state in ("plate_on", "plate_off") for n in (1, 4)]  # fmt: skip
    assert named in (ends[0] | ends[1], ends[2] | ends[3])
    assert "two of them taken for each other" in words["doubt"]


def test_bores_unlike_in_both_states_alike_are_where_they_belong(asked):
    assert asked(unlike(small.sheet(NEXT))) == []


def test_figures_rounded_to_five_are_told_where_the_gauge_shows_more(asked):
    def fives(r):
        return r | {"value": f"{round(float(r['value']) * 200) / 200:.3f}"}

    words, named = one(asked(changed(small.sheet(NEXT), fives, state="plate_on")), "digit_preference", "ask")
    assert named == lines(small.sheet(NEXT), state="plate_on")
    assert "end in 0 or 5" in words["saw"]


@pytest.mark.parametrize(("ended", "told", "share"), [(12, 12, 0.2), (40, 44, 0.3), (18, 20, 0.45)])
def test_the_bound_on_endings_lies_above_the_binomial_tail(ended, told, share):
    exact = stats.binom.logsf(ended - 1, told, share)  # scipy
    assert exact <= rounded._tail(ended, told, share) <= exact + 2.5


def test_endings_of_thousands_of_figures_are_no_trouble():
    assert rounded._tail(5000, 5000, 0.2) == pytest.approx(5000 * math.log(0.2))
    assert rounded._tail(1000, 5000, 0.2) == 0.0


@pytest.mark.parametrize("written", ["2026-01-31T09:00", "2025-02-04T09:00"])
def test_a_day_before_the_block_arrived_is_asked_about(asked, written):
    rows = [r | {"measured_at": written} if r["characteristic"] == "ra" else r for r in small.sheet(NEXT)]
    words, named = one(asked(rows), "doubtful_date", "ask")
    assert named == lines(rows, characteristic="ra")
    assert "N10 arrived on 2026-02-03" in words["doubt"]


def test_day_and_month_exchanged_are_proposed_back(asked):
    rows = small.sheet(NEXT)  # measured on 2026-02-04
    rows = changed(rows, lambda r: r | {"measured_at": r["measured_at"].replace("-02-04", "-04-02")})
    words, named = one(asked(rows), "doubtful_date", "ask")
    assert len(named) == len(rows)
    assert "Is 2026-04-02 meant as 2026-02-04?" in words["proposal"]


def test_a_day_to_come_is_stopped_and_the_day_of_arrival_is_not_doubted(asked):
    later = changed(small.sheet(NEXT), lambda r: r | {"measured_at": "2062-02-04T10:00"}, characteristic="ra")
    words, named = one(asked(later), "doubtful_date", "stop")
    assert named == lines(later, characteristic="ra")
    assert "still to come" in words["doubt"]
    arrived = changed(small.sheet(NEXT), lambda r: r | {"measured_at": "2026-02-03T07:00"})
    assert asked(arrived, "other.csv") == []


def test_a_gauge_off_by_one_amount_everywhere_is_sent_to_its_master(asked):
    rows = changed(small.sheet(NEXT), by(14), gauge="bg-1")
    words, named = one(asked(rows), "gauge_not_zeroed", "ask")
    assert named == lines(rows, gauge="bg-1")
    assert "bg-1" in words["saw"]
    assert "+1" in words["saw"]
    assert "master" in words["proposal"]


def test_a_block_a_little_large_is_no_gauge(asked):
    assert asked(changed(small.sheet(NEXT), by(2), gauge="bg-1")) == []


def test_the_target_of_the_build_before_left_in_a_sheet_is_asked_about(asked):
    def left(r):
        return r | {"target": "85.720"}  # of another build: 86.000 is meant

    rows = changed(small.sheet(NEXT), left, characteristic="bore_diameter", state="plate_on")
    words, named = one(asked(rows), "level_elsewhere", "ask")
    assert named == lines(rows, characteristic="bore_diameter", state="plate_on")
    assert "with the target 85.72 mm" in words["saw"]
    off = float(words["saw"].partition(": ")[2].partition(" um")[0])
    assert off == pytest.approx(280, abs=5)  # what was slipped; levels of blocks scatter by 1.2 um
    assert "build's plan" in words["proposal"]


def test_how_far_another_engine_is_made_from_its_target_nobody_knows_yet(asked):
    rows = changed(small.sheet(NEXT), by(280), characteristic="bore_diameter", state="plate_on")
    assert asked(changed(rows, lambda r: r | {"engine": "heron-6"}), "heron.csv") == []


def test_bores_read_with_the_plate_off_under_plate_on_are_told_by_their_pattern(asked):
    rows = small.sheet(NEXT)
    off = {(r["feature"], r["station_mm"], r["clock_deg"]): r["value"] for r in rows
           if r["state"] == "plate_off" and r["characteristic"] == "bore_diameter"}  # fmt: skip

    def read_without(r):
        return r | {"value": off[r["feature"], r["station_mm"], r["clock_deg"]]}

    rows = [r for r in rows if r["state"] != "plate_off"]  # not read without it yet
    for hole in ("cyl-2", "cyl-3"):
        rows = changed(rows, read_without, state="plate_on", feature=hole)
    words, named = one(asked(rows), "states_mixed", "ask")
    assert named == lines(rows, state="plate_on", feature="cyl-2") | lines(
        rows, state="plate_on", feature="cyl-3"
    )
    assert "plate off" in words["proposal"]


def test_a_housing_open_square_to_the_joint_has_loose_caps(asked):
    rows = changed(small.sheet(NEXT), by(22), feature="main-3", clock_deg="0")
    words, named = one(asked(rows), "caps_loose", "ask")
    assert named == lines(rows, feature="main-3")
    assert "torqued" in words["proposal"]


def test_a_turn_of_the_dial_in_a_housing_is_no_loose_cap(asked):
    assert asked(changed(small.sheet(NEXT), by(500), feature="main-3", clock_deg="0")) == []


def test_texture_columns_moved_on_by_one_are_proposed_back(asked):
    rows = small.sheet(NEXT)
    told = {(r["characteristic"], r["feature"]): r["value"] for r in rows}
    moved = {"ra": "rz", "rz": "rk", "rk": "ra"}
    rows = [
        r | {"value": told[moved[r["characteristic"]], r["feature"]]} if r["characteristic"] in moved else r
        for r in rows
    ]
    words, named = one(asked(rows), "columns_shifted", "ask")
    assert named == set().union(*(lines(rows, characteristic=key) for key in moved))
    assert "Ra stands under Rk" in words["doubt"]


def unsorted(build):
    """Bores honed each to its own piston: their aims differ by 30 um."""
    rows = [r for r in small.bores(build) if r["state"] == "plate_off"]
    aims = {f"cyl-{i + 1}": (i - 1.5) * 0.030 for i in range(4)}
    return [r | {c: f"{float(r[c]) + aims[r['feature']]:.3f}" for c in ("value", "target")} for r in rows]


def test_a_column_a_row_down_fits_the_rows_above(asked):
    assert asked(unsorted(NEXT + 1), "clean.csv") == []
    rows = unsorted(NEXT)
    down = [rows[0], *(r | {"value": above["value"]} for above, r in zip(rows[:-1], rows[1:], strict=True))]
    words, named = one(asked(down), "rows_shifted", "ask")
    assert len(named) >= 20
    assert "above" in words["saw"]


def test_a_gauge_past_its_day_and_one_off_the_register_are_asked_about(asked):
    rows = small.sheet(NEXT)
    late = changed(rows, lambda r: r | {"gauge": "bg-9"}, characteristic="tunnel_diameter")
    words, named = one(asked(late), "gauge_expired", "ask")
    assert named == lines(late, gauge="bg-9")
    assert "2025-12-31" in words["doubt"]
    other = [r | {"gauge": "my mic", "build": "N11"} for r in small.tunnel(NEXT + 1)]
    words, named = one(asked(other, "mic.csv"), "gauge_unknown", "ask")
    assert len(named) == len(other)


def test_the_day_on_which_a_gauge_is_due_is_still_good(asked):
    rows = [r | {"measured_at": "2026-06-30T16:00", "build": "N12"} for r in small.tunnel(NEXT + 2)]
    codes = [f["code"] for f in asked(rows)]
    assert "gauge_expired" not in codes
    rows = [r | {"measured_at": "2026-07-01T08:00", "build": "N12", "trial": "2"} for r in rows]
    assert "gauge_expired" in [f["code"] for f in asked(rows, "day_after.csv")]


def test_aluminium_without_a_temperature_is_asked_about_where_others_have_one(asked):
    rows = changed(small.sheet(NEXT), lambda r: r | {"part_c": ""}, characteristic="tunnel_diameter")
    words, named = one(asked(rows), "no_temperature", "ask")
    assert named == lines(rows, characteristic="tunnel_diameter")
    assert "6 um" in words["doubt"]  # 57 mm, 21.5e-6/K, 5 K: 6.1 um
    bare = [r | {"part_c": "", "gauge_c": ""} for r in small.sheet(NEXT + 1)]
    assert asked(bare, "bare.csv") == [], "a shop that writes no temperatures gets a note"


def test_a_place_read_twice_in_one_pass_asks_whether_it_was_honed_again(asked):
    rows = small.sheet(NEXT)
    later = [by(1)(r) | {"measured_at": "2026-02-05T09:00"} for r in rows
             if r["feature"] == "cyl-1" and r["state"] == "plate_on"]  # fmt: skip
    asked(rows)
    words, named = one(asked(later, "later.csv"), "honed_again", "ask")
    assert len(named) == 6
    assert "pass 2" in words["proposal"]
    second = [r | {"pass": "2", "measured_at": "2026-02-06T09:00"} for r in later]
    assert "honed_again" not in [f["code"] for f in asked(second, "second.csv")]


@pytest.mark.parametrize(("off", "expected"), [(0, []), (6, [("ask", "typed_differs")])])
def test_a_typed_taper_is_held_against_the_readings(asked, off, expected):
    rows = [r for r in small.bores(NEXT) if r["state"] == "plate_on"]
    # taper by hand: mean over both directions of the top less the bottom
    size = {(r["station_mm"], r["clock_deg"]): float(r["value"]) * 1000 for r in rows[:6]}
    taper = sum(size["12", c] - size["108", c] for c in ("0", "90")) / 2
    typed = rows[0] | {"characteristic": "bore_taper", "unit": "um", "target": "", "station_mm": "",
                       "clock_deg": "", "value": f"{taper + off:.1f}"}  # fmt: skip
    found = asked([*rows, typed])
    assert [(f["severity"], f["code"]) for f in found] == expected
    if expected:
        assert f"give {taper:g} um" in found[0]["saw"].replace(".0 um", " um")
