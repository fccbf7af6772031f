"""Traces that cannot be trusted: each is held under one sentence, and never takes memory it says it needs."""

import hashlib
import io
import random
import re
import struct
import tracemalloc
import zipfile

import pytest

from qc.errors import FileError
from qc.ingest import trace, trace_sdf, trace_text, trace_x3p
from qc.ingest.layout import layout
from qc.ingest.run import ingest
from qc.ingest.trace_text import Written
from tests.generate import traces as made

DRAW = random.Random(6)
Z = made.heights(made.curve(DRAW), 9600, DRAW)
SDF = made.sdf([Z], 6)
TEXT_SDF = made.sdf([Z], 6, ascii_=True)
X3P = made.x3p(Z)
INLINE = made.x3p(Z, inline=True)
NAME = "T-1_cyl-3_60_2026-05-04_a.sdf"
LAYOUT = made.layout("sdf_int32").replace('"T-*_sdf-int32.sdf"', '"*"')


def packed(kind=6, points=9600, profiles=1, x=5e-7, z=1e-9, compression=0, check=0, body=None):
    head = struct.pack(
        "<8s10s12s12sHHddddBBB", b"bISO-1.0", b"none", b"040520260815", b"040520260815", points, profiles, x,
        1e-3, z, -1.0, compression, kind, check,
    )  # fmt: skip
    return head + (SDF[81:] if body is None else body)


def edited(data, *pairs, signed=True):
    """An x3p file with texts of main.xml exchanged; `signed`: with a checksum that fits."""
    with zipfile.ZipFile(io.BytesIO(data)) as book:
        parts = {name: book.read(name) for name in book.namelist()}
    for old, new in pairs:
        assert old in parts["main.xml"], old
        parts["main.xml"] = parts["main.xml"].replace(old, new)
    if signed:
        parts["md5checksum.hex"] = hashlib.md5(parts["main.xml"]).hexdigest().encode()
    return parts


def repacked(*pairs, data=X3P, signed=True, without=(), more=()):
    parts = edited(data, *pairs, signed=signed)
    return made.zipped({k: v for k, v in {**parts, **dict(more)}.items() if k not in without})


def lines(data, old, new):
    text = data.decode("utf-8")
    assert re.search(old, text), old
    return re.sub(old, new, text, count=1).encode("utf-8")


