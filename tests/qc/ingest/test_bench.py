"""Our own bench sheet goes out, is filled in by another library, and comes back to the last digit."""

import random
from collections.abc import Callable
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path
from types import SimpleNamespace

import openpyxl
import pytest
from click.testing import CliRunner

from qc.cli import main
from qc.ingest.held import decide
from qc.ingest.run import ingest
from qc.records import Asked

SPECS = (
    "build,engine,characteristic,feature,state,reading,lower,target,upper,unit,source\n"
    "B-200,,bore_diameter,,,size,,{target},,mm,our plan\n"
    ",i4,bore_diameter,,plate_on,deviation,-8,,8,um,our book\n"
)
PLAN = "engine,characteristic,station_mm,clock_deg,state\n" + "".join(
    f"i4,bore_diameter,{s},{c},plate_on\n" for s in (12, 66.5, 118) for c in (0, 90)
)
DATE = datetime(2026, 5, 4, 8, 30, tzinfo=UTC).replace(tzinfo=None)
OPTIONS = (
    "--machine", "hone-1", "--operation", "plateau_hone", "--characteristic", "bore_diameter",
    "--state", "plate_on", "--engine", "i4", *(x for n in range(1, 5) for x in ("--feature", f"cyl-{n}")),
)  # fmt: skip


@pytest.fixture
def bench(shop, file, tmp_path) -> SimpleNamespace:
    """A shop with limits, a target and a plan; writes sheets, finds their cells, takes them in."""
    ingest(shop, [file(SPECS.format(target="96.0000"), "specs.csv"), file(PLAN, "plan.csv")], by="test")

    def written(*options: str, name: str = "sheet.xlsx") -> Path:
        place = tmp_path / name
        done = CliRunner().invoke(
            main, ["sheet", "B-200", *OPTIONS, *options, "--out", str(place), "--store", shop.place],
            catch_exceptions=False,
        )  # fmt: skip
        assert done.exit_code == 0, done.output
        return place

    def opened(place: Path):
        return openpyxl.load_workbook(place)

    def taken(book, name: str = "filled.xlsx"):
        place = tmp_path / name
        book.save(place)
        return ingest(shop, [place], by="test").files[0]

    return SimpleNamespace(store=shop, written=written, opened=opened, taken=taken, keyed=_keyed, fill=_fill)


def _keyed(sheet, key: str) -> int:
    """Row whose key begins so."""
    return next(r for r in range(1, sheet.max_row + 1) if str(sheet.cell(r, 1).value or "").startswith(key))


def _fill(sheet, value: Callable[[], object]) -> dict[tuple[str, str, int], object]:
    """Fill in date, gauge and every reading; what was written by depth-and-direction key and column."""
    sheet.cell(_keyed(sheet, "fill measured_at"), 4).value = DATE
    sheet.cell(_keyed(sheet, "fill gauge"), 4).value = "bg-3"
    told = {}
    for row in range(1, sheet.max_row + 1):
        key = str(sheet.cell(row, 1).value or "")
        if key.startswith("at "):
            for n in range(1, 5):
                told[key, f"cyl-{n}"] = (row, sheet.cell(row, 3 + n))
                sheet.cell(row, 3 + n).value = value()
    return {place: (row, cell.value, cell.column_letter) for place, (row, cell) in told.items()}


@pytest.mark.parametrize(
    ("options", "unit_ticks", "digits"),
    [
        (("--as", "deviation", "--unit", "um"), 100_000, 1),
        (("--as", "deviation", "--unit", "tenth"), 254_000, 1),
        (("--as", "size", "--unit", "mm"), 100_000_000, 4),
        (("--as", "size", "--unit", "in"), 2_540_000_000, 5),
    ],
)
def test_a_filled_sheet_comes_back_to_the_bit(bench, options, unit_ticks, digits):
    """1 um = 100 000 ticks, 1 in = 25.4 mm: the sizes are worked out here with whole numbers alone."""
    draw = random.Random(3)
    start = {"mm": 96.0, "in": 96 / 25.4}.get(options[3], 0.0)
    step = 10**-digits
    book = bench.opened(bench.written(*options))
    sheet = book.worksheets[0]
    told = bench.fill(sheet, lambda: round(start + draw.randint(-30, 30) * step, digits))
    result = bench.taken(book)
    assert (result.status, result.rows, result.kept) == ("kept", 24, 24), result.findings
    found = bench.store.readings(Asked())
    base = 0 if options[1] == "size" else 9_600_000_000
    for (key, feature), (row, value, letter) in told.items():
        station, clock = (int(Decimal(x) * f) for x, f in zip(key.split()[1:], (10**8, 10**5), strict=True))
        here = found[
            (found["feature"] == feature) & (found["station"] == station) & (found["clock"] == clock)
        ]
        one = here.iloc[0]
        assert len(here) == 1
        assert one["value"] == base + int(Decimal(str(value)) * unit_ticks)
        assert one["target"] == 9_600_000_000
        assert (one["sheet"], one["row"], one["column"]) == (sheet.title, row, letter)
        assert one["id"].endswith(f":{sheet.title}!{row}:{letter}")
    assert set(found["gauge"]) == {"bg-3"}
    assert set(zip(found["machine"], found["operation"], found["state"], found["engine"], strict=True)) == {
        ("hone-1", "plateau_hone", "plate_on", "i4")
    }
    assert set(found["made_at"]) == {int(DATE.replace(tzinfo=UTC).timestamp()) * 1_000_000}


