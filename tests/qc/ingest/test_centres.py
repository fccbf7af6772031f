"""Lists of housing centres: what becomes a reading, what waits, and that the main line comes of it."""

import shutil

import pytest

from qc.ingest import centre_columns, fixed_width, sources
from qc.ingest.held import decide
from qc.ingest.layout import layout
from qc.ingest.run import ingest
from qc.ingest.tried import first_layout
from qc.records import Asked
from qc.reports import chart
from qc.store import Store

HEADER = ("Feature", "Axis", "Nominal", "Actual", "Dev", "Tol+", "Tol-", "Out")
LAYOUT = """
file = ["line*"]
[[centres]]
build = {cell = "B1"}
date = {cell = "B2"}
machine = "line-hone-1"
operation = "line_hone"
state = "caps_torqued"
gauge = "cmm-1"
unit = "mm"
features = {"MB 1" = "main-1", "MB 2" = "main-2", "MB 3" = "main-3", "DATUM A" = "-"}
axes = {X = "along", Y = "horizontal", Z = "vertical", D = "diameter", R = "radius"}
"""


def lines(*rows, job="L-1", date="2026-05-11", header=HEADER):
    """A list of centres as comma-separated text; a row is name, axis, nominal, actual and more."""
    told = [("Job", job), ("Date", date), header]
    told += [(*row, *[""] * (len(header) - len(row))) for row in rows]
    return "".join(",".join(row) + "\n" for row in told)


def plane(axis, *actual, nominal="0.000"):
    return [(f"MB {n}", axis, nominal, a) for n, a in enumerate(actual, start=1)]


ALONG = [(f"MB {n}", "X", f"{100 * n - 100}.000", f"{100 * n - 100}.002") for n in (1, 2, 3)]


@pytest.fixture
def taken(tmp_path, empty_store):
    """Takes a list in with its layout; the result, the store's readings, and the store."""
    (tmp_path / "layouts").mkdir()
    store = Store.open(shutil.copy(empty_store, tmp_path / "shop.db"))

    def took(text, told=LAYOUT, name="line 1.csv"):
        (tmp_path / "layouts" / "line.toml").write_text(told, encoding="utf-8")
        (tmp_path / name).write_text(text, encoding="utf-8")
        result = ingest(store, [tmp_path / name], by="test").files[0]
        return result, store.readings(Asked()), store

    with store:
        yield took


def stops(result):
    return [f["code"] for f in result.findings if f["severity"] == "stop"]


def test_heights_and_sideways_places_become_centres_at_their_nominal_places_along_the_line(taken):
    sideways = plane("Y", "1.999", "2", "2.01", nominal="2")
    result, kept, _ = taken(lines(*ALONG, *plane("Z", "0.000", "0.009", "0.000"), *sideways))
    assert (result.kept, result.held) == (6, 0)
    z = kept[kept["method"] == "vertical"]
    assert set(z["characteristic"]) == {"tunnel_centre"}
    assert list(zip(z["feature"], z["station"], z["value"], strict=True)) == [
        ("main-1", 0, 0), ("main-2", 10_000_000_000, 900_000), ("main-3", 20_000_000_000, 0),
    ]  # fmt: skip
    assert set(kept["gauge"]) == {"cmm-1"}
    assert set(kept["state"]) == {"caps_torqued"}


def test_the_main_line_of_each_block_comes_of_its_centres(taken):
    # three mains at 0, 100, 200 mm, the middle one 9, 12, 6 um off the line through the others
    for job, middle in (("L-1", "0.009"), ("L-2", "0.012"), ("L-3", "0.006")):
        text = lines(*ALONG, *plane("Z", "0.000", middle, "0.000"), job=job, date=f"2026-05-1{job[-1]}")
        result, _, store = taken(text, name=f"line {job}.csv")
        assert (result.kept, result.held) == (3, 0)
    (row,) = chart.answer(store, Asked(characteristic=("tunnel_offset",)))["series"]
    assert row["method"] == "overall-vertical"
    assert [b["mean"] for b in row["blocks"]] == pytest.approx([9.0, 12.0, 6.0], abs=1e-6)


