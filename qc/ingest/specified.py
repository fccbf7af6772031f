"""What the specifications in force say of new readings: targets, and where a row's own limits disagree."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from qc import units
from qc.catalogue import CATALOGUE
from qc.ingest.checks import shown
from qc.ingest.doubted import who
from qc.ingest.line import Doubt
from qc.ingest.rows import Row
from qc.ingest.words import cells_of
from qc.records import Build, Finding, Reading, Spec

_COLUMNS: Final = (
    "build", "operation", "characteristic", "feature", "station", "clock", "state", "made_at", "target",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Said:
    """What is said of one reading.

    target : its own, else that of the specification in force [ticks]
    other_limits : the limits in force in words, where the row's own differ
    passed_over : whether every window that matches was passed over, as it does not hold the target
    lower, upper : limits in force, of the specification or of the row where none matches, as sizes [ticks]
    """

    target: int | None
    other_limits: str = ""
    passed_over: bool = False
    lower: int | None = None
    upper: int | None = None


def said(readings: Sequence[Reading], specs: Sequence[Spec], builds: Mapping[str, Build]) -> list[Said]:
    """What the specifications say of each reading."""
    concerned = {(r.characteristic, r.build) for r in readings}
    named = {c for c, _ in concerned}
    useful = [
        s for s in specs
        if s.characteristic in named and (s.build is None or (s.characteristic, s.build) in concerned)
    ]  # fmt: skip
    if not useful:
        return [_own(r, r.target) for r in readings]
    import pandas as pd  # only shops with specifications pay for it here

    from qc.history.specs import resolve

    def engine(r: Reading) -> str | None:
        known = builds.get(r.build or "")
        return r.engine or (known.engine if known else None)

    rows = pd.DataFrame({c: pd.Series([getattr(r, c) for r in readings], dtype=object) for c in _COLUMNS})
    rows["engine"] = pd.Series([engine(r) for r in readings], dtype=object)
    found = resolve(useful, rows)
    answers = zip(
        readings, found.target.tolist(), found.lower.tolist(), found.upper.tolist(), found.spec.tolist(),
        found.passed_over.tolist(), strict=True,
    )  # fmt: skip
    told = []
    for r, target, lower, upper, spec, over in answers:
        winner = useful[spec] if spec >= 0 else None
        one = _said(r, _whole(target), _whole(lower), _whole(upper), winner, over)
        if one.other_limits and winner is not None:
            one = replace(one, other_limits=one.other_limits + _older(r, one.target or 0, winner, useful))
        told.append(one)
    return told


_SAME: Final = (
    "characteristic", "reading", "build", "engine", "operation", "feature", "station", "clock", "state",
)  # fmt: skip


def _older(r: Reading, target: int, winner: Spec, specs: Sequence[Spec]) -> str:
    """Which other issue of the row in force the reading's own limits are, in words, or an empty text."""
    shift = 0
    if CATALOGUE[r.characteristic].coded and r.relative != (winner.reading == "deviation"):
        shift = -target if r.relative else target
    for s in specs:
        if s is winner or any(getattr(s, n) != getattr(winner, n) for n in _SAME):
            continue
        if (r.lower, r.upper) == tuple(None if x is None else x + shift for x in (s.lower, s.upper)):
            return f"; the rows have those of issue {s.issue}" if s.issue else "; the rows have older ones"
    return ""


def _whole(value: float) -> int | None:
    return None if value != value else round(value)


def _said(
    r: Reading, target: int | None, lower: int | None, upper: int | None, spec: Spec | None, over: bool
) -> Said:
    own = (r.lower, r.upper)
    if spec is None:
        return Said(target, passed_over=True) if over else _own(r, target)
    coded = CATALOGUE[r.characteristic].coded
    if coded and target is None:
        return Said(target, passed_over=over and own == (None, None))
    sizes = tuple(None if x is None else x + (target or 0) if coded else x for x in (lower, upper))
    if own == (None, None):
        return Said(target, "", over, *sizes)
    if not (coded and r.relative):
        lower, upper = sizes
    pairs = [(o, x) for o, x in zip(own, (lower, upper), strict=True) if o is not None]
    differ = any(x is None or o != x for o, x in pairs)
    return Said(target, _limits(lower, upper, r.unit, spec) if differ else "", False, *sizes)


def _own(r: Reading, target: int | None) -> Said:
    """What a reading says of itself, where no specification speaks of it."""
    if not r.relative or target is None:
        return Said(target, lower=None if r.relative else r.lower, upper=None if r.relative else r.upper)
    return Said(target, "", False, *(None if x is None else x + target for x in (r.lower, r.upper)))


def _limits(lower: int | None, upper: int | None, unit: str, spec: Spec) -> str:
    unit = units.TARGET_UNIT.get(unit, unit) if unit in units.TARGET_UNIT else unit
    low, high = (None if x is None else shown(x, unit) for x in (lower, upper))
    window = f"{low} to {high}" if low and high else f"at least {low}" if low else f"at most {high}"
    source = ", ".join(x for x in (spec.said_by, spec.issue and f"issue {spec.issue}") if x)
    return f"{window}" + (f" ({source})" if source else "")


def findings(rows: Sequence[Row], answers: Mapping[int, Said]) -> list[Finding]:
    """Findings on limits of kept rows: an `ask` for each window they disagree with or that is passed over.

    Parameters
    ----------
    rows : sequence of Row
    answers : mapping of id() of a reading to what is said of it
    """
    groups: dict[tuple[str, str], list[tuple[Row, Doubt]]] = {}
    for row in rows:
        reading = row.record
        answer = answers.get(id(reading))
        if not isinstance(reading, Reading) or answer is None:
            continue
        column, text = reading.source.column, reading.source.text
        if answer.other_limits:
            doubt = Doubt("other_limits", answer.other_limits, column, text)
        elif answer.passed_over:
            doubt = Doubt("window_passed_over", reading.characteristic, column, text)
        else:
            continue
        groups.setdefault((doubt.code, doubt.cause), []).append((row, doubt))
    return [_finding(code, cause, pairs) for (code, cause), pairs in groups.items()]


def _finding(code: str, cause: str, pairs: Sequence[tuple[Row, Doubt]]) -> Finding:
    if code == "other_limits":
        words = (
            f"{who(pairs)} carry limits of their own; the specification in force says {cause}.",
            "Only one of them can count.",
            "Accept if the specification is right; otherwise correct the specification.",
            "The specification counts, the row's own limits do not.",
        )
    else:
        words = (
            f"{who(pairs)}: the target lies outside every size window that matches {cause}.",
            "A window that does not hold the target is for another size.",
            "Add the window for this size to the specifications, or correct the target.",
            "The readings count as without limits and enter no index.",
        )
    return Finding("ask", code, cells_of(pairs), *words, len(pairs))
