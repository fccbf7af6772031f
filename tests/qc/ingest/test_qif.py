"""Results in QIF: what becomes a reading, what waits, and files that mean harm."""

import shutil

import pytest

from qc.errors import FileError
from qc.ingest import qif, qif_tree
from qc.ingest.run import ingest
from qc.records import Asked
from qc.store import Store
from tests.generate import qif as made

UM = 100_000
SIZE = {"feature": "main-1", "value": "64.006", "target": "64", "plus": "0.010", "minus": "-0.010"}


@pytest.fixture
def taken(tmp_path, empty_store):
    """Takes a document in; the result and the store's readings."""
    with Store.open(shutil.copy(empty_store, tmp_path / "shop.db")) as store:

        def took(text, layout=None):
            if layout is not None:
                (tmp_path / "layouts").mkdir()
                (tmp_path / "layouts" / "cmm.toml").write_text(layout, encoding="utf-8")
            data = text if isinstance(text, bytes) else text.encode()
            (tmp_path / "results.qif").write_bytes(data)
            result = ingest(store, [tmp_path / "results.qif"], by="test").files[0]
            return result, store.readings(Asked())

        yield took


def grid(*measured, **more):
    (one,) = qif.cells(made.document(measured, **more).encode())
    heads = one.rows[0][1]
    return [dict(zip(heads, cells, strict=True)) for _, cells in one.rows[1:]]


def test_sizes_of_mains_bores_and_rods_become_readings_with_all_that_the_document_tells(taken):
    bores = [SIZE | {"feature": "CYL 3", "value": "86.002", "target": "86"},
             SIZE | {"feature": "rod-2", "value": "51.004", "target": "51"}]  # fmt: skip
    result, kept = taken(made.document([SIZE, *bores]))
    assert (result.kept, result.held) == (3, 0)
    kept = kept.sort_values("value")
    assert list(kept["characteristic"]) == ["rod_bore_diameter", "tunnel_diameter", "bore_diameter"]
    assert list(kept["feature"]) == ["rod-2", "main-1", "cyl-3"]
    assert list(kept["value"]) == [51_004 * UM, 64_006 * UM, 86_002 * UM]
    assert list(kept["target"]) == [51_000 * UM, 64_000 * UM, 86_000 * UM]
    assert list(kept["lower"]) == [50_990 * UM, 63_990 * UM, 85_990 * UM]
    one = kept.iloc[1]
    assert (one["method"], one["build"], one["machine"], one["operation"], one["state"]) == (
        "fitted", "Q-1", "line-hone-1", "line_hone", "caps_torqued"
    )  # fmt: skip
    assert (one["serial"], one["gauge"], one["text"]) == ("S-77", "cmm-1", "64.006")
    # 11 May 2026, 09:30 UTC
    assert one["measured_at"] == 1_778_491_800_000_000


def test_inches_limits_as_sizes_and_a_unit_beside_one_figure():
    inch, mm = grid(
        {"feature": "main-1", "value": "2.5199", "target": "2.5197", "plus": "2.5201", "minus": "2.5193",
         "as_limit": "true"},
        SIZE | {"unit": "mm"}, unit="inch",
    )  # fmt: skip
    told = [inch[head] for head in ("unit", "nominal", "tol+", "tol-")]
    assert told == ["in", "2.5197", "0.0004", "-0.0004"]
    assert mm["unit"] == "mm"


def test_a_unit_beside_the_primary_one_is_that_of_figures_that_name_it_alone():
    text = made.document([SIZE, SIZE | {"unit": "mm"}]).replace("PrimaryUnits>", "OtherUnits>")
    (one,) = qif.cells(text.encode())
    column = one.rows[0][1].index("unit")
    assert [row[column] for _, row in one.rows[1:]] == ["", "mm"]


@pytest.mark.parametrize(
    ("value", "more", "text"),
    [
        ("35.011000000000001", {}, "35.011"),
        ("10", {"places": "3"}, "10.000"),
        ("3.1499999999998", {"places": "2"}, "3.15"),  # the schema's own example (Units.xsd)
        ("see note", {}, "see note"),
        ("1" + "0" * 60 + ".5", {"places": "4"}, "1" + "0" * 60 + ".5"),
    ],
)
def test_a_figure_has_the_decimals_it_was_written_with(value, more, text):
    (one,) = grid(SIZE | {"value": value, **more})
    assert one["actual"] == text


def test_without_units_machine_or_build_the_document_waits_for_a_layout(taken):
    result, kept = taken(made.document([SIZE], unit="", setup={}))
    assert len(kept) == 0
    (said,) = [f for f in result.findings if f["severity"] == "stop"]
    assert "build, machine, operation, state, unit" in said["doubt"] + said["saw"]


