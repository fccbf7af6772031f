"""Builds whose readings at the same places read the same as those of a new file."""

from collections.abc import Sequence
from typing import Any, Final, NamedTuple

from sqlalchemy import and_, func, or_, select

from qc.store import tables
from qc.store.write import Write

MOST: Final = 8000  # last readings of a series that are looked through: the cost stays, however old the store


class Probe(NamedTuple):
    """One reading to look for: its place, its value, its distance from the target [ticks] or None."""

    feature: str
    station: int | None
    clock: int | None
    value: int
    deviation: int | None


def builds_alike(
    write: Write, what: tuple[str, str, str, str], probes: Sequence[Probe], least: int, but: str
) -> list[str]:
    """Builds of which so many readings equal the probes, the most alike first.

    Parameters
    ----------
    what : operation, characteristic, method, state
        On any machine.
    least : int
        Number of probes that must agree.
    but : str
        The build the probes are of.
    """
    s, t = tables.series.c, tables.series_summary.c
    operation, characteristic, method, state = what
    series = write.connection.execute(
        select(s.id, t.last_arrival).join_from(tables.series, tables.series_summary, t.series_id == s.id)
        .where(s.operation == operation, s.characteristic == characteristic, s.method == method,
               s.state == state)
    ).all()  # fmt: skip
    wanted = _wanted(write, probes)
    if not series or len(wanted) < least:
        return []
    r, c = tables.reading.c, tables.context.c
    alike = func.count(r.position_id.distinct())
    found: dict[str, int] = {}
    for number, last in series:
        rows = write.connection.execute(
            select(c.build, alike).join_from(tables.reading, tables.context, c.id == r.context_id)
            .where(r.series_id == number, r.arrival > last - MOST, or_(*wanted))
            .group_by(c.build).having(alike >= least)
        )  # fmt: skip
        for build, n in rows:
            if build is not None and build != but:
                found[build] = max(n, found.get(build, 0))
    return sorted(found, key=lambda build: (-found[build], build))


def _wanted(write: Write, probes: Sequence[Probe]) -> list[Any]:
    """Conditions for the probes whose place the store knows."""
    p, r = tables.position.c, tables.reading.c
    rows = write.connection.execute(
        select(p.id, p.feature, p.station, p.clock).where(p.feature.in_({x.feature for x in probes}))
    )
    places = {(row.feature, row.station, row.clock): row.id for row in rows}
    found = []
    for x in probes:
        place = places.get((x.feature, x.station, x.clock))
        if place is not None:
            equal = r.value == x.value
            if x.deviation is not None:
                equal = or_(equal, r.value - r.target == x.deviation)
            found.append(and_(r.position_id == place, equal))
    return found
