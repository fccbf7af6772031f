"""What people type into a sheet's cell where a number is expected: a number, nothing measured, or a doubt."""

import re
from collections import Counter
from collections.abc import Sequence
from typing import Final

from qc import units
from qc.errors import NumberError
from qc.ingest.kinds import folded

_DASHES: Final = "-_\N{MINUS SIGN}\N{HYPHEN}\N{NON-BREAKING HYPHEN}\N{EN DASH}\N{EM DASH}\N{HORIZONTAL BAR}"
_NOTHING: Final = frozenset({"na", "n/a", "nm", "n.a.", "n.m.", "notmeasured", "notread", "x"})
_FRACTION = re.compile(r"[.,](\d*)")
_FINE_UNITS: Final = frozenset({"tenth", "thou", "um"})


def not_measured(text: str) -> bool:
    """Whether a cell says that nothing was measured: dashes alone, or words for it."""
    cleaned = text.strip()
    if cleaned and not cleaned.strip(_DASHES):
        return True
    return folded(cleaned) in _NOTHING


def decimals(text: str) -> int | None:
    """Digits behind the decimal mark, None for what is no number."""
    try:
        units.number(text)
    except NumberError:
        return None
    found = _FRACTION.search(text.lower().partition("e")[0])
    return len(found[1]) if found else 0


def finer_than_others(texts: Sequence[str], unit: str) -> list[bool]:
    """Which deviations in tenths, thou or um have more decimals than people write beside the others.

    Such a one may be a size, or a distance in inches or millimetres, among counts of a small unit: 0.0003
    beside +3. A half is not doubted, as dials are read so (common practice, no source).
    """
    if unit not in _FINE_UNITS:
        return [False] * len(texts)
    digits = [decimals(t) for t in texts]
    counts = Counter(d for d in digits if d is not None)
    if not counts:
        return [False] * len(texts)
    usual = min(max(counts.items(), key=lambda item: (item[1], -item[0]))[0], 2)
    return [d is not None and d > usual and not _half(t) for d, t in zip(digits, texts, strict=True)]


def _half(text: str) -> bool:
    fraction = _FRACTION.search(text)
    return fraction is not None and fraction[1].rstrip("0") == "5" and len(fraction[1]) == 1