def test_diameters_carry_their_nominal_and_signed_tolerances_and_a_radius_is_doubled(taken):
    told = lines(("MB 1", "D", "64.000", "64.006", "0.006", "0.010", "-0.010", "0"),
                 ("MB 2", "R", "32.000", "32.004", "0.004", "0.005", "-0.005", ""))  # fmt: skip
    result, kept, _ = taken(told)
    assert (result.kept, result.held) == (2, 0)
    um = 100_000
    columns = ["feature", "value", "target", "lower", "upper", "text"]
    assert list(kept[columns].itertuples(index=False, name=None)) == [
        ("main-1", 64_006 * um, 64_000 * um, 63_990 * um, 64_010 * um, "64.006"),
        ("main-2", 64_008 * um, 64_000 * um, 63_990 * um, 64_010 * um, "32.004"),
    ]  # fmt: skip
    assert set(kept["characteristic"] + kept["method"]) == {"tunnel_diameterfitted"}


@pytest.mark.parametrize(
    ("row", "code"),
    [
        (("MB 1", "D", "64.000", "32.003"), "half_of_nominal"),
        (("MB 1", "Z", "0.000", "0.008", "0.018"), "deviation_contradicts"),
        (("MB 1", "Z", "0.000", "0.008", "-0.008"), "deviation_contradicts"),
        (("MB 1", "Z", "0.000", "0.012", "0.012", "0.010", "-0.010", ""), "out_contradicts"),
        (("MB 1", "Z", "0.000", "0.008", "0.008", "0.010", "-0.010", "0.002"), "out_contradicts"),
        (("MB 1", "Z", "0.000", "0.008", "0.008", "0.010", "-0.010", "OUT"), "out_contradicts"),
        (("MB 1", "Z", "0.000", "2.008"), "far_from_nominal"),
        (("MB 1", "R", "32.000", "32.0O4"), "turned_figure"),
        (("MB 9", "Z", "0.000", "0.004"), "needs_layout"),
        (("MB 1", "Q", "0.000", "0.004"), "needs_layout"),
    ],
)
def test_what_does_not_agree_or_nobody_can_name_waits(taken, row, code):
    result, kept, _ = taken(lines(*ALONG, row))
    assert stops(result) == [code]
    assert kept.empty


@pytest.mark.parametrize(
    "row",
    [
        ("MB 1", "Z", "0.0000", "0.0084", "0.008"),
        ("MB 1", "Z", "0.000", "0.012", "0.012", "0.010", "-0.010", "0.002"),
        ("MB 1", "Z", "0.000", "-0.012", "-0.012", "0.010", "0.010", "-0.002"),
        ("MB 1", "Z", "0.000", "0.012", "0.012", "0.010", "-0.010", "*"),
        ("MB 1", "Z", "0.000", "0.008", "0.008", "0.010", "-0.010", "OK"),
    ],
)
def test_what_agrees_within_its_last_digit_is_no_doubt(taken, row):
    result, kept, _ = taken(lines(*ALONG, row))
    assert (stops(result), len(kept)) == ([], 1)


def test_a_centre_without_a_place_along_the_line_waits_and_stations_of_the_layout_give_it(taken):
    text = lines(*plane("Z", "0.001", "0.002", "0.003"))
    result, kept, store = taken(text)
    assert (stops(result), result.held, len(kept)) == (["no_place"], 3, 0)
    told = LAYOUT + 'stations = {main-1 = "0", main-2 = "110.5", main-3 = "220"}\n'
    result, kept, _ = taken(text + "\n", told)
    assert list(kept["station"]) == [0, 11_050_000_000, 22_000_000_000]


def test_places_below_nought_wait_until_the_layout_says_where_the_line_starts(taken):
    along = [("MB 1", "X", "-100.000", "-100.001"), ("MB 2", "X", "0.000", "0.001")]
    text = lines(*along, *plane("Z", "0.001", "0.002"))
    result, _, _ = taken(text)
    assert stops(result) == ["place_below_nought"]
    assert "start = -100.000" in result.findings[0]["proposal"]
    _, kept, _ = taken(text + "\n", LAYOUT + "start = -100\n")
    assert sorted(kept["station"]) == [0, 10_000_000_000]


