"""Where two answers differ: numbers to a relative 1e-9, everything else exactly."""

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

RELATIVE: Final = 1e-9
ABSOLUTE: Final = (
    1e-9  # um: ten thousand times finer than what is kept; figures near nought have no relative part
)
Difference = tuple[str, Any, Any]


def differences(
    one: Any, other: Any, *, where: str = "", ignore: Sequence[str] = (), texts_are_numbers: bool = False
) -> Iterator[Difference]:
    """Yield each place where two documents differ, with both values.

    Parameters
    ----------
    ignore : sequence of str
        Keys that do not matter, wherever they stand.
    texts_are_numbers : bool
        Whether texts that are both numbers are compared as numbers (cells of a table).
    """
    if isinstance(one, Mapping) and isinstance(other, Mapping):
        for key in sorted((set(one) | set(other)) - set(ignore), key=str):
            below = f"{where}.{key}" if where else str(key)
            if key not in one or key not in other:
                yield below, one.get(key), other.get(key)
            else:
                yield from differences(
                    one[key], other[key], where=below, ignore=ignore, texts_are_numbers=texts_are_numbers
                )
    elif isinstance(one, list) and isinstance(other, list):
        yield from _lists(one, other, where, ignore, texts_are_numbers)
    elif not same(one, other, texts_are_numbers):
        yield where, one, other


def _lists(
    one: list[Any], other: list[Any], where: str, ignore: Sequence[str], texts: bool
) -> Iterator[Difference]:
    if len(one) != len(other):
        yield f"{where} (number of entries)", len(one), len(other)
        return
    for place, (a, b) in enumerate(zip(one, other, strict=True)):
        yield from differences(a, b, where=f"{where}[{place}]", ignore=ignore, texts_are_numbers=texts)


def same(one: Any, other: Any, texts_are_numbers: bool = False) -> bool:
    """Whether two values are the same."""
    if texts_are_numbers and isinstance(one, str) and isinstance(other, str) and one != other:
        one, other = _number(one), _number(other)
    if isinstance(one, bool) or isinstance(other, bool) or one is None or other is None:
        return one is other
    if isinstance(one, int | float) and isinstance(other, int | float):
        return math.isclose(one, other, rel_tol=RELATIVE, abs_tol=ABSOLUTE)
    return bool(one == other)


def _number(text: str) -> float | str:
    try:
        return float(text)
    except ValueError:
        return text
