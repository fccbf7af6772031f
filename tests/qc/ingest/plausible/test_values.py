"""Slips of single figures and of tables of sizes, each shown once and nearly once.

The shop honed eight blocks of eight bores before; blocks scatter by 1.2 um, bores by 1.5 um, readings by
0.6 um, about a pattern by depth and direction (common practice, no source). What a figure should be is known
because the slip was made here, by the arithmetic written beside it.
"""

import random
import shutil
from decimal import Decimal
from pathlib import Path

import pytest

from qc.ingest.held import decide
from qc.ingest.plausible import holes, named, nominal, scale, value_words, values
from qc.ingest.run import ingest
from qc.store import Store
from tests.qc.ingest.plausible.rows import hone_row

CHECKS = (named, nominal, scale, holes, values)
BLOCKS = 8
PLACES = [(s, c) for s in (15, 65, 115) for c in (0, 90)]
PATTERN = {15: 2.0, 65: 0.5, 115: -1.5}
SPECS = [
    {"characteristic": key, "reading": "deviation", "lower": "-12", "upper": "12", "unit": "um"}
    for key in ("bore_diameter", "tunnel_diameter")
]  # fmt: skip


def _row(i, **cells):
    return hone_row({"build": f"P-{i}", "measured_at": f"2026-03-{i + 1:02d}T09:00"} | cells)


def honed(i, targets=(96000,) * 8, **cells):
    """48 sizes of one block; `targets` [um] by bore."""
    rng = random.Random(f"honed/{i}")
    block, rows = rng.gauss(0, 1.2), []
    for n, target in enumerate(targets, start=1):
        bore = rng.gauss(0, 1.5)
        for station, clock in PLACES:
            um = target + block + bore + PATTERN[station] + (0.8 if clock else -0.8) + rng.gauss(0, 0.6)
            rows.append(_row(
                i, characteristic="bore_diameter", feature=f"cyl-{n}", station_mm=str(station),
                clock_deg=str(clock), value=f"{round(um) / 1000:.3f}", target=f"{target / 1000:.3f}", **cells,
            ))  # fmt: skip
    return rows


def bored(i):
    """32 distances of one block from the size it will have: 60 um are left to hone."""
    rng = random.Random(f"bored/{i}")
    block, rows = rng.gauss(0, 1.5), []
    for n in range(1, 9):
        bore = rng.gauss(0, 2)
        for station, clock in ((15, 0), (15, 90), (115, 0), (115, 90)):
            um = -60 + block + bore + rng.gauss(0, 0.8)
            rows.append(_row(
                i, machine="bore-3", operation="finish_bore", state="plate_off", reading="deviation",
                unit="um", characteristic="bore_diameter", feature=f"cyl-{n}", station_mm=str(station),
                clock_deg=str(clock), value=f"{um:.0f}", target="96.000",
            ))  # fmt: skip
    return rows


def tunnel(i):
    """15 sizes of the main housings of one block."""
    rng = random.Random(f"tunnel/{i}")
    block = rng.gauss(0, 1)
    return [
        _row(i, machine="line-1", operation="line_hone", state="caps_torqued",
             characteristic="tunnel_diameter", feature=f"main-{n}", station_mm="12", clock_deg=str(clock),
             target="70.000", value=f"{70 + (block + rng.gauss(0, 1.3)) / 1000:.3f}")
        for n in range(1, 6) for clock in (0, 60, 120)
    ]  # fmt: skip


def texture(i):
    """Ra of eight bores."""
    rng = random.Random(f"ra/{i}")
    return [
        _row(i, characteristic="ra", feature=f"cyl-{n}", unit="um", value=f"{0.4 + rng.gauss(0, 0.03):.2f}")
        for n in range(1, 9)
    ]  # fmt: skip


