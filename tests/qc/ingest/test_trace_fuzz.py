"""Whatever bytes come: a reader of traces hands on profiles or one sentence, and nothing else."""

import io
import random
import zipfile
import zlib

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from qc.errors import FileError
from qc.ingest import trace, trace_sdf, trace_text, trace_x3p, traces
from qc.ingest.layout import layout
from qc.ingest.line import Shop
from qc.ingest.trace_text import Written
from tests.generate import traces as made

DRAW = random.Random(12)
Z = made.heights(made.curve(DRAW), 400, DRAW)
SEEDS = {
    "sdf": [made.sdf([Z], k, zscale=2e-8) for k in range(3, 8)] + [made.sdf([Z[:50]] * 3, 6, ascii_=True)],
    "x3p": [made.x3p(Z), made.x3p(Z[:60], inline=True), made.x3p(Z, data_type="I", mask=True)],
    "text": [
        made.spacing_first(Z), made.columns(Z[:200], "x [mm]\tz [um]\n", 1000.0), made.columns(Z, mark=","),
    ],
}  # fmt: skip
WRITTEN = (
    Written("spacing_first"), Written("x_z", "um", "um"), Written("x_z"), Written("z", "", "um", "0.5 um"),
    Written("z", "", "um", "", "x"),
)  # fmt: skip
READERS = {
    "sdf": lambda data: trace_sdf.profiles(data),
    "x3p": lambda data: trace_x3p.profiles(data),
    "text": lambda data: [p for w in WRITTEN for p in _or_none(lambda w=w: trace_text.profiles(data, w))],
}
LAYOUT = layout("t.toml", made.layout("columns_bare").replace('"T-*_columns-bare.xz"', '"*"').encode("utf-8"))
PIECES = st.sampled_from([
    b"", b"\n", b";", b"\t", b"*", b"nan", b"1e400", b"-", b"0,5", b"\x00", b"\xff\xfe", b"9" * 12, b"<",
    b"&a;", b"</Record3>", b"<Datum>", b"NumPoints = 3\n", b"Xscale = 1e-6\n", b"\r\n\r\n", "µ".encode(),
    b"1_0", b"inf",
])  # fmt: skip


def _said(fault, instead):
    words = str(fault)
    assert len(words) > 20
    assert "\n" not in words
    assert len(words) < 400
    return instead


def _or_none(read):
    try:
        return read()
    except FileError as fault:
        return _said(fault, [])


def _checked(profiles):
    assert profiles == [] or len(profiles) <= trace.MOST_PROFILES
    for profile in profiles:
        assert profile.heights.ndim == 1
        assert profile.heights.dtype == np.float64
        assert not np.isinf(profile.heights).any()
        for whole in [w for w in [_whole(profile)] if w is not None]:
            assert np.isfinite(whole.heights).all()


def _whole(profile):
    try:
        return trace.whole(profile, "it")
    except FileError as fault:
        return _said(fault, None)


@st.composite
def spoilt(draw, kind):
    """A file of a kind with pieces put in, bytes changed, or cut off."""
    data = draw(st.sampled_from(SEEDS[kind]))
    for _ in range(draw(st.integers(0, 4))):
        at = draw(st.integers(0, min(len(data), draw(st.sampled_from([90, 600, 100_000])))))
        width = draw(st.sampled_from([0, 1, 2, 8, 60]))
        data = data[:at] + draw(PIECES | st.binary(max_size=8)) + data[at + width :]
    return data[: draw(st.integers(0, len(data)))] if draw(st.booleans()) else data


@st.composite
def spoilt_xml(draw):
    """An x3p file whose checksum fits a main.xml that was changed."""
    places = ["<SizeX>", "<Increment>", "<DataType>", "<AxisType>", "<FeatureType>", "<Datum>"]
    text = draw(st.sampled_from(places))
    parts = dict(MAIN)
    xml = parts["main.xml"].replace(text.encode(), text.encode() + draw(PIECES), draw(st.integers(1, 3)))
    for _ in range(draw(st.integers(0, 2))):
        at = draw(st.integers(0, len(xml)))
        xml = xml[:at] + draw(PIECES) + xml[at + draw(st.integers(0, 9)) :]
    parts["main.xml"] = xml
    parts["md5checksum.hex"] = trace_x3p._md5(xml).encode()  # the sum itself is tested elsewhere
    return made.zipped(parts)


def _parts(data):
    with zipfile.ZipFile(io.BytesIO(data)) as book:
        return {name: book.read(name) for name in book.namelist()}


MAIN = _parts(made.x3p(Z[:30], inline=True))
QUIET = settings(max_examples=200, deadline=None, suppress_health_check=list(HealthCheck))


@pytest.mark.parametrize("kind", sorted(SEEDS))
def test_the_unspoilt_files_are_read(kind):
    for data in SEEDS[kind]:
        assert READERS[kind](data)


@QUIET
@given(spoilt("sdf"))
def test_a_spoilt_sdf_file_is_read_or_refused(data):
    _checked(_or_none(lambda: READERS["sdf"](data)))


@QUIET
@given(spoilt("x3p"))
def test_a_spoilt_x3p_file_is_read_or_refused(data):
    _checked(_or_none(lambda: READERS["x3p"](data)))


@QUIET
@given(spoilt_xml())
def test_a_changed_main_xml_is_read_or_refused(data):
    _checked(_or_none(lambda: READERS["x3p"](data)))


@QUIET
@given(spoilt("text"))
def test_a_spoilt_text_is_read_or_refused(data):
    _checked(_or_none(lambda: READERS["text"](data)))


@QUIET
@given(st.one_of(st.binary(max_size=400), spoilt("sdf"), spoilt("x3p"), spoilt("text")))
def test_any_bytes_are_told_apart_and_read_or_refused(data):
    name = f"T-1_cyl-3_60_2026-05-04_{zlib.crc32(data)}.txt"
    for shelf in ((), (LAYOUT,)):
        read = _or_none(lambda shelf=shelf: traces.read(data, name, Shop(), "0" * 64, shelf))
        assert read in ([], None) or read.any