DAMAGED_SDF = {
    "cut off in its header": (SDF[:60], "ends within its header"),
    "cut off in its heights": (SDF[:-5], "where its header says 38400"),
    "longer than it says": (SDF + b"\x01\x02\x03\x04", "where its header says 38400"),
    "another width of type": (packed(kind=5), "where its header says 19200"),
    "unknown type": (packed(kind=8), "types 0 to 7"),
    "signed heights as unsigned": (packed(kind=2), "jump over half the range"),
    "bytes in the other order": (
        packed(kind=5, body=struct.pack(">9600h", *(round(1000 * v) for v in Z))), "jump over half the range"
    ),
    "whole numbers as floats": (packed(kind=3), "(would span|the same|an Ra of|were not measured)"),
    "compressed": (packed(compression=1), "compressed"),
    "a checksum": (packed(check=2), "checksum of a kind"),
    "no points": (packed(points=0), "0 points"),
    "an area": (packed(points=200, profiles=48, kind=6), "an area"),
    "scale nought": (packed(z=0.0), "zscale"),
    "scale not a number": (packed(x=float("nan")), "xscale"),
    "spacing in um": (packed(x=0.5), "500000 um apart"),
    "heights in um": (packed(z=1e-3), "no finished surface"),
    "flat": (packed(body=bytes(38_400)), "all heights of the trace are the same"),
    "text: no mark": (TEXT_SDF.replace(b"\n*\n", b"\n"), "no line \\* between"),
    "text: a key missing": (lines(TEXT_SDF, r"Xscale.*\n", ""), "does not say xscale"),
    "text: too few": (TEXT_SDF[:-3000], "heights where its header says 9600"),
    "text: more said": (lines(TEXT_SDF, "= 9600", "= 9700"), "where its header says 9700"),
    "text: very many said": (lines(TEXT_SDF, "= 9600", "= 999999999"), "at most 500000 points"),
    "text: no whole number": (lines(TEXT_SDF, "= 9600", "= -9600"), "no whole number"),
    "text: a word among heights": (lines(TEXT_SDF, r"\n\*\n(-?\d+)\n", "\n*\nabc\n"), "no number"),
    "text: underscores": (lines(TEXT_SDF, r"\n\*\n(-?\d+)\n", "\n*\n1_000\n"), "no number"),
    "text: scale a word": (lines(TEXT_SDF, r"(Zscale +=) .*\n", r"\1 inf\n"), "zscale"),
}  # fmt: skip
DAMAGED_X3P = {
    "cut off": (X3P[:-40], "damaged"),
    "main.xml changed": (repacked((b"5e-07", b"6e-07"), signed=False), "main.xml does not fit its checksum"),
    "no checksum": (repacked(without=("md5checksum.hex",)), "lacks its checksum"),
    "data changed": (
        repacked(more={"bindata/data.bin": bytes(76_800)}.items()), "data.bin' does not fit its checksum"
    ),
    "data missing": (repacked(without=("bindata/data.bin",)), "lacks its part"),
    "fewer points": (repacked((b"<SizeX>9600", b"<SizeX>9500")), "it says 76000 bytes"),
    "very many points": (repacked((b"<SizeX>9600", b"<SizeX>999999999")), "at most 500000 points"),
    "an area": (repacked((b"<SizeY>1<", b"<SizeY>96<")), "an area"),
    "layers": (repacked((b"<SizeZ>1<", b"<SizeZ>2<")), "2 layers"),
    "size a word": (repacked((b"<SizeX>9600", b"<SizeX>many")), "how many points"),
    "a point cloud": (repacked((b"PRF", b"PCL")), "no profile"),
    "no heights": (repacked((b"<AxisType>A", b"<AxisType>I")), "axis CZ, type A"),
    "unknown type": (
        repacked((b"<CZ><AxisType>A</AxisType><DataType>D", b"<CZ><AxisType>A</AxisType><DataType>Q")),
        "data type 'Q'",
    ),
    "millimetres": (repacked((b"<Increment>5e-07", b"<Increment>5e-03")), "5000 um apart"),
    "no increment": (repacked((b"<Increment>5e-07</Increment>", b"")), "0 um apart"),
    "no number": (repacked((b"<Increment>5e-07", b"<Increment>1_0")), "no number"),
    "entities": (
        repacked((b"<p:ISO5436_2", b'<!DOCTYPE x [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]><p:ISO5436_2')),
        "document type or entities",
    ),
    "broken XML": (repacked((b"</Record1>", b"")), "main.xml of the x3p file is damaged"),
    "nested": (
        repacked((b"<Record2>", b"<Record2>" + b"<a>" * 50 + b"</a>" * 50)), "nested too deeply"
    ),
    "many parts": (repacked(more={f"p{i}": b"" for i in range(60)}.items()), "parts"),
    "inline: a word": (repacked((b"<Datum>", b"<Datum>x"), data=INLINE), "no number"),
    "inline: one less": (repacked((b"<SizeX>9600", b"<SizeX>9599"), data=INLINE), "lists 9600 points"),
    "all invalid": (made.x3p(Z, invalid=frozenset(range(9600))), "no measured heights"),
    "a wide gap": (made.x3p(Z, invalid=frozenset(range(5000, 5040))), "40 on end"),
    "many gaps": (made.x3p(Z, invalid=frozenset(range(0, 9600, 50))), "were not measured"),
    "too short": (made.x3p(Z[:8000]), "needs 4.8 mm"),
}  # fmt: skip
COLUMNS = made.columns(Z, "x (mm)\tz (um)\n", 1000.0)
DAMAGED_TEXT = {
    "a word among figures": ("x_z", lines(COLUMNS, r"\n0\.1\d+\t\S+\n", "\n0.1\tab\n"), "two figures a line"),
    "a column missing": ("x_z", lines(COLUMNS, r"\n0\.1\d+\t\S+\n", "\n0.1\n"), "two figures a line"),
    "a broken line near the top": (
        "x_z", lines(COLUMNS, r"\n0\.0005\d+\t\S+\n", "\n0.0005\tabc\n"), "stands before"
    ),
    "uneven steps": ("x_z", lines(COLUMNS, r"\n0\.1\d+\t", "\n0.1999\t"), "equal steps"),
    "falling places": (
        "x_z", "".join(f"{-i * 0.5}\t{v}\n" for i, v in enumerate(Z)).encode(), "nothing says the unit"
    ),
    "no units": ("x_z", made.columns(Z), 'write x_unit = "um"'),
    "a unit nobody knows": ("x_z", made.columns(Z, "x (mm)\tz (furlong)\n", 1000.0), "nothing says the unit"),
    "three columns": ("x_z", "".join(f"{i} {v} 1\n" for i, v in enumerate(Z)).encode(), "two figures a line"),
    "spacing below nought": ("spacing_first", ("-0.5\n" + "\n".join(map(str, Z))).encode(), "-0.5 um apart"),
    "heights first": ("spacing_first", made.columns(Z, x_um=1000.0), "one figure a line"),
    "spacing lost": ("spacing_first", b"0.5\nabc\n" + made.spacing_first(Z)[4:], "stands before"),
    "another unit in the header": (
        "spacing_first", b"z [nm]\n" + made.spacing_first(Z), "another unit than um"
    ),
    "NUL bytes": ("spacing_first", b"0.5\n\x00\x00\x00" + made.spacing_first(Z)[4:], "NUL"),
    "empty": ("spacing_first", b"\n\n", "(empty|one figure a line)"),
    "numbers past all bounds": ("spacing_first", b"0.5\n" + b"1e999\n" * 9600, "no measured heights"),
}  # fmt: skip