@pytest.fixture(scope="module")
def grown(grow) -> Path:
    """A store of eight clean blocks and the book's limits."""
    files = {"specifications.csv": SPECS}
    files |= {f"P{i}.csv": [*honed(i), *bored(i), *tunnel(i), *texture(i)] for i in range(BLOCKS)}
    place, findings = grow(files)
    assert [f["saw"] for f in findings if f["severity"] != "note"] == []
    return place


@pytest.fixture
def store(grown, tmp_path):
    with Store.open(shutil.copy(grown, tmp_path / "shop.db")) as opened:
        yield opened


@pytest.fixture
def found(store, tmp_path, as_file):
    """Code, severity and rows of each finding on a file."""

    def took(rows):
        (result,) = ingest(store, [as_file(tmp_path / "new.csv", rows)], by="test").files
        told = {}
        for f in result.findings:
            if f["severity"] != "note":
                before = told.get(f["code"], ("", []))
                here = sorted(c["row"] for c in f["cells"])
                told[f["code"]] = (before[0] + f["severity"], sorted(before[1] + here))
        return told

    return took


def _proposed(store, column="value"):
    """Proposals of the held rows, by row number."""
    held = store.held()
    return {int(h.row): h.fields.get(f"proposed {column}") for h in held.itertuples()}


def _open(store):
    """Number of the one finding that holds rows."""
    waiting = store.findings()
    (number,) = waiting[waiting["severity"] == "stop"]["id"]
    return int(number)


def _without_nought(rows):
    """Number of a row of which 96.00x became 96.0x, at least 30 um more, and what it was."""
    k = next(k for k, r in enumerate(rows) if r["value"] in ("96.004", "96.005", "96.003"))
    meant = rows[k]["value"]
    rows[k]["value"] = meant.replace(".00", ".0")
    return k, meant


def test_a_clean_block_raises_no_doubt(found):
    assert found([*honed(20), *bored(20), *tunnel(20), *texture(20)]) == {}


def test_roughness_in_microinches_beside_um_is_a_unit_slip(found, store):
    rows = texture(20)
    for k in (2, 5):
        # 1 um = 39.37 uin
        rows[k]["value"] = f"{float(rows[k]['value']) * 39.37:.1f}"
    assert found(rows) == {"unit_slip": ("ask", [4, 7])}


def test_a_rough_bore_is_no_unit_slip(found):
    rows = texture(20)
    rows[2]["value"] = "0.46"
    assert found(rows) == {}


def test_a_table_in_the_other_unit_with_its_target_is_one_finding_about_the_unit(found, store):
    rows = tunnel(20)
    for row in rows:
        row["unit"] = "in"
    assert found(rows) == {"unit_slip": ("stop", list(range(2, 17)))}
    assert set(_proposed(store, "unit").values()) == {"mm"}


def test_a_nought_that_got_lost_is_put_back(found, store):
    rows = honed(20)
    k, meant = _without_nought(rows)
    assert found(rows) == {"decimal_slip": ("stop", [k + 2])}
    assert _proposed(store) == {k + 2: meant}


@pytest.mark.parametrize("power", [-2, -1, 1, 2])
def test_a_point_elsewhere_is_put_back(found, store, power):
    rows = honed(20)
    meant = Decimal(rows[10]["value"])
    rows[10]["value"] = f"{meant.scaleb(power):f}"
    assert found(rows) == {"decimal_slip": ("stop", [12])}
    assert Decimal(_proposed(store)[12]) == meant


def test_two_digits_exchanged_are_exchanged_back(found, store):
    rows = honed(20)
    k = next(k for k, r in enumerate(rows) if r["value"] in ("96.003", "96.004"))
    meant = rows[k]["value"]
    rows[k]["value"] = f"96.0{meant[-1]}0"
    assert found(rows) == {"digits_exchanged": ("stop", [k + 2])}
    assert _proposed(store) == {k + 2: meant}


def test_a_reading_three_um_off_is_believed(found):
    rows = honed(20)
    rows[7]["value"] = f"{Decimal(rows[7]['value']) + Decimal('0.003')}"
    assert found(rows) == {}


