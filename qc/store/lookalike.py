"""Builds whose readings at the same places read the same as those of a new file."""

from collections import Counter
from collections.abc import Sequence
from typing import Final, NamedTuple

from sqlalchemy import bindparam, or_, select

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


_p, _r, _c, _s, _t = (
    t.c for t in (tables.position, tables.reading, tables.context, tables.series, tables.series_summary)
)
_SERIES: Final = (
    select(_s.id, _t.last_arrival)
    .join_from(tables.series, tables.series_summary, _t.series_id == _s.id)
    .where(
        _s.operation == bindparam("operation"), _s.characteristic == bindparam("characteristic"),
        _s.method == bindparam("method"), _s.state == bindparam("state"),
    )
)  # fmt: skip
_PLACES: Final = select(_p.id, _p.feature, _p.station, _p.clock).where(
    _p.feature.in_(bindparam("features", expanding=True))
)
_READ: Final = select(_r.context_id, _r.position_id, _r.value, _r.target).where(
    _r.series_id == bindparam("series"), _r.arrival > bindparam("after"),
    _r.position_id.in_(bindparam("places", expanding=True)),
    or_(
        _r.value.in_(bindparam("values", expanding=True)),
        (_r.value - _r.target).in_(bindparam("deviations", expanding=True)),
    ),
)  # fmt: skip
_BUILDS: Final = select(_c.id, _c.build).where(_c.id.in_(bindparam("contexts", expanding=True)))


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
    names = dict(zip(("operation", "characteristic", "method", "state"), what, strict=True))
    series = write.connection.execute(_SERIES, names).all()
    wanted = _wanted(write, probes)
    if not series or len(wanted) < least:
        return []
    alike: Counter[int] = Counter()
    for number, last in series:
        asked = {
            "series": number, "after": last - MOST, "places": list(wanted),
            "values": [x.value for x in wanted.values()],
            "deviations": [x.deviation for x in wanted.values() if x.deviation is not None],
        }  # fmt: skip
        there: set[tuple[int, int]] = set()
        for context, place, value, target in write.connection.execute(_READ, asked).fetchall():
            probe = wanted[place]
            if value == probe.value or (target is not None and value - target == probe.deviation):
                there.add((context, place))
        alike.update(context for context, _ in there)
    contexts = [context for context, n in alike.items() if n >= least]
    if not contexts:
        return []
    builds = write.connection.execute(_BUILDS, {"contexts": contexts}).all()
    found = {build: alike[context] for context, build in builds if build is not None and build != but}
    return sorted(found, key=lambda build: (-found[build], build))


def _wanted(write: Write, probes: Sequence[Probe]) -> dict[int, Probe]:
    """The probes by the number of their place, where the store knows it."""
    features = sorted({x.feature for x in probes})
    rows = write.connection.execute(_PLACES, {"features": features})
    known = {(row.feature, row.station, row.clock): row.id for row in rows}
    return {known[x[:3]]: x for x in probes if x[:3] in known}