def held(shop, file, tmp_path, data, told=LAYOUT, name=NAME):
    (tmp_path / "t.toml").write_text(told, encoding="utf-8")
    result = ingest(shop, [file(data, name)], by="test", layouts=[tmp_path / "t.toml"]).files[0]
    assert (result.status, result.rows, result.kept) == ("held", 0, 0)
    (finding,) = result.findings
    assert finding["severity"] == "stop"
    assert finding["saw"].count("\n") == 0
    assert len(finding["saw"]) < 330
    return finding["saw"]


@pytest.mark.parametrize("what", DAMAGED_SDF)
def test_an_sdf_file_that_cannot_be_trusted_waits(shop, file, tmp_path, what):
    data, words = DAMAGED_SDF[what]
    assert re.search(words, held(shop, file, tmp_path, data), re.IGNORECASE)


@pytest.mark.parametrize("what", DAMAGED_X3P)
def test_an_x3p_file_that_cannot_be_trusted_waits(shop, file, tmp_path, what):
    data, words = DAMAGED_X3P[what]
    assert re.search(words, held(shop, file, tmp_path, data, name=NAME.replace("sdf", "x3p")), re.IGNORECASE)


@pytest.mark.parametrize("what", DAMAGED_TEXT)
def test_a_text_that_cannot_be_trusted_waits(shop, file, tmp_path, what):
    content, data, words = DAMAGED_TEXT[what]
    told = f'{LAYOUT}content = "{content}"\n'
    assert re.search(words, held(shop, file, tmp_path, data, told, NAME.replace("sdf", "txt")), re.IGNORECASE)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (made.sdf([Z[::2]], 6), "needs 4.8 mm"),
        (made.sdf([Z[::2] * 2], 6, spacing_m=1e-6), "too far for a short cut-off of 2.5 um"),
        (made.sdf([Z, Z[:100] * 96], 6)[:-2] + b"\xff\x7f", "profile 2 of 2 would span"),
    ],
)
def test_a_trace_that_gives_no_figure_says_what_it_needs(shop, file, tmp_path, data, words):
    assert re.search(words, held(shop, file, tmp_path, data), re.IGNORECASE)


def test_a_layout_that_contradicts_the_header_of_a_trace_holds_it(shop, file, tmp_path):
    told = LAYOUT + 'content = "x_z"\nx_unit = "um"\n'
    words = held(shop, file, tmp_path, COLUMNS, told, NAME.replace("sdf", "txt"))
    assert "header says mm, the layout x_unit = um" in words