def test_a_reading_that_no_slip_explains_stands_out(found):
    rows = honed(20)
    rows[7]["value"] = f"{Decimal(rows[7]['value']) + Decimal('0.017')}"
    assert list(found(rows).values()) == [("stop", [9])]


def test_distances_among_sizes_are_told_by_their_target(found, store):
    rows = honed(20)
    for k in (12, 13, 14, 15, 16, 17):
        rows[k]["value"] = f"{(Decimal(rows[k]['value']) - 96) * 1000:+.0f}"
    meant = {k + 2: honed(20)[k]["value"] for k in range(12, 18)}
    told = found(rows)
    assert told.pop("nought", ("stop", []))[0] == "stop"  # a distance of 0 may as well be missing
    assert told["forms_mixed"][0] == "stop"
    for row, text in _proposed(store).items():
        assert text is None or Decimal(text) == Decimal(meant[row])


def test_sizes_among_distances_are_told_by_their_target(found):
    rows = bored(20)
    for k in (4, 5, 6, 7):
        rows[k]["value"] = f"{96 + Decimal(rows[k]['value']) / 1000}"
    assert found(rows) == {"forms_mixed": ("ask", [6, 7, 8, 9])}


def test_a_table_of_distances_in_another_unit_is_told_by_how_far_it_reaches(found):
    rows = bored(20)
    for row in rows:
        row["value"] = f"{float(row['value']) / 2.54:.1f}"  # tenths where um are said
    assert found(rows) == {"deviation_unit": ("ask", list(range(2, 34)))}


def test_a_sign_that_got_lost_is_put_back(found):
    rows = bored(20)
    for k in (8, 9, 10, 11):
        rows[k]["value"] = rows[k]["value"].removeprefix("-")
    assert found(rows)["sign_reversed"] == ("ask", [10, 11, 12, 13])


def test_a_table_read_with_the_gauge_set_for_another_oversize_is_one_finding(found, store):
    rows = honed(20)
    for row in rows:
        row["value"] = f"{Decimal(row['value']) + Decimal('0.25')}"
    assert found(rows) == {"wrong_nominal": ("stop", list(range(2, 50)))}
    assert _proposed(store)[2] == honed(20)[0]["value"].rstrip("0")


def test_a_target_of_another_oversize_is_told_by_the_builds_other_tables(found, store):
    rows = [*bored(20), *honed(20), *honed(20, state="plate_off", measured_at="2026-03-22T09:00")]
    for row in rows[:32]:
        row["target"] = "96.500"
    assert found(rows)["wrong_nominal"] == ("stop", list(range(2, 34)))
    assert set(_proposed(store, "target").values()) == {"96"}


@pytest.mark.parametrize("off", ["0.5", "-0.2"])
def test_a_turn_of_the_dial_in_one_bore_is_named_with_its_amount(found, store, off):
    rows = honed(20)
    for k in range(18, 24):
        rows[k]["value"] = f"{Decimal(rows[k]['value']) + Decimal(off)}"
    assert found(rows) == {"dial_revolution": ("stop", list(range(20, 26)))}
    assert Decimal(_proposed(store)[20]) == Decimal(honed(20)[18]["value"])


# an inch is 25.4 mm exactly
@pytest.mark.parametrize(
    ("um", "words"), [(-254, "0.254 mm (0.01 in) too small"), (500, "0.5 mm too large")]
)
def test_an_amount_of_inches_is_said_in_both_units(um, words):
    assert value_words.amount(um) == words


def test_a_radius_for_a_diameter_is_doubled(found, store):
    rows = honed(20)
    rows[3]["value"] = f"{Decimal(rows[3]['value']) / 2}"
    assert found(rows) == {"half_or_double": ("stop", [5])}
    assert Decimal(_proposed(store)[5]) == Decimal(honed(20)[3]["value"])


