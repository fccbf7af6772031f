"""Slips that only a whole table tells: its unit, its signs, a repeated target, a lone unit cell, roughness.

Blocks in inches, read by gauges that step half a tenth; sizes and spreads invented. Expected figures are
exact conversions: a tenth is 2.54 um, a thou 25.4 um.
"""

import random
import shutil

import numpy as np
import pytest
from scipy import stats

from qc.ingest.plausible import (
    forms,
    holes,
    lone,
    registry,
    scale,
    shares,
    signs,
    states,
    tables,
    unit_cells,
    values,
)  # fmt: skip
from qc.ingest.plausible.past import Past
from qc.ingest.run import ingest
from qc.store import Store
from tests.qc.ingest.plausible.rows import hone_row

CHECKS = (forms, unit_cells, scale, signs, lone, holes, states, values)
BLOCKS = 6
PLACES = [(s, c) for s in (15, 65, 115) for c in (0, 90)]
TAPER = {15: 1.5, 65: 0.0, 115: -1.5}
PULLED = {(15, 0): -6.0, (65, 0): -1.5}  # um that the bolts pull, once the plate is off


def _row(i, **cells):
    told = {"build": f"T-{i}", "unit": "in", "measured_at": f"2026-04-{i + 1:02d}T09:00"}
    return hone_row(told | cells)


def honed(i):
    """48 distances with the plate and 48 without, in tenths by halves; the same bores."""
    rng = random.Random(f"tables/{i}")
    block, rows = rng.gauss(0, 1.2), []
    bores = [(rng.gauss(0, 2.0), rng.gauss(0, 0.3)) for _ in range(8)]
    for state in ("plate_on", "plate_off"):
        for n, (bore, taper) in enumerate(bores, start=1):
            for place in PLACES:
                um = block + bore + (1 + taper) * TAPER[place[0]] + rng.gauss(0, 0.6)
                um += PULLED.get(place, 0.0) if state == "plate_off" else 0.0
                rows.append(_row(
                    i, characteristic="bore_diameter", feature=f"cyl-{n}", station_mm=str(place[0]),
                    clock_deg=str(place[1]), reading="deviation", unit="tenth", target="4.0000", state=state,
                    value=f"{round(um / 1.27) / 2:.1f}",
                ))  # fmt: skip
    return rows


def fitted(i):
    """Gaps of eight rings, Ra of eight bores and 15 housings."""
    rng = random.Random(f"fitted/{i}")
    rows = [_row(i, operation="fit", machine="bench", characteristic="ring_gap", feature=f"cyl-{n}",
                 target="0.0180", value=f"{0.018 + round(rng.gauss(0.6, 0.5)) / 1000:.3f}")
            for n in range(1, 9)]  # fmt: skip
    rows += [_row(i, characteristic="ra", feature=f"cyl-{n}", unit="um", state="plate_off",
                  value=f"{0.42 * np.exp(rng.gauss(0, 0.08)):.2f}") for n in range(1, 9)]  # fmt: skip
    rows += [_row(i, operation="line_hone", machine="line-1", characteristic="tunnel_diameter", unit="mm",
                  state="caps_torqued", feature=f"main-{n}", station_mm="12", clock_deg=str(clock),
                  target="57.000", value=f"{57.006 + rng.gauss(0, 1.2) / 1000:.3f}")
             for n in range(1, 6) for clock in (0, 60, 120)]  # fmt: skip
    return rows


@pytest.fixture(scope="module")
def grown(grow):
    place, findings = grow({f"T{i}.csv": [*honed(i), *fitted(i)] for i in range(BLOCKS)})
    assert [f["saw"] for f in findings if f["severity"] != "note"] == []
    return place


@pytest.fixture
def found(grown, tmp_path, as_file):
    """Code and rows of each finding on a file, and texts proposed by row."""

    def took(rows):
        with Store.open(shutil.copy(grown, tmp_path / "shop.db")) as store:
            (result,) = ingest(store, [as_file(tmp_path / "new.csv", rows)], by="test").files
        return {f["code"]: f for f in result.findings if f["severity"] != "note"}

    return took


def _rows(finding):
    return sorted(c["row"] for c in finding["cells"])


def test_a_clean_next_block_is_asked_nothing(found):
    assert found([*honed(20), *fitted(20)]) == {}


@pytest.mark.parametrize(
    ("meant", "per_tenth", "digits"), [("um", 2.54, 0), ("thou", 0.1, 1), ("mm", 0.00254, 3)]
)
@pytest.mark.parametrize("state", ["plate_on", "plate_off"])
def test_a_table_in_another_unit_is_told_as_such_and_no_gauge_is_blamed(
    found, meant, per_tenth, digits, state
):
    rows = honed(21)
    for r in rows:
        if r["state"] == state:
            r["value"] = f"{float(r['value']) * per_tenth:.{digits}f}"
    told = found(rows)
    assert list(told) == ["deviation_unit"]
    assert len(_rows(told["deviation_unit"])) == 48
    assert f"Read as {meant} " in told["deviation_unit"]["doubt"]


