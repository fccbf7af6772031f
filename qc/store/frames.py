"""Columns of rows to pandas, always with the same types.

Text is `str` (blank: NaN), whole numbers that may be blank are `Int64` (blank: NA), others `int64`, decimal
numbers `float64`, yes and no `bool`; `object` holds lists, dicts and records.
"""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

import numpy as np
import pandas as pd

# stands for NULL in a column of whole numbers on its way from the database
MISSING: Final = -(2**63)


def column(values: Sequence[Any], kind: str) -> Any:
    """One column of a frame from Python values, None where blank.

    Parameters
    ----------
    kind : {"str", "int64", "Int64", "float64", "bool", "object"}
    """
    if kind == "Int64":
        return blank_where_missing(
            np.fromiter((MISSING if v is None else int(v) for v in values), np.int64, len(values))
        )
    if kind == "object":
        held = np.empty(len(values), dtype=object)
        held[:] = list(values)
        return held
    if kind == "str":
        return pd.array(list(values), dtype="str")
    return np.array([np.nan if v is None else v for v in values] if kind == "float64" else values, dtype=kind)


def blank_where_missing(values: np.ndarray) -> Any:
    """`Int64` column of whole numbers in which MISSING stands for blank."""
    mask = values == MISSING
    return pd.arrays.IntegerArray(np.where(mask, 0, values), mask)


def frame(rows: Iterable[Mapping[str, Any]], columns: Mapping[str, str]) -> pd.DataFrame:
    """Frame of a few rows, with every column even where there are none."""
    told = list(rows)
    return pd.DataFrame({name: column([row[name] for row in told], kind) for name, kind in columns.items()})