def test_the_sheet_is_the_same_bytes_every_time(bench):
    first, second = bench.written(name="one.xlsx"), bench.written(name="two.xlsx")
    assert first.read_bytes() == second.read_bytes()


def test_target_limits_and_positions_stand_on_the_sheet_as_they_are_in_force(bench):
    sheet = bench.opened(bench.written("--as", "size", "--unit", "mm")).worksheets[0]
    lines = [
        [sheet.cell(_keyed(sheet, key), 3 + n).value for n in range(1, 5)]
        for key in ("target", "lower", "upper")
    ]
    assert lines == [[96.0] * 4, [95.992] * 4, [96.008] * 4]
    rows = [r for r in range(1, sheet.max_row + 1) if str(sheet.cell(r, 1).value or "").startswith("at ")]
    assert [(sheet.cell(r, 2).value, sheet.cell(r, 3).value) for r in rows] == [
        (12, 0), (12, 90), (66.5, 0), (66.5, 90), (118, 0), (118, 90)
    ]  # fmt: skip
    assert (sheet.page_setup.orientation, sheet.page_setup.paperSize) == ("landscape", 9)
    assert "$B$1" in sheet.print_area
    assert "B-200" in sheet.oddHeader.left.text


def test_headings_and_labels_typed_over_do_not_matter(bench):
    book = bench.opened(bench.written("--as", "deviation", "--unit", "um"))
    sheet = book.worksheets[0]
    bench.fill(sheet, lambda: 2)
    head = bench.keyed(sheet, "head")
    for n, text in enumerate(("front", "Bore 2!", "3rd", ""), start=1):
        sheet.cell(head, 3 + n).value = text
    sheet.cell(bench.keyed(sheet, "words"), 2).value = "Monday"
    sheet.cell(bench.keyed(sheet, "at 66.5 0"), 2).value = "half way"
    sheet.insert_rows(1, 2)
    result = bench.taken(book)
    assert (result.status, result.kept) == ("kept", 24)
    noted = {c["text"] for f in result.findings if f["code"] == "added_words" for c in f["cells"]}
    assert {"front", "Bore 2!", "3rd", "Monday", "half way"} <= noted


def test_a_heading_that_names_another_bore_holds_its_column(bench):
    book = bench.opened(bench.written("--as", "deviation", "--unit", "um"))
    sheet = book.worksheets[0]
    bench.fill(sheet, lambda: 2)
    sheet.cell(bench.keyed(sheet, "head"), 5).value = "cyl-3"
    result = bench.taken(book)
    assert (result.kept, result.held) == (18, 6)
    finding = next(f for f in result.findings if f["code"] == "bench_contradicts")
    assert "cyl-2, but reads cyl-3" in finding["saw"]
    decide(bench.store, finding["id"], "accept", "the heading was a slip", "test")
    found = bench.store.readings(Asked(feature=("cyl-2",)))
    assert sorted(found["column"]) == ["E"] * 6


def test_a_sheet_used_for_another_build_is_held(bench):
    book = bench.opened(bench.written())
    sheet = book.worksheets[0]
    bench.fill(sheet, lambda: 2)
    sheet.cell(1, 2).value = "B-201: bore size, plate on"
    result = bench.taken(book)
    assert (result.status, result.kept, result.held) == ("held", 0, 24)
    assert "build B-200, but reads B-201" in result.findings[0]["saw"]