@pytest.mark.parametrize("state", ["plate_on", "plate_off"])
def test_signs_that_got_lost_in_a_bore_show_beside_its_other_state(found, state):
    rows = honed(22)
    for r in rows:
        if r["feature"] == "cyl-5":
            r["value"] = f"{float(r['value']) - 3.0:.1f}"  # a bore 7.6 um tight
    mine = [k for k, r in enumerate(rows) if (r["feature"], r["state"]) == ("cyl-5", state)]
    assert all(float(rows[k]["value"]) < 0 for k in mine)
    for k in mine:
        rows[k]["value"] = rows[k]["value"][1:]
    told = found(rows)
    assert list(told) == ["sign_reversed"]
    assert _rows(told["sign_reversed"]) == [k + 2 for k in mine]


def test_a_tight_bore_that_both_states_tell_is_believed(found):
    rows = honed(22)
    for r in rows:
        if r["feature"] == "cyl-5":
            r["value"] = f"{float(r['value']) - 2.0:.1f}"
    assert "sign_reversed" not in found(rows)


def test_a_size_that_repeats_its_target_is_no_distance(found):
    rows = honed(23)
    mine = [k for k, r in enumerate(rows) if (r["feature"], r["state"]) == ("cyl-3", "plate_on")]
    for k in mine:
        rows[k]["value"] = f"{4 + float(rows[k]['value']) / 10_000:.5f}"
    told = found(rows)
    assert _rows(told["forms_mixed"]) == [k + 2 for k in mine]


def test_a_unit_cell_that_is_not_its_tables_is_told_though_value_and_target_agree(found):
    rows = fitted(24)
    rows[2]["unit"] = "mm"
    told = found(rows)
    assert list(told) == ["unit_slip"]
    assert _rows(told["unit_slip"]) == [4]
    assert "Read as in " in told["unit_slip"]["doubt"]
    # the figure stands in the sentence, the cell that is put right in the proposal
    assert f"(row 4) reads {rows[2]['value']} mm (ring gap); " in told["unit_slip"]["saw"]
    assert told["unit_slip"]["proposal"].startswith("Correct it to in for mm;")


def test_one_figure_with_exchanged_digits_is_no_loose_cap(found):
    rows = fitted(25)
    k = next(k for k, r in enumerate(rows) if r["feature"] == "main-2" and r["clock_deg"] == "0")
    rows[k]["value"] = "57.060"
    rows[k + 1]["value"] = rows[k + 2]["value"] = "57.006"
    told = found(rows)
    assert list(told) == ["digits_exchanged"]
    assert _rows(told["digits_exchanged"]) == [k + 2]


def test_noughts_for_all_roughness_of_a_block_are_asked_about(found):
    rows = fitted(26)
    mine = [k for k, r in enumerate(rows) if r["characteristic"] == "ra"]
    for k in mine:
        rows[k]["value"] = "0"
    assert _rows(found(rows)["nought"]) == [k + 2 for k in mine]


def test_a_block_with_several_slips_is_asked_about_figure_by_figure(found):
    rows = [r for r in fitted(27) if r["characteristic"] == "ra"][:4]
    for r, value in zip(rows, ("0.043", "4.1", "0.42", "41"), strict=True):
        r["value"] = value
    assert sorted(row for f in found(rows).values() for row in _rows(f)) == [2, 3, 5]


@pytest.mark.parametrize("of", [4.0, 12.5])
def test_a_part_is_as_likely_as_multivariate_student_makes_it(of):
    # against scipy's density; what does not depend on the squares is left out of ours
    part, many = tables.Part(2.0, of), 6
    outside = stats.multivariate_t(loc=np.zeros(many), shape=2.0 * np.eye(many), df=of)
    values_ = [np.full(many, x) for x in (0.1, 1.5, 9.0)]
    theirs = np.diff([outside.logpdf(v) for v in values_])
    ours = np.diff([part.likelihood(float(np.sum(v**2)), many) for v in values_])
    assert ours == pytest.approx(theirs, rel=1e-12)


def test_nothing_is_said_of_roughness_before_three_blocks_tell_it():
    assert shares.judged(np.array([4e4, 5e4]), Past()) is None


def test_checks_that_explain_more_come_first():
    order = [registry.CHECKS.index(c) for c in (forms, unit_cells, scale, signs, lone, states, values)]
    assert order == sorted(order)
