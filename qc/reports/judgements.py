"""Judgements of series, kept in the store until their blocks, their level or the code behind them change."""

import hashlib
import importlib
import json
import marshal
import pkgutil
from collections.abc import Sequence
from dataclasses import asdict
from functools import cache
from types import CodeType, FunctionType
from typing import Any

import numpy as np

import qc.drift
from qc.drift import BoresToLimit, Judgement, SeriesBlocks, Signal, judge, pooled_lags
from qc.history import series_id
from qc.stats import lag, levels
from qc.stats.intervals import Interval


def judgements(store: Any, series: Sequence[SeriesBlocks], level: float) -> list[Judgement]:
    """Judgement of each series; what a new file did not touch is not worked out again.

    Parameters
    ----------
    store : qc.store.Store
    series : sequence of SeriesBlocks
        All of the shop: the lag-1 is pooled over them.
    level : float
        Alarm level per series and block.
    """
    lags = pooled_lags(series)
    names = [series_id(one.key) for one in series]
    digests = {n: digest(one, level, lags[one.key]) for n, one in zip(names, series, strict=True)}
    question = f"condition@{version()}"
    known = store.recalled(question, digests)
    fresh = [one for n, one in zip(names, series, strict=True) if n not in known]
    found = {series_id(j.key): j for j in judge(fresh, level=level, pooled_lag1=lags)}
    if found:
        store.keep(question, digests, {n: _written(j) for n, j in found.items()})
    return [
        found[n] if n in found else _read(known[n], one.key) for n, one in zip(names, series, strict=True)
    ]


def digest(one: SeriesBlocks, level: float, lag1: float) -> str:
    """Hash of all that a judgement rests on."""
    told = hashlib.blake2b(digest_size=16)
    for name in SeriesBlocks.__dataclass_fields__:
        value = getattr(one, name)
        told.update(f"{name}:".encode())
        told.update(value.tobytes() if isinstance(value, np.ndarray) else repr(value).encode())
    told.update(repr((level, lag1)).encode())
    return told.hexdigest()


@cache
def version() -> str:
    """Hash of the code that judges, so that a new version never answers with an old one's figures."""
    told = hashlib.blake2b(digest_size=8)
    modules = [importlib.import_module(f"qc.drift.{m.name}") for m in pkgutil.iter_modules(qc.drift.__path__)]
    for module in (*modules, lag, levels):
        for name, item in sorted(vars(module).items()):
            for code in _codes(item):
                told.update(name.encode() + marshal.dumps(code, 2))
            if isinstance(item, int | float | str | tuple | np.ndarray):
                told.update(repr((name, item)).encode())
    return told.hexdigest()


def _codes(item: object) -> list[CodeType]:
    if isinstance(item, FunctionType):
        return [item.__code__]
    if isinstance(item, type):
        made = [getattr(f, "fget", None) or getattr(f, "func", f) for f in vars(item).values()]
        return [f.__code__ for f in made if isinstance(f, FunctionType)]
    return []


def _written(one: Judgement) -> str:
    return json.dumps({k: v for k, v in asdict(one).items() if k != "key"})


def _read(text: str, key: Any) -> Judgement:
    told = json.loads(text)
    for name in ("resets", "changes"):
        told[name] = tuple(tuple(row) for row in told[name])
    told["ahead"], told["chance"] = tuple(told["ahead"]), tuple(told["chance"])
    for name, kind in (
        ("slope_interval", Interval), ("bores_to_limit", BoresToLimit), ("to_fraction", BoresToLimit)
    ):  # fmt: skip
        told[name] = None if told[name] is None else kind(**told[name])
    told["signals"] = tuple(Signal(**s) for s in told["signals"])
    told["conditions"] = tuple(told["conditions"])
    return Judgement(key=key, **told)