def test_a_shell_bore_for_a_housing_bore_is_two_walls_off(found):
    rows = tunnel(20)
    for k in (0, 1, 2):
        rows[k]["value"] = f"{Decimal(rows[k]['value']) - Decimal('4.8')}"  # two walls of 2.4 mm
    assert found(rows) == {"wrong_bore": ("stop", [2, 3, 4])}


def test_noughts_among_sizes_are_asked_about(found):
    rows = [*honed(20), *texture(20)]
    rows[3]["value"], rows[50]["value"] = "0.000", "0.00"
    assert found(rows) == {"nought": ("stopask", [5, 52])}


def test_a_distance_of_nought_is_believed_where_it_fits(found):
    rows = honed(20, reading="deviation", unit="um", machine="hone-9")
    for row in rows:
        row["value"] = f"{(Decimal(row['value']) - 96) * 1000:.0f}"
    rows[3]["value"] = "0"
    assert "nought" not in found(rows)


TARGETS = (96000, 96012, 95990, 96006, 95985, 96018, 95996, 96009)


def test_holes_counted_from_the_other_end_are_told_by_their_targets(found, store):
    rows = honed(20, TARGETS)
    texts = [r["value"] for r in rows]
    for n in range(8):
        for k in range(6):
            rows[6 * n + k]["value"] = texts[6 * (7 - n) + k]
    assert found(rows) == {"wrong_holes": ("stop", list(range(2, 50)))}
    assert _proposed(store, "feature")[2] == "cyl-8"


def test_two_bores_taken_for_each_other_are_told_and_no_others(found, store):
    rows = honed(20, TARGETS)
    for k in range(6):
        rows[k]["value"], rows[6 + k]["value"] = rows[6 + k]["value"], rows[k]["value"]
    assert found(rows)["wrong_holes"] == ("stop", list(range(2, 14)))


def test_bores_that_follow_their_targets_are_left_where_they_are(found):
    assert found(honed(20, TARGETS)) == {}


def test_a_characteristic_new_to_its_operation_is_asked_about(found):
    rows = tunnel(20)
    for row in rows:
        row |= {"characteristic": "journal_diameter"}
    assert found(rows) == {}  # 120 readings are too few to know what line honing brings
    more = [_row(21, characteristic="tunnel_diameter", feature="cyl-1", value="96.001")]
    assert found(more) == {"wrong_characteristic": ("ask", [2])}


def test_a_correction_takes_what_is_proposed_and_the_decision_is_not_asked_again(store, found):
    rows = honed(20)
    _without_nought(rows)
    found(rows)
    number = _open(store)
    done = decide(store, number, "correct", "looked at the sheet", "bea")
    assert (done.kept, done.held) == (1, 0)
    again = found(rows)
    assert again == {}


def test_what_stands_out_counts_once_somebody_accepts_it(store, found):
    rows = honed(20)
    rows[10]["value"] = "96.030"
    found(rows)
    number = _open(store)
    done = decide(store, number, "accept", "read three times", "bea")
    assert (done.kept, done.held) == (1, 0)
    assert found(rows) == {}


def test_48_cells_of_one_slip_are_one_finding_and_its_words_name_the_cure(store, tmp_path, as_file):
    rows = honed(20)
    for row in rows[:24]:
        row["value"] = f"{Decimal(row['value']) + Decimal('0.5')}"
    (result,) = ingest(store, [as_file(tmp_path / "new.csv", rows)], by="test").files
    (one,) = [f for f in result.findings if f["severity"] != "note"]
    assert (one["code"], one["count"]) == ("dial_revolution", 24)
    assert "Bores 1, 2, 3, 4 of P-20 (rows 2-25)" in one["saw"]
    assert "0.5 mm too large" in one["doubt"]
    assert f"Correct takes {honed(20)[0]['value'].rstrip('0')} for {rows[0]['value']}" in one["proposal"]
