"""The kinds of file we read, told by their header, and the columns of each."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from functools import lru_cache
from types import MappingProxyType
from typing import Final


@dataclass(frozen=True, slots=True)
class FileKind:
    """One kind of file.

    required : columns that must stand in the header and be filled (`needs_one`: at least one of each group)
    optional : columns that may stand there; never : columns that make it another kind
    says : one line for people
    """

    key: str
    required: tuple[str, ...]
    optional: tuple[str, ...]
    says: str
    needs_one: tuple[tuple[str, ...], ...] = ()
    never: frozenset[str] = frozenset()

    @property
    def columns(self) -> tuple[str, ...]:
        """Every column, the required ones first."""
        return self.required + self.optional


_ENTRIES: Final = (
    FileKind(
        "builds",
        ("build",),
        ("engine", "serial", "material", "received_on", "shipped_on", "note"),
        "engines going through the shop, one a row",
        needs_one=(("engine", "serial", "material", "received_on", "shipped_on"),),
        never=frozenset({"characteristic", "event", "value", "machine", "operation", "measured_at", "gauge"}),
    ),
    FileKind(
        "machines",
        ("machine",),
        ("kind", "since", "note"),
        "machines of the shop, one a row",
        needs_one=(("kind", "since"),),
        never=frozenset({"characteristic", "event", "value", "build", "measured_at", "at"}),
    ),
    FileKind(
        "gauges",
        ("gauge",),
        ("kind", "resolution", "standard_uncertainty", "common_part", "unit", "calibrated_on", "due_on",
         "master",
         "value", "correction", "certificate"),
        "the history of gauges and masters, several rows a gauge",
        needs_one=(("kind", "resolution", "standard_uncertainty", "common_part", "calibrated_on", "due_on",
                    "correction", "certificate"),),
        never=frozenset({"characteristic", "event", "measured_at", "build"}),
    ),
    FileKind(
        "specifications",
        ("characteristic", "unit"),
        ("build", "engine", "operation", "feature", "station_mm", "clock_deg", "state", "reading", "lower",
         "target",
         "upper", "since", "revision", "source"),
        "limits and targets, one a row; a row with a build is that build's plan",
        needs_one=(("lower", "upper", "target"),),
        never=frozenset({"value", "measured_at", "machine"}),
    ),
    FileKind(
        "measuring_plan",
        ("characteristic",),
        ("engine", "feature", "station_mm", "clock_deg", "state", "since", "revision"),
        "the positions of a complete measurement, one a row",
        needs_one=(("feature", "station_mm", "clock_deg"),),
        never=frozenset({"value", "measured_at", "machine", "unit", "lower", "upper", "target"}),
    ),
    FileKind(
        "events",
        ("at", "event"),
        ("machine", "gauge", "operation", "note"),
        "what happened to machines and gauges, one event a row",
        needs_one=(("machine", "gauge"),),
    ),
    FileKind(
        "readings",
        ("build", "machine", "operation", "characteristic", "feature", "value", "unit", "measured_at"),
        ("engine", "serial", "state", "method", "station_mm", "clock_deg", "reading", "target", "lower",
         "upper",
         "gauge", "operator", "made_at", "order", "trial", "pass", "sized_with", "master", "torque",
         "material",
         "part_c", "gauge_c", "note"),
        "readings, one a row",
    ),
)  # fmt: skip
KINDS: Final[Mapping[str, FileKind]] = MappingProxyType({k.key: k for k in _ENTRIES})


def folded(name: str) -> str:
    """A header's or key's letters without case, spaces, dashes and underscores."""
    return "".join(c for c in name.casefold() if c not in "-_\N{HYPHEN}\N{EN DASH}" and not c.isspace())


_COLUMNS: Final = {folded(column): column for kind in _ENTRIES for column in kind.columns}


@lru_cache(maxsize=4096)
def canonical(header: str) -> str | None:
    """Our name of a column as written in a header, None for one we do not know."""
    return _COLUMNS.get(folded(header))


def _fits(kind: FileKind, present: frozenset[str]) -> bool:
    return (
        present.issuperset(kind.required)
        and all(present.intersection(group) for group in kind.needs_one)
        and not present & kind.never
    )


def kind_of(header: Iterable[str]) -> str | None:
    """Kind of the file that has this header, None when it is none of ours."""
    present = frozenset(c for c in map(canonical, header) if c is not None)
    fitting = [k for k in _ENTRIES if _fits(k, present)]
    return max(fitting, key=lambda k: len(present & set(k.columns))).key if fitting else None


def likeness(header: Iterable[str]) -> int:
    """How many cells of a row are names of columns we know."""
    return len({c for c in map(canonical, header) if c is not None})


def _missing(kind: FileKind, present: frozenset[str]) -> list[str]:
    groups = [" or ".join(g) for g in kind.needs_one if not present.intersection(g)]
    return [c for c in kind.required if c not in present] + groups


def missing_sentence(header: Sequence[str]) -> str | None:
    """Say which columns a header lacks to be the kind it looks most like; None when it looks like none.

    The sentence names the columns found and, for each missing one, the unknown column that looks most like
    it.
    """
    present = frozenset(c for c in map(canonical, header) if c is not None)

    def nearness(kind: FileKind) -> tuple[float, int]:
        share = len(present & set(kind.required)) / len(kind.required)
        return share - bool(present & kind.never), len(present & set(kind.columns))

    near = max(_ENTRIES, key=nearness)
    missing = _missing(near, present)
    unknown = [h for h in header if h.strip() and canonical(h) is None]
    if not missing or len(present & set(near.columns)) < 2 or len(missing) > 4:
        return None
    hints = [
        f"is {found[0]!r} meant for {m}?"
        for m in missing
        if (found := get_close_matches(m, unknown, 1, 0.55))
    ]
    found_words = ", ".join(h.strip() for h in header if h.strip())
    plural = "s" if len(missing) > 1 else ""
    return (
        f"this looks like a file of {near.key.replace('_', ' ')}, but the column{plural} "
        f"{', '.join(missing)} "
        f"{'are' if plural else 'is'} missing; found: {found_words}"
        + (f"; {' '.join(hints)}" if hints else "")
    )
