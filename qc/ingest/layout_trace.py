"""What a profile trace is about and how it is judged, as a layout says: its `[[trace]]` tables."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import TYPE_CHECKING, Any, Final

from qc.errors import FileError
from qc.ingest.trace_text import CONTENTS, Written

if TYPE_CHECKING:
    from qc.derived.texture_profile import CoreFilter

# keys of a trace, and the columns of a readings file they fill
ITEMS: Final[Mapping[str, str]] = {
    "build": "build", "engine": "engine", "serial": "serial", "machine": "machine", "operation": "operation",
    "state": "state", "feature": "feature", "station_mm": "station_mm", "clock_deg": "clock_deg",
    "gauge": "gauge", "operator": "operator", "date": "measured_at", "pass": "pass", "trial": "trial",
    "order": "order", "material": "material", "torque": "torque", "note": "note",
}  # fmt: skip
NEEDED: Final = ("build", "machine", "operation", "state", "feature", "date", "cutoff_mm")
FIGURES: Final = ("ra", "rz", "rk", "rpk", "rvk", "mr1", "mr2", "vo")
FILTERS: Final[tuple["CoreFilter", ...]] = ("iso13565-1", "iso16610-31")
CUTOFFS_MM: Final = (0.08, 0.25, 0.8, 2.5, 8.0)
_TEXTS: Final = ("name", "content", "x_unit", "z_unit", "rk_filter")
_NUMBERS: Final = ("cutoff_mm", "short_cutoff_um", "tip_um")
_KNOWN: Final = frozenset({*ITEMS, *_TEXTS, *_NUMBERS, "names", "spacing", "figures"})
_PART = re.compile(r"\{([a-z_][a-z0-9_]*)\}")


@dataclass(frozen=True, slots=True)
class TraceLayout:
    """One kind of trace.

    items : texts by our names of columns, in which {part} stands for that part of the file's name
    name : form of the file's name, parts in braces; names : what texts of a part mean
    figures : which are kept; cutoff_mm, short_cutoff_um, tip_um : None where not said
    """

    items: Mapping[str, str]
    name: str = ""
    names: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    figures: tuple[str, ...] = FIGURES
    cutoff_mm: float | None = None
    short_cutoff_um: float | None = None
    tip_um: float | None = None
    rk_filter: "CoreFilter" = FILTERS[0]
    written: Written | None = None

    def parts(self, file: str) -> dict[str, str] | None:
        """Parts of a file's name by this form, None where the name is not of this form.

        A part ends where the character begins that follows it in the form, so that no name can be cut in
        two ways.
        """
        if not self.name:
            return {}
        last = file.rpartition("/")[2]
        for whole in (last.rpartition(".")[0] or last, last):
            found = re.fullmatch(_pattern(self.name), whole, re.IGNORECASE)
            if found is not None:
                return found.groupdict()
        return None

    def told(self, file: str) -> dict[str, str]:
        """Texts by our names of columns for a file whose name is of this form."""
        parts = {
            k: self.names.get(k, {}).get(v.casefold(), v) for k, v in (self.parts(file) or {}).items()
        }
        found = {ITEMS[k]: v for k, v in parts.items() if k in ITEMS}
        return found | {ITEMS[k]: _PART.sub(lambda m: parts[m[1]], text) for k, text in self.items.items()}

    def missing(self, file: str, dated: bool) -> tuple[str, ...]:
        """Keys without which its figures have no meaning; `dated` where the file itself tells the time."""
        told = self.told(file)
        said = {k for k, column in ITEMS.items() if told.get(column)}
        said |= {"date"} if dated else set()
        said |= {"cutoff_mm"} if self.cutoff_mm is not None else set()
        return tuple(k for k in NEEDED if k not in said)


def _pattern(form: str) -> str:
    pieces = _PART.split(form)
    found = re.escape(pieces[0])
    for part, after in zip(pieces[1::2], pieces[2::2], strict=True):
        found += f"(?P<{part}>[^{re.escape(after[0])}/]+)" if after else f"(?P<{part}>.+)"
        found += re.escape(after)
    return found


def trace(told: Mapping[str, Any]) -> TraceLayout:
    """The layout that a `[[trace]]` table holds.

    Raises
    ------
    FileError
        When it says what no such table says.
    """
    strange = [k for k in told if k not in _KNOWN]
    if strange:
        raise FileError(f"a trace has no key {strange[0]!r}: it knows {', '.join(sorted(_KNOWN))}")
    texts = {k: _text(told[k], k) for k in _TEXTS if k in told}
    numbers = {k: _number(told[k], k) for k in _NUMBERS if k in told}
    items = {k: _text(told[k], k) for k in ITEMS if k in told}
    form = texts.get("name", "")
    named = _refuse_unclear(form, items)
    names = {k: _meanings(v, k, named) for k, v in _table(told.get("names", {}), "names").items()}
    if "cutoff_mm" in numbers and numbers["cutoff_mm"] not in CUTOFFS_MM:
        raise FileError(f"cutoff_mm must be one of {', '.join(f'{c:g}' for c in CUTOFFS_MM)}")
    return TraceLayout(
        items, form, names, _figures(told.get("figures", list(FIGURES))), **numbers,
        rk_filter=_one_of(texts.get("rk_filter", FILTERS[0]), "rk_filter", FILTERS),
        written=_written(texts, told.get("spacing")),
    )  # fmt: skip


def _refuse_unclear(form: str, items: Mapping[str, str]) -> set[str]:
    """Names of the parts of a form; refuses one that can be cut in two ways, and parts it does not have."""
    pieces = _PART.split(form)
    parts = pieces[1::2]
    if len(set(parts)) < len(parts) or any(not p for p in pieces[2:-1:2]):
        raise FileError(
            "the parts of name must differ and something must stand between them: "
            'name = "{build}_{feature}_{station_mm}"'
        )
    if re.search(r"[{}]", _PART.sub("", form)):
        raise FileError("a part of name is a word in braces, without capitals: {build}, {part_2}")
    for key, text in items.items():
        unknown = [p for p in _PART.findall(text) if p not in parts]
        if unknown:
            raise FileError(f"{key} names the part {{{unknown[0]}}}, which name does not have")
    return set(parts)


def _text(told: Any, key: str) -> str:
    if isinstance(told, datetime | date):
        return told.isoformat()
    if isinstance(told, bool) or not isinstance(told, str | int | float):
        raise FileError(f'{key} must be a text: {key} = "..."')
    return str(told).strip()


def _number(told: Any, key: str) -> float:
    if isinstance(told, bool) or not isinstance(told, int | float) or not 0 <= told < 1000:
        raise FileError(f"{key} must be a number: {key} = 0.8")
    return float(told)


def _table(told: Any, key: str) -> Mapping[str, Any]:
    if not isinstance(told, dict):
        raise FileError(f'{key} must say what texts of a part mean: {key}.station_mm = {{top = "12"}}')
    return told


def _meanings(told: Any, part: str, parts: set[str]) -> dict[str, str]:
    if part not in parts:
        raise FileError(f"names speaks of the part {part!r}, which name does not have")
    return {str(k).casefold(): _text(v, part) for k, v in _table(told, "names").items()}


def _one_of(text: str, key: str, known: Sequence[str]) -> Any:
    if text not in known:
        raise FileError(f"{key} must be one of {', '.join(known)}")
    return text


def _figures(told: Any) -> tuple[str, ...]:
    if not isinstance(told, list) or not told or not all(isinstance(k, str) for k in told):
        raise FileError('figures must list what is kept: figures = ["ra", "rz"]')
    return tuple(dict.fromkeys(_one_of(k, "figures", FIGURES) for k in told))


def _written(texts: Mapping[str, str], spacing: Any) -> Written | None:
    """What a text file holds, None where the layout is for SDF and x3p alone."""
    if "content" not in texts:
        extra = next((k for k in ("x_unit", "z_unit") if k in texts), "spacing" if spacing else "")
        if extra:
            raise FileError(f'{extra} is for text files, whose content must be said: content = "x_z"')
        return None
    content = _one_of(texts["content"], "content", CONTENTS)
    if (content == "z") != (spacing is not None):
        raise FileError('spacing goes with content = "z", and must be said there: spacing = "0.5 um"')
    after = ""
    if isinstance(spacing, dict):
        if set(spacing) != {"after"}:
            raise FileError('spacing must be a text, or say where it stands: spacing = {after = "dx ="}')
        after, spacing = str(spacing["after"]), ""
    return Written(content, texts.get("x_unit", ""), texts.get("z_unit", ""), str(spacing or ""), after)