def test_half_a_header_that_contradicts_the_layout_holds_the_trace_too(shop, file, tmp_path):
    data = made.columns(Z, "x (mm)\theight\n", 1000.0)
    told = LAYOUT + 'content = "x_z"\nx_unit = "um"\nz_unit = "um"\n'
    words = held(shop, file, tmp_path, data, told, NAME.replace("sdf", "txt"))
    assert "header names mm, the layout x_unit = um and z_unit = um" in words


@pytest.mark.parametrize(
    ("written", "said", "words"),
    [(0.001, "um", r"an Ra of 1\d\d um"), (1.0, "nm", "(an Ra of 0.000|would span 0.00)")],
)
def test_heights_in_another_unit_than_said_hold_the_trace(shop, file, tmp_path, written, said, words):
    told = f'{LAYOUT}content = "x_z"\nx_unit = "um"\nz_unit = "{said}"\n'
    data = made.columns([0.5 * v for v in Z], z_um=written)
    assert re.search(words, held(shop, file, tmp_path, data, told, NAME.replace("sdf", "txt")))


def test_a_trial_in_the_layout_and_several_profiles_contradict_each_other(shop, file, tmp_path):
    words = held(shop, file, tmp_path, made.sdf([Z, Z], 6), LAYOUT + "trial = 1\n")
    assert "take trial out of the layout" in words


def bomb():
    """300 MB of noughts in 300 kB."""
    return made.zipped({"main.xml": b"<a/>", "bindata/data.bin": bytes(300_000_000)})


@pytest.mark.parametrize(
    ("reader", "data", "words"),
    [
        (trace_x3p, bomb, "unpacks to more than 60 MB"),
        (trace_sdf, lambda: packed(points=65_535, profiles=65_535, body=b""), "an area"),
        (trace_sdf, lambda: packed(points=65_535, profiles=20, body=b""), "where its header says"),
        (trace_x3p, lambda: repacked((b"<SizeX>9600", b"<SizeX>500000")), "4000000 bytes"),
    ],
)
def test_what_a_file_says_it_needs_is_never_taken_before_it_is_proved(reader, data, words):
    made_of = data()
    tracemalloc.start()
    try:
        with pytest.raises(FileError, match=words):
            reader.profiles(made_of)
        most = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert most < 130_000_000  # twice what an x3p file may unpack to


def test_a_bomb_among_other_files_is_held_in_bounded_memory(shop, file, bores):
    places = [file(bomb(), "a.x3p"), file(SDF, "b.sdf"), file(bores(), "c.csv")]
    tracemalloc.start()
    try:
        done = {r.file: r for r in ingest(shop, places, by="test").files}
        most = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert done["c.csv"].status == "kept"
    assert {done[n].findings[0]["code"] for n in ("a.x3p", "b.sdf")} == {"needs_layout"}
    assert most < 130_000_000


def test_a_text_beyond_the_bounds_is_refused():
    with pytest.raises(FileError, match="at most 500000 points"):
        trace_text.profiles(b"0.5\n" + b"1\n" * 500_001, Written("spacing_first"))
    with pytest.raises(FileError, match="at most 40"):
        trace_text.profiles(b"1\n" * 20_000_001, Written("spacing_first"))
    with pytest.raises(FileError, match="at most 40"):
        trace_sdf.profiles(SDF + bytes(40_000_000))


def test_counts_are_refused_at_their_bounds_and_not_below():
    trace.counted(100_000, 20)
    trace.counted(500_000, 4)
    for points, profiles in ((500_001, 1), (100, 21), (500_000, 5), (0, 1), (1, 0)):
        with pytest.raises(FileError):
            trace.counted(points, profiles)


def test_an_x3p_and_a_workbook_are_told_apart(file):
    assert trace_x3p.claims(X3P, "a.zip")
    assert not trace_x3p.claims(made.zipped({"main.xml": b"", "[Content_Types].xml": b""}), "a.xlsx")
    assert not trace_x3p.claims(made.zipped({"a.txt": b""}), "a.x3p")