def test_what_was_added_is_held_or_noted_and_never_lost(bench):
    book = bench.opened(bench.written("--as", "deviation", "--unit", "um"))
    sheet = book.worksheets[0]
    bench.fill(sheet, lambda: 2)
    sheet.insert_rows(bench.keyed(sheet, "at 66.5 0"))
    extra = bench.keyed(sheet, "at 66.5 0") - 1
    sheet.cell(extra, 2).value, sheet.cell(extra, 4).value = 40, 3
    sheet.cell(bench.keyed(sheet, "at 118 0"), 8).value = "chatter here"
    sheet.cell(bench.keyed(sheet, "note"), 5).value = "sleeved"
    sheet.cell(sheet.max_row + 3, 4).value = "oil changed at noon"
    result = bench.taken(book)
    assert (result.status, result.kept, result.held) == ("part_held", 24, 0)
    by_code = {f["code"]: f for f in result.findings}
    assert [(c["row"], c["column"], c["text"]) for c in by_code["added_numbers"]["cells"]] == [
        (extra, "B", "40"), (extra, "D", "3")
    ]  # fmt: skip
    assert "oil changed at noon" in {c["text"] for c in by_code["added_words"]["cells"]}
    found = bench.store.readings(Asked())
    told = {(r.feature, r.station, r.clock): r.note for r in found.itertuples() if isinstance(r.note, str)}
    assert told["cyl-2", 11_800_000_000, 0] == "sleeved; chatter here"
    assert told["cyl-2", 1_200_000_000, 0] == "sleeved"
    assert told["cyl-1", 11_800_000_000, 0] == "chatter here"
    assert ("cyl-1", 1_200_000_000, 0) not in told


def test_a_target_typed_over_counts_and_is_asked_about(bench):
    book = bench.opened(bench.written("--as", "deviation", "--unit", "um"))
    sheet = book.worksheets[0]
    bench.fill(sheet, lambda: -3)
    sheet.cell(bench.keyed(sheet, "target"), 6).value = 96.01
    result = bench.taken(book)
    found = bench.store.readings(Asked(feature=("cyl-3",)))
    assert set(found["value"]) == {9_601_000_000 - 300_000}
    assert [f["severity"] for f in result.findings if f["code"] == "target_typed_over"] == ["ask"]


def test_cells_that_are_no_number_wait_and_can_be_corrected_one_by_one(bench):
    book = bench.opened(bench.written("--as", "deviation", "--unit", "tenth"))
    sheet = book.worksheets[0]
    bench.fill(sheet, lambda: 1)
    row = bench.keyed(sheet, "at 12 0")
    for letter, text in zip("DEFG", ("3/10", "see note", "-", 0.0003), strict=True):
        sheet[f"{letter}{row}"].value = text
    result = bench.taken(book)
    assert (result.kept, result.held) == (20, 3)
    by_code = {f["code"]: f for f in result.findings}
    assert [c["column"] for c in by_code["not_a_reading"]["cells"]] == ["D", "E"]
    assert [c["text"] for c in by_code["odd_decimals"]["cells"]] == ["0.0003"]
    assert [c["column"] for c in by_code["not_measured"]["cells"]] == ["F"]
    told = {f"{sheet.title}!{row}:D": "0.3", f"{sheet.title}!{row}:E": "-2"}
    decide(bench.store, by_code["not_a_reading"]["id"], "correct", "asked Jo", "test", told)
    found = bench.store.readings(Asked(), status="all")
    here = found[found["row"] == row].set_index("column")
    assert here.loc["D", "value"] == 9_600_000_000 + 76_200
    assert here.loc["E", "value"] == 9_600_000_000 - 508_000
    assert here.loc["D", "id"].endswith(":D/2")


def test_a_key_typed_over_holds_its_table(bench):
    book = bench.opened(bench.written())
    sheet = book.worksheets[0]
    bench.fill(sheet, lambda: 2)
    sheet.cell(1, 1).value = sheet.cell(1, 1).value.replace("plate_on", "plate_off")
    result = bench.taken(book)
    assert (result.status, result.rows) == ("held", 0)
    assert [f["code"] for f in result.findings] == ["key_spoilt"]


def test_a_blank_date_holds_what_was_filled_in(bench):
    book = bench.opened(bench.written())
    sheet = book.worksheets[0]
    bench.fill(sheet, lambda: 2)
    sheet.cell(bench.keyed(sheet, "fill measured_at"), 4).value = None
    result = bench.taken(book)
    assert (result.kept, result.held) == (0, 24)
    decide(bench.store, result.findings[0]["id"], "correct", "it was that day", "test", "2026-05-04T08:30")
    assert len(bench.store.readings(Asked())) == 24


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--characteristic", "bore_diameter"), "--engine"),
        (("--engine", "v6"), "--machine --operation --characteristic"),
        (("--engine", "v6", *OPTIONS[:8]), "--feature cyl-1"),
        (("--engine", "v6", *OPTIONS[:8], "--feature", "cyl-1"), "--station 10"),
        (("--engine", "i4", *OPTIONS[:6], "--feature", "cyl-1"), "--state plate_on"),
    ],
)
def test_what_the_sheet_cannot_know_is_asked_for(bench, tmp_path, options, words):
    place = str(tmp_path / "no.xlsx")
    done = CliRunner().invoke(
        main, ["sheet", "B-999", *options, "--out", place, "--store", bench.store.place]
    )
    assert done.exit_code == 2
    assert words in done.output
    assert not Path(place).exists()