def test_an_axis_that_points_down_is_turned_and_says_so_when_it_cannot_be_read(taken):
    told = LAYOUT.replace('Z = "vertical"', 'Z = "-vertical"')
    _, kept, _ = taken(lines(*ALONG, *plane("Z", "0.001", "-0.002", "0,003")), told)
    assert list(zip(kept["value"], kept["text"], strict=True))[:2] == [
        (-100_000, "0.001"),
        (200_000, "-0.002"),
    ]


def test_unsigned_lower_tolerances_give_no_limits_unless_the_layout_says_what_they_mean(taken):
    row = ("MB 1", "D", "64.000", "64.002", "0.002", "0.010", "0.010", "")
    result, kept, _ = taken(lines(row))
    assert "tolerance_unsigned" in [f["code"] for f in result.findings]
    assert kept["lower"].isna().all()
    _, kept, _ = taken(lines(row, job="L-2"), LAYOUT + 'tolerances = "unsigned"\n')
    assert list(kept[kept["build"] == "L-2"]["lower"]) == [6_399_000_000]


def test_a_blank_name_means_the_one_above_only_where_the_layout_says_so(taken):
    text = lines(("MB 1", "X", "0", "0"), ("", "Z", "0", "0.004"))
    result, _, _ = taken(text)
    assert stops(result) == ["needs_layout"]
    _, kept, _ = taken(text + "\n", LAYOUT + "fill_down = true\n")
    assert list(kept["feature"]) == ["main-1"]


def test_a_list_that_says_everything_in_its_columns_needs_no_layout(taken):
    header = (
        "Element",
        "axis",
        "nominal [mm]",
        "ACTUAL [mm]",
        "build",
        "machine",
        "operation",
        "state",
        "date",
    )
    more = ("L-9", "line-hone-1", "line_hone", "caps_torqued", "2026-05-11")
    text = ",".join(header) + "\n"
    for n in (1, 2):
        text += ",".join((f"main-{n}", "along", f"{n}00", f"{n}00.001", *more)) + "\n"
        text += ",".join((f"Main {n}", "vertical", "0", "0.003", *more)) + "\n"
    result, kept, _ = taken(text, name="other.csv")
    assert (result.kept, result.held) == (2, 0)
    assert list(kept["station"]) == [10_000_000_000, 20_000_000_000]
    result, _, _ = taken(text.replace("vertical", "Z"), name="third.csv")
    assert stops(result) == ["needs_layout"]


def test_a_list_of_which_the_unit_is_not_said_or_said_twice_waits_whole(taken):
    text = lines(*ALONG, *plane("Z", "0.001"))
    result, _, _ = taken(text, LAYOUT.replace('unit = "mm"\n', ""))
    assert stops(result) == ["needs_layout"]
    assert "unit" in result.findings[0]["saw"]
    result, _, _ = taken(text.replace("Actual", "Actual (in)"))
    assert stops(result) == ["needs_layout"]
    assert "heading says in" in result.findings[0]["saw"]


def fixed(rows, widths=(10, 6, 12, 12, 10, 8, 8, 8)):
    return "\n".join("".join(f"{t:>{w}}" if i > 1 else f"{t:<{w}}" for i, (t, w) in enumerate(
        zip(row, widths, strict=False))).rstrip() for row in rows) + "\n"  # fmt: skip


def test_columns_of_fixed_width_are_read_as_the_same_list_with_commas(taken):
    rows = [*ALONG, *plane("Z", "0.000", "-0.009", "0.000"),
            ("MB 3", "D", "64.000", "64.012", "0.012", "0.010", "-0.010", "0.002")]  # fmt: skip
    wide = "Job       L-1\nDate      2026-05-11\n\n" + fixed([HEADER, ("-" * 8, "-" * 4), *rows])
    told = LAYOUT.replace('{cell = "B1"}', '{cell = "A1", after = "Job"}').replace(
        '{cell = "B2"}', '{cell = "A2", after = "Date"}')  # fmt: skip
    result, kept, store = taken(wide, told, "line f.txt")
    assert (result.kept, result.held) == (4, 0)
    again, _, _ = taken(lines(*rows))
    assert (again.already_kept, again.kept) == (4, 0)