def test_a_layout_says_what_the_document_does_not(taken):
    told = made.SETUP | {"unit": "mm"}
    layout = 'file = ["*.qif"]\n[[centres]]\n' + "".join(f'{k} = "{v}"\n' for k, v in told.items())
    layout += 'features = {"BORE A" = "cyl-1"}\naxes = {Flatness = "-"}\n'
    flat = {"feature": "BORE A", "kind": "Flatness", "value": "0.004"}
    sized = SIZE | {"feature": "BORE A", "value": "86.004", "target": "86"}
    result, kept = taken(made.document([sized, flat], unit="", setup={}), layout)
    assert (result.kept, result.held) == (1, 0)
    assert (kept["feature"][0], kept["value"][0]) == ("cyl-1", 86_004 * UM)


def test_heights_of_mains_become_centres(taken):
    lines = [
        {"kind": "LinearCoordinate", "feature": f"main-{n}", "name": f"MB{n} {axis}", "value": value,
         "target": target}
        for n in (1, 2) for axis, value, target in (("X", f"{n}00.001", f"{n}00"), ("Z", "0.004", "0"))
    ]  # fmt: skip
    layout = 'file = ["*.qif"]\n[[centres]]\naxes = {X = "along", Z = "vertical"}\n'
    result, kept = taken(made.document(lines), layout)
    assert (result.kept, result.held) == (2, 0)
    assert set(zip(kept["characteristic"], kept["method"], strict=True)) == {("tunnel_centre", "vertical")}
    assert list(kept["station"]) == [100_000 * UM, 200_000 * UM]
    assert list(kept["value"]) == [4 * UM, 4 * UM]


def test_what_another_document_holds_and_what_fails_within_its_limits_waits(taken):
    away = SIZE | {"elsewhere": ' xId="12"'}
    wrong = SIZE | {"feature": "main-2", "status": "FAIL"}
    result, kept = taken(made.document([SIZE | {"feature": "main-3"}, away, wrong]))
    assert list(kept["feature"]) == ["main-3"]
    assert {f["code"] for f in result.findings if f["severity"] == "stop"} >= {"out_contradicts"}
    unnamed = [f for f in result.findings if f["code"] != "out_contradicts" and f["severity"] != "note"]
    assert len(unnamed) == 1, "the one whose item stands in another document has no feature"


def test_a_figure_that_was_not_measured_is_no_reading(taken):
    blank = {k: v for k, v in SIZE.items() if k != "value"} | {"feature": "main-2", "status": "NOT_MEASURED"}
    result, kept = taken(made.document([SIZE, blank]))
    assert list(kept["feature"]) == ["main-1"]
    assert any(f["code"] == "not_measured" for f in result.findings)


def test_the_same_document_in_other_encodings_and_prefixes_says_the_same():
    plain = made.document([SIZE])
    wide = plain.replace("UTF-8", "UTF-16").encode("utf-16")
    assert qif.claims(wide, "x")
    assert qif.cells(wide) == qif.cells(plain.encode())
    prefixed = plain.replace("<", "<q:").replace("<q:/", "</q:").replace("<q:?", "<?")
    prefixed = prefixed.replace("xmlns=", "xmlns:q=")
    assert qif.cells(prefixed.encode()) == qif.cells(plain.encode())


ENTITIES = "".join(
    f'<!ENTITY {b} "{f"&{a};" * 10}">' for a, b in zip("abcdefgh", "bcdefghi", strict=True)
)
ENTITIES = f'<!DOCTYPE q [<!ENTITY a "0123456789">{ENTITIES}]>'
DEEP = made.document([SIZE]).replace("<Results>", "<Results>" + "<a>" * 5000 + "</a>" * 5000)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (made.document([SIZE], before=ENTITIES), "document type or entities"),
        (made.document([SIZE], before='<!DOCTYPE q SYSTEM "file:///etc/passwd">'), "document type"),
        (DEEP, "nested too deeply"),
        (made.document([SIZE])[:-400], "damaged"),
        (made.document([SIZE], space="http://qifstandards.org/xsd/qif2"), "export it as QIF 3"),
        (made.document([SIZE]).replace("CharacteristicMeasurement ", "Note "), "damaged"),
        (made.document([]), "no measured characteristic"),
        (made.document([SIZE], factor="0.0254"), "one of them is wrong"),
        (made.document([SIZE | {"feature": "x" * 20_000}]), None),
    ],
)  # fmt: skip
def test_a_document_that_cannot_be_read_says_why_in_one_sentence(text, told):
    if told is None:
        (one,) = qif.cells(text.encode())
        assert "a text of 20000 characters" in one.rows[1][1]
        return
    with pytest.raises(FileError, match=told):
        qif.cells(text.encode())


def test_huge_documents_are_refused_before_they_are_whole(monkeypatch):
    monkeypatch.setattr(qif_tree, "MOST_ELEMENTS", 30_000)
    monkeypatch.setattr(qif_tree, "MOST_KEPT", 3_000)
    for where, told in (("<Results>", "of results"), ("<Features>", "of results"), ("<Product>", "alone")):
        more = f"{where}{'<a/>' * 50_000}{where.replace('<', '</')}"
        text = made.document([SIZE]).replace("<Results>", f"{more}<Results>")
        with pytest.raises(FileError, match=told):
            qif.cells(text.encode())
