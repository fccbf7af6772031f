"""Which stretch a time falls in, and where its joints are.

A stretch is the part of a series between two events that renew what wears; the wear count restarts there. A
joint is a time at which the level may step while the wear count goes on; a gauge's joint concerns that
gauge's readings only.
"""

from collections.abc import Sequence

import numpy as np

from qc.catalogue import Characteristic
from qc.records import Event


def concerns(event: Event, machine: str, operation: str) -> bool:
    """Whether a machine's event is about this machine and operation (blank operation: all of its)."""
    return event.machine == machine and event.operation in (None, "", operation)


def renewals(events: Sequence[Event], entry: Characteristic, machine: str, operation: str) -> list[Event]:
    """Events that restart this characteristic's wear on this machine, in order of time."""
    chosen = [e for e in events if e.event in entry.restarts_wear and concerns(e, machine, operation)]
    return sorted(chosen, key=lambda e: e.at)


def joints(
    events: Sequence[Event], entry: Characteristic, machine: str, operation: str, gauges: Sequence[str]
) -> list[Event]:
    """Events at which this series' level may step: of the machine, or of one of the gauges that read it."""
    chosen = [
        e
        for e in events
        if e.event in entry.may_step
        and (concerns(e, machine, operation) if e.gauge is None else e.gauge in gauges)
    ]
    return sorted(chosen, key=lambda e: e.at)


def stretch_numbers(at: np.ndarray, starts: Sequence[int]) -> np.ndarray:
    """Number of the stretch each time falls in: 0 before the first start, then 1, 2, ...

    Parameters
    ----------
    at : (n,) int array
        Times in microseconds.
    starts : sequence of int
        Times of the renewals in microseconds; work made at that very time belongs to the new stretch.
    """
    return np.searchsorted(
        np.sort(np.asarray(starts, dtype=np.int64)), np.asarray(at, dtype=np.int64), side="right"
    )
