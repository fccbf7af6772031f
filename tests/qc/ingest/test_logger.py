"""Gauge loggers' lists: their order says what was measured, so one reading too many holds all of them."""

import pytest

from qc.errors import FileError
from qc.ingest.held import decide
from qc.ingest.layout import layout
from qc.ingest.run import ingest
from qc.records import Asked

LAYOUT = """
file = ["log*.csv"]
[text]
D1 = "Value"
[[log]]
build = {file = true, after = "log "}
machine = "hone-1"
operation = "finish_bore"
characteristic = "bore_diameter"
state = "plate_on"
reading = "size"
gauge = "bg-1"
values = "D"
units = "E"
channels = "F"
channel = "1"
times = ["B", "C"]
first = 2
order = ["cyl-1 12 0", "cyl-1 12 90", "cyl-2 12 0", "cyl-2 12 90"]
"""
HEAD = "No;Date;Time;Value;Unit;Ch\n"
ROWS = (
    "1;2026-05-04;08:00:01;96,012;mm;1",
    "2;2026-05-04;08:00:09;96,015;mm;1",
    "3;2026-05-04;08:00:10;0,31;mm;2",
    "4;2026-05-04;08:00:20;3.7800;in;1",
    "5;2026-05-04;08:00:31;96,011;mm;1",
)


@pytest.fixture
def logged(shop, file, tmp_path):
    """The result of a list taken in by the layout."""

    def took(rows=ROWS, told=LAYOUT):
        (tmp_path / "log.toml").write_text(told, encoding="utf-8")
        place = file(HEAD + "\n".join(rows) + "\n", "log 77.csv")
        return ingest(shop, [place], by="test", layouts=[tmp_path / "log.toml"]).files[0]

    return took


def test_a_list_is_read_in_the_order_the_layout_says(logged, shop):
    result = logged()
    assert (result.status, result.kept) == ("kept", 4), result.findings
    found = shop.readings(Asked()).sort_values("row")
    told = found[["feature", "clock", "value", "row", "column", "build"]]
    assert told.to_numpy().tolist() == [
        ["cyl-1", 0, 9_601_200_000, 2, "D", "77"],
        ["cyl-1", 9_000_000, 9_601_500_000, 3, "D", "77"],
        ["cyl-2", 0, 9_601_200_000, 5, "D", "77"],  # 3.78 in = 96.012 mm
        ["cyl-2", 9_000_000, 9_601_100_000, 6, "D", "77"],
    ]
    assert found["made_at"].diff().dropna().tolist() == [8_000_000, 11_000_000, 11_000_000]
    assert "other_channels" in {f["code"] for f in result.findings}


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (ROWS[:-1], "3 readings where the layout's order has 4"),
        ((*ROWS, "6;2026-05-04;08:00:32;96,011;mm;1"), "row 7 repeat the one before within 2 s"),
        ((*ROWS[:-1], "6;2026-05-04;08:00:21;3.7800;in;1"), "row 6 repeat the one before"),
        (("0;2026-05-04;07:59:50;0,000;mm;1", *ROWS[:-1]), "row 2 read like the gauge set to zero"),
    ],
)
def test_an_order_that_cannot_be_trusted_holds_the_list(logged, rows, words):
    result = logged(rows)
    assert (result.status, result.kept, result.rows) == ("held", 0, 0)
    assert words in result.findings[0]["saw"]


def test_a_unit_flag_against_the_layout_holds_that_reading(logged, shop):
    result = logged(told=LAYOUT + 'unit = "mm"\n')
    assert (result.kept, result.held) == (3, 1)
    finding = next(f for f in result.findings if f["severity"] == "stop")
    assert "The layout says unit mm" in finding["saw"]
    assert [(c["row"], c["column"], c["text"]) for c in finding["cells"]] == [(5, "E", "in")]
    decide(shop, finding["id"], "discard", "measured again", "test")
    assert len(shop.readings(Asked())) == 3


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("first = 2\n", "", "first = 2"),
        ('channels = "F"\n', "", "goes with channel"),
        ('values = "D"', 'values = "D2"', "column by its letter"),
        ('order = ["cyl-1 12 0", "cyl-1 12 90", "cyl-2 12 0", "cyl-2 12 90"]', "", "order of its readings"),
        ('"cyl-1 12 0"', '"cyl 1 12 0"', "no feature, depth in mm and direction"),
    ],
)
def test_what_a_log_must_say_is_asked_for(old, new, words):
    assert old in LAYOUT
    with pytest.raises(FileError, match=words):
        layout("log.toml", LAYOUT.replace(old, new).encode("utf-8"))


def test_a_log_without_its_state_is_not_read(logged):
    result = logged(told=LAYOUT.replace('state = "plate_on"\n', ""))
    assert (result.status, result.kept) == ("held", 0)
    assert "does not say its state" in result.findings[0]["saw"]
