"""Files that mean harm or are broken, each with what may become of it; made anew, nothing of them is kept.

`python -m tests.generate.hostile FOLDER` writes them out to look at.
"""

import io
import json
import sys
import zipfile
from collections.abc import Callable
from pathlib import Path

from tests.generate import qif

QIF = {"feature": "main-1", "value": "64.006", "target": "64"}
HEADER = "build,machine,operation,characteristic,feature,value,unit,measured_at,note\n"
ROW = "B-1,hone-1,hone,bore_diameter,cyl-{n},96.{n:03d},mm,2026-04-03,\n"
NAMES = {
    "[Content_Types].xml": '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"/>',
    "xl/workbook.xml": '<workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" '
    'xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"><sheets>'
    '<sheet name="One" sheetId="1" r:id="rId1"/></sheets></workbook>',
    "xl/_rels/workbook.xml.rels": '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/'
    'relationships"><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/'
    'relationships/worksheet" Target="worksheets/sheet1.xml"/></Relationships>',
}
SHEET = '<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>{}</sheetData></worksheet>'


def packed(sheet: bytes | str, more: dict[str, bytes | str] | None = None) -> bytes:
    """A workbook of one sheet whose XML is given."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as book:
        for name, part in {**NAMES, "xl/worksheets/sheet1.xml": sheet, **(more or {})}.items():
            book.writestr(name, part)
    return out.getvalue()


def plain() -> bytes:
    return (HEADER + "".join(ROW.format(n=n) for n in range(1, 9))).encode()


def _entities() -> bytes:
    levels = "".join(f'<!ENTITY e{n} "{f"&e{n - 1};" * 10}">' for n in range(1, 12))
    sheet = SHEET.format("<row><c><v>&e11;</v></c></row>")
    return packed(f'<!DOCTYPE w [<!ENTITY e0 "0123456789">{levels}]>' + sheet)


def _cells() -> bytes:
    """One row without an address on any of its many millions of cells."""
    return packed(SHEET.format("<row>" + "<c/>" * 6_000_000 + "</row>"))


def _far() -> bytes:
    cells = '<row r="1"><c r="A1"><v>1</v></c></row><row r="1048576"><c r="XFD1048576"><v>1</v></c></row>'
    return packed(SHEET.format(cells))


def _nested() -> bytes:
    inner = packed(SHEET.format("<row/>"))
    return packed(SHEET.format("<row/>"), {f"xl/media/{n}.xlsx": inner for n in range(3000)})


def _overlapping() -> bytes:
    """A packed file whose list says that each part is smaller than it is."""
    data = bytearray(packed(SHEET.format(" " * 60_000_000)))
    at = data.rfind(b"PK\x01\x02")  # of its last part, the sheet
    data[at + 24 : at + 28] = (1000).to_bytes(4, "little")
    return bytes(data)


MADE: dict[str, Callable[[], bytes]] = {
    "empty.csv": lambda: b"",
    "blank.csv": lambda: b"\n \n\t\n" * 10,
    "empty.xlsx": lambda: b"",
    "noughts.csv": lambda: b"\x00" * 100_000,
    "nul in text.csv": lambda: plain().replace(b"hone-1", b"ho\x00ne", 1),
    "ten thousand columns.csv": lambda: (",".join(f"c{n}" for n in range(10_000)) + "\n").encode() * 20,
    "ten thousand keys.jsonl": lambda: (json.dumps({f"k{n}": n for n in range(10_000)}) + "\n").encode() * 20,
    "one long cell.csv": lambda: HEADER.encode() + b"B-1," + b"9" * 1_000_000 + b",x\n",
    "one long line.csv": lambda: HEADER.encode() + b"1," * 500_000 + b"\n",
    "one long quote.csv": lambda: HEADER.encode() + b'"' + b"a,b\n" * 300_000,
    "one long line of blanks.txt": lambda: b"Feature  Axis  Nominal  Actual\n" + b" " * 1_000_000 + b"x\n",
    "tabs.txt": lambda: b"Feature\tAxis\tNominal\tActual\n" + b"\t" * 1_000_000,
    "all digits.csv": lambda: (
        HEADER.encode() + b"B-1,h,hone,bore_diameter,cyl-1," + b"9" * 9_000 + b",mm,2026-04-03,\n"
    ),
    "many small cells.csv": lambda: b"1,1,1,1,1,1,1,1\n" * 800_000,
    "many lines.csv": lambda: HEADER.encode() + b"x\n" * 1_500_000,
    "deep.jsonl": lambda: b'{"a":' * 100_000 + b"1" + b"}" * 100_000,
    "wide number.jsonl": lambda: b'{"value": ' + b"1" * 500_000 + b"}\n",
    "entities.xlsx": _entities,
    "entities.x3p": lambda: packed("<w/>", {"main.xml": _doctype()}),
    "bomb of blanks.xlsx": lambda: packed(SHEET.format(" " * 205_000_000)),
    "bomb of cells.xlsx": _cells,
    "bomb that lies.xlsx": _overlapping,
    "bomb of text.xlsx": lambda: packed(
        SHEET.format('<row r="1"><c r="A1" t="s"><v>0</v></c></row>'),
        {"xl/sharedStrings.xml": "<sst><si><t>" + "a" * 205_000_000 + "</t></si></sst>"},
    ),
    "last cell far away.xlsx": _far,
    "many parts.xlsx": _nested,
    "cut.xlsx": lambda: packed(SHEET.format("<row><c><v>1</v></c></row>"))[:-200],
    "cut sheet.xlsx": lambda: packed("<worksheet><sheetData><row><c>"),
    "no sheet.xlsx": lambda: packed("x", {"xl/workbook.xml": "<workbook/>"}),
    "climbing.xlsx": lambda: packed(
        SHEET.format("<row/>"),
        {"xl/_rels/workbook.xml.rels": '<Relationships><Relationship Id="rId1" Target="../../../etc/passwd"/>'
         "</Relationships>"},
    ),
    "cut in a number.csv": lambda: (
        b"measured_at,build,machine,operation,characteristic,feature,unit,value\n"
        + b"".join(
            b"2026-04-03,B-9,hone-1,hone,bore_diameter,cyl-%d,mm,96.01%d\n" % (n, n) for n in range(1, 8)
        )
        + b"2026-04-03,B-9,hone-1,hone,bore_diameter,cyl-8,mm,96.0"
    ),
    "picture.csv": lambda: b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 50,
    "half utf-16.csv": lambda: plain().decode().encode("utf-16")[:-1],
    "results.qif": lambda: b'<?xml version="1.0"?><QIFDocument/>',
    "entities.qif": lambda: qif.document([QIF], before='<!DOCTYPE q [<!ENTITY a "b">]>').encode(),
    "deep.qif": lambda: qif.document([QIF]).replace("<Results>", "<Results>" + "<a>" * 2_000_000).encode(),
    "many.qif": lambda: qif.document([QIF] * 40_000).encode(),
    "cut.parquet": lambda: b"PAR1" + b"\x15\x04" * 500 + b"PAR1",
    "stray quote.csv": lambda: plain().replace(b"hone-1", b'ho"ne', 1).replace(b"B-1", b'"B-1', 1),
}  # fmt: skip


def _doctype() -> str:
    return '<!DOCTYPE p [<!ENTITY a "1234567890"><!ENTITY b "&a;&a;&a;&a;&a;">]><p>&b;</p>'


def files(folder: Path) -> list[Path]:
    """Write every file; their places."""
    for name, make in MADE.items():
        (folder / name).write_bytes(make())
    return [folder / name for name in MADE]


if __name__ == "__main__":
    for place in files(Path(sys.argv[1])):
        print(place.name, place.stat().st_size)
