"""A drafted layout as TOML for a person to complete: what is not proved is commented out."""

from collections.abc import Sequence
from typing import Final

from qc.ingest import draft
from qc.ingest.addresses import Cells
from qc.ingest.cellwise import letters
from qc.ingest.draft import Draft
from qc.ingest.layout import NEEDED, Layout, layout

_ASKED: Final = {
    "build": "which engine: a text, {cell = \"B2\"}, {tab = true} or {file = true}",
    "machine": "which machine made it", "operation": "at which operation",
    "characteristic": "what was measured, as qc template readings lists it",
    "state": "how it was held when measured: plate_on, caps_torqued, free, ...",
    "reading": "size, or deviation from the target", "unit": "mm, um, in, thou, tenth, uin, ...",
    "date": "when it was measured: {cell = \"H2\"}", "stations": "at which depths its rows were measured",
    "features": "which holes or journals its columns are",
}  # fmt: skip
_FORM: Final = {
    "features": '{cells = "C5:J5"}', "stations": '{cells = "B6:B11", unit = "mm"}',
    "directions": '{cells = "C6:C11", names = {A = "90", B = "0"}}',
}  # fmt: skip
_ALSO: Final = ("engine", "serial", "gauge", "operator")


def text(cells: Cells, name: str, drafts: Sequence[Draft], tab: str | None = None) -> str:
    """The TOML of a first layout for a tab.

    Parameters
    ----------
    name : str
        The file's name, or a pattern for such names.
    tab : str, optional
        The tab it is for; without it any that has the same texts.
    """
    lines = [
        "# What the cells of such a sheet mean. Lines behind # are not said yet: complete them, then take",
        "# the # away.",
        f"file = [{quoted(name)}]",
    ]
    if tab:
        lines.append(f"tab = [{quoted(tab)}]")
    lines += ["", "[text]  # stands in these cells, so that no other sheet is taken for it"]
    lines += [f"{address} = {quoted(t)}" for address, t in _anchors(cells, drafts)]
    for one in drafts:
        lines += ["", "[[table]]", f'values = "{one.values.text}"', *_table(one)]
    return "\n".join(lines) + "\n"


def quoted(text: str) -> str:
    """A text as TOML writes it."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n").replace("\t", "\\t")
    return f'"{escaped}"'


def _anchors(cells: Cells, drafts: Sequence[Draft]) -> list[tuple[str, str]]:
    found = []
    first = 1
    for one in drafts:
        # were these to change, the same figures would mean something else
        above = [x for x in cells.filled() if first <= x[0] < one.values.top]
        found += [(f"{letters(c)}{r}", t) for r, c, t in above if draft.tells_meaning(t)]
        first = one.values.bottom + 1
        header = one.values.top - 1
        for row in range(header, max(header - 3, 0), -1):
            named = [
                (f"{letters(c)}{r}", t)
                for r, c, t in cells.filled_row(row)
                if one.values.left <= c <= one.values.right or c == one.values.left - 1
            ]
            if draft.named(cells, row):
                found += named[:2]
                break
    return list(dict.fromkeys(found))


def _table(one: Draft) -> list[str]:
    lines = []
    for key in (*NEEDED, "features", "stations", "directions", "target", *_ALSO):
        doubt, said = one.doubtful.get(key), one.said.get(key)
        if said is not None and doubt is None:
            lines.append(f"{key} = {said}")
        elif doubt is not None:
            lines.append(f"# {key} = {said or _FORM.get(key, chr(34) * 2)}  # {doubt}")
        elif key in _ASKED:
            lines.append(f"# {key} = {_FORM.get(key, chr(34) * 2)}  # {_ASKED[key]}")
    return lines


def missing(one: Draft) -> list[str]:
    """What cannot be proved from the file: each with the key of a layout that says it."""
    absent = [k for k in _ASKED if k not in one.said and k not in one.doubtful]
    said = [f"its {', '.join(absent)}"] if absent else []
    return said + [f"{doubt} ({key})" for key, doubt in one.doubtful.items()]


def proved(cells: Cells, name: str, drafts: Sequence[Draft]) -> Layout | None:
    """The layout that a tab proves by itself, None where anything is left to be said."""
    if any(missing(one) for one in drafts):
        return None
    return layout("the tab's own headings", text(cells, name, drafts).encode("utf-8"))