def test_integers_at_the_end_of_their_range_were_not_measured():
    body = struct.pack("<6h", 5, 32767, -32768, 7, 0, 1)
    (profile,) = trace_sdf.profiles(packed(kind=5, points=6, body=body))
    assert [v != v for v in profile.heights] == [False, True, True, False, False, False]
    body = struct.pack("<4H", 0, 65535, 3, 1)
    (profile,) = trace_sdf.profiles(packed(kind=1, points=4, body=body))
    assert [v != v for v in profile.heights] == [False, True, False, False]


@pytest.mark.parametrize("kind", range(8))
def test_every_type_of_an_sdf_file_is_read_to_the_digit(kind):
    heights = [0.003 * (i % 37) for i in range(400)]  # um, whole steps of 3 nm below 128
    (profile,) = trace_sdf.profiles(made.sdf([heights], kind, zscale=3e-9))
    assert profile.heights.tolist() == pytest.approx(heights, abs=1e-8)
    (profile,) = trace_sdf.profiles(made.sdf([heights], kind, zscale=3e-9, ascii_=True, version="aABC-1.0"))
    assert profile.heights.tolist() == pytest.approx(heights, abs=1e-6)
    assert profile.spacing == pytest.approx(0.5, abs=1e-12)
    assert profile.at == "2026-05-04T08:15"


def test_bad_points_of_a_text_sdf_file_were_not_measured():
    data = lines(TEXT_SDF, r"\n\*\n(-?\d+)\n", "\n*\nBAD\n")
    (profile,) = trace_sdf.profiles(data)
    assert [v != v for v in profile.heights[:3]] == [True, False, False]


def test_absolute_places_of_an_x3p_file_give_its_spacing():
    points = b"".join(b"<Datum>%.7e;0;%.6e</Datum>" % (i * 5e-7, v * 1e-6) for i, v in enumerate(Z))
    parts = edited(INLINE, (b"<CX><AxisType>I", b"<CX><AxisType>A"), (b"<Increment>5e-07</Increment>", b""))
    start, end = (parts["main.xml"].index(m) for m in (b"<DataList>", b"</DataList>"))
    parts["main.xml"] = parts["main.xml"][:start] + b"<DataList>" + points + parts["main.xml"][end:]
    parts["md5checksum.hex"] = hashlib.md5(parts["main.xml"]).hexdigest().encode()
    (profile,) = trace_x3p.profiles(made.zipped(parts))
    assert profile.spacing == pytest.approx(0.5, rel=1e-6)
    assert profile.heights.tolist() == pytest.approx(Z, abs=1e-5)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("[[trace]]", "[[table]]\n[[trace]]", "a layout of its own"),
        ("cutoff_mm = 0.8", "cutoff_mm = 0.7", "must be one of 0.08, 0.25, 0.8"),
        ("cutoff_mm = 0.8", 'cutoff_mm = "0.8"', "cutoff_mm must be a number"),
        ("tip_um = 2", 'rk_filter = "gauss"', "one of iso13565-1, iso16610-31"),
        ("tip_um = 2", 'figures = ["rq"]', "figures must be one of ra, rz"),
        ("tip_um = 2", "figures = []", "figures must list"),
        ("tip_um = 2", 'characteristic = "ra"', "has no key 'characteristic'"),
        ("tip_um = 2", 'x_unit = "mm"', "whose content must be said"),
        ("tip_um = 2", 'content = "y_z"', "one of spacing_first, x_z, z"),
        ("tip_um = 2", 'content = "z"', "must be said there"),
        ("tip_um = 2", 'content = "z"\nspacing = {line = 3}', "say where it stands"),
        ("tip_um = 2", 'engine = "{family}"', "which name does not have"),
        ("tip_um = 2", 'names.depth = {top = "12"}', "the part 'depth'"),
        ("{build}_{feature}", "{build}{feature}", "something must stand between"),
        ("{build}_{feature}", "{build}_{build}", "must differ"),
        ("{build}_{feature}", "{Build}_{feature}", "a word in braces"),
    ],
)
def test_what_no_trace_layout_says_is_refused(old, new, words):
    assert old in LAYOUT
    with pytest.raises(FileError, match=re.escape(words)):
        layout("t.toml", LAYOUT.replace(old, new).encode("utf-8"))