def test_fixed_columns_that_run_into_each_other_are_held_and_never_guessed():
    text = fixed(
        [HEADER, ("MB 1", "Z", "0.000", "0.001", "0.001"), ("MB 2", "Z", "0.000000000000000000", "0.002")]
    )
    assert fixed_width.claims(text.encode(), "x.txt")
    with pytest.raises(sources.FileError, match="do not stand under their headings"):
        fixed_width.cells(text.encode())


@pytest.mark.parametrize(
    "header",
    ["Feature,Axis,Nominal,Actual", "ELEMENT; Ax ;Nom.;Act.;Dev.", "Name\tFeature\tAchse\tSoll\tIst\tAbw.",
     "actual (mm),nominal (mm),axis,item"],
)  # fmt: skip
def test_headers_are_known_in_several_spellings_and_any_order(header):
    (grid,) = sources.grids((header + "\n1,2,3,4\n").encode(), "x.csv")
    assert centre_columns.likeness(grid.rows[0][1]) >= 4


def test_a_readings_file_or_a_hand_sheet_is_no_list_of_centres():
    for header in ("build,machine,operation,characteristic,feature,value,unit,measured_at,target",
                   "feature,axis,value", "Bore 1,Bore 2,Actual"):  # fmt: skip
        assert centre_columns.likeness(header.split(",")) == 0


def test_the_first_layout_of_a_list_reads_it_once_its_lines_are_completed(taken, tmp_path):
    text = lines(*ALONG, *plane("Z", "0.000", "0.009", "0.000"))
    (tmp_path / "line 1.csv").write_text(text, encoding="utf-8")
    told = first_layout(tmp_path / "line 1.csv")
    layout("first.toml", told.replace("[[centres]]", '[[centres]]\nmachine = "x"').encode())
    for asked, said in (('machine = ""', 'machine = "lh"'), ('operation = ""', 'operation = "line_hone"'),
                        ('state = ""', 'state = "free"'), ('unit = ""', 'unit = "mm"'),
                        ('"X" = "", "Z" = ""', '"X" = "along", "Z" = "vertical"')):  # fmt: skip
        assert asked in told
        told = told.replace(asked, said)
    told = told.replace("# machine", "machine").replace("# operation", "operation").replace("# unit", "unit")
    told = told.replace("# state", "state").replace("# axes", "axes").replace("# features", "features")
    result, kept, _ = taken(text, told)
    assert (result.kept, result.held) == (3, 0)
    assert list(kept["feature"]) == ["main-1", "main-2", "main-3"]


def test_a_radius_taken_for_a_diameter_can_be_put_right(taken):
    result, _, store = taken(lines(("MB 1", "D", "64.000", "32.003")))
    decide(store, result.findings[0]["id"], "correct", "radius", "ann")
    (kept,) = store.readings(Asked()).itertuples()
    assert kept.value == 6_400_600_000


@pytest.mark.parametrize(
    "told",
    ['axes = {Z = "up"}', 'features = {A = "deck-left"}', 'tolerances = "both"', 'start = "here"',
     'stations = "x"', 'height = "1"'],
)  # fmt: skip
def test_a_layout_that_says_what_no_list_has_is_refused(told):
    with pytest.raises(sources.FileError):
        layout("x.toml", (LAYOUT.replace("axes", "#axes").replace("features", "#features") + told).encode())


def test_a_turned_figure_keeps_the_text_of_its_cell_whatever_is_decided(taken):
    result, _, store = taken(lines(("MB 1", "R", "32.000", "32.004", "0.007")))
    assert stops(result) == ["deviation_contradicts"]
    decide(store, result.findings[0]["id"], "accept", "the deviation was typed wrong", "ann")
    (kept,) = store.readings(Asked()).itertuples()
    assert (kept.value, kept.text) == (6_400_800_000, "32.004")
