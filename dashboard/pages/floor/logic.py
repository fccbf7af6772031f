"""What the Floor page shows, from the answers."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final
from zoneinfo import ZoneInfo

from dashboard.components import address, words
from dashboard.figures import ribbon_drawn, scales
from dashboard.theme.shown import in_units, many
from qc.catalogue import said
from qc.reports import matter_words, picture
from qc.reports.words import capital

Row = Mapping[str, Any]
QUIET = ("steady", "thin")
GAUGE: Final = "reads off"
MOST_ENDED: Final = 12


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the list: a series, or a matter as its worst series shows it."""

    id: str
    condition: str
    mark: str | None
    name: str
    do: str
    why: str
    ribbon: str | None
    left: str | None
    left_words: str
    href: str


@dataclass(frozen=True, slots=True)
class Matter:
    """A matter that needs somebody, with what opens below its line."""

    id: str
    line: Line
    series: list[Line]
    hand: str
    held: str
    ahead: list[str]
    reactions: list[str]
    bores: str
    builds: list[tuple[str, str]]
    course: list[str]


@dataclass(frozen=True, slots=True)
class Ended:
    """A matter that has ended, in words."""

    id: str
    sentence: str
    hands: list[str]


@dataclass(frozen=True, slots=True)
class Floor:
    """What the page shows: open matters, ended ones that are watched, series without a matter, the past."""

    open: list[Matter]
    watched: list[Ended]
    quiet: list[Line]
    ended: list[Ended]
    more_ended: int
    proposed: list[tuple[str, str]]


def _said(row: Row, units: str, has_left: bool) -> tuple[str, str]:
    """What to do and why; how many bores are left stands in its own column."""
    do, why = words.sentence(row, units)
    if has_left and why:
        why = why.partition(" About ")[0].partition("; meets the ")[0].rstrip(".") + "."
    return do, why


def _left_words(row: Row) -> str:
    left = row.get("bores_to_limit")
    if not left or left.get("median") is None:
        return ""
    of = left.get("of") or "bores"
    if left["median"] <= 0:
        return "beyond the limit"
    end = "no end in sight" if left.get("upper") is None else f"{left['upper']:.0f}"
    return f"about {left['median']:.0f} {of} left, {left['lower']:.0f} to {end}"


def floor(drift: Row, chart: Row, units: str) -> Floor:
    """The page's contents, in the answer's order of urgency."""
    lines = series_lines(drift, chart, units)
    zone = ZoneInfo(drift["zone"])
    told = drift.get("matters") or []
    loud = [matter(m, lines, drift, units, zone) for m in told if m["state"] == "open"]
    gone = [m for m in told if m["state"] != "open"]
    watched = [m for m in gone if _is_watched(m)]
    past = [m for m in gone if not _is_watched(m)]
    shown = {line.id for m in loud for line in m.series if line.condition not in QUIET}
    quiet = [line for key, line in lines.items() if key not in shown]
    return Floor(
        loud, [_ended(m, units, zone) for m in watched], quiet,
        [_ended(m, units, zone) for m in past[:MOST_ENDED]], len(past[MOST_ENDED:]),
        proposed(drift, units),
    )  # fmt: skip


def _is_watched(told: Row) -> bool:
    after, how = told["next_blocks"], told["turns"][-1]["how"]
    return after is not None and after["made"] < after["of"] and how in ("event", "person")


def _ended(told: Row, units: str, zone: ZoneInfo) -> Ended:
    return Ended(told["id"], in_units(told["sentence"], units), matter_words.hands(told, zone))


def matter(told: Row, lines: Mapping[str, Line], drift: Row, units: str, zone: ZoneInfo) -> Matter:
    """One open matter: its worst series speaks for it."""
    mine = [lines[s["id"]] for s in told["series"] if s["id"] in lines]
    rows = {r["id"]: r for r in drift["series"]}
    speaks = told["first"] == (rows.get(told["worst"]) or {}).get("sentence")
    if mine and speaks:
        why = f"{mine[0].why} {in_units(told['more'], units)}".strip()
        line = replace(mine[0], why=why, name=told["name"])
    else:
        line = _own_line(told, mine, units)
    hands = matter_words.hands(told, zone)
    return Matter(
        told["id"], line, [_within(one) for one in mine],
        hands[-1] if hands else "Nobody has taken it up",
        many(len(mine), "series", "series"),
        _ahead(rows.get(told["worst"]) or {}, units),
        [capital(r["words"]) for r in told["reactions"]],
        matter_words.bores(told),
        [
            (b["build"] or str(b["at"])[:10], matter_words.made(b))
            for b in told["bores_since"] or ()
        ],
        [capital(t["words"]) for t in told["turns"]] + hands,
    )  # fmt: skip


def _ahead(row: Row, units: str) -> list[str]:
    """What the worst series is expected to do, and what its change follows, in sentences."""
    evidence = row.get("evidence")
    told = [row.get("forecast"), evidence["words"] if evidence else None]
    return [in_units(str(text), units, str(row["characteristic"])) for text in told if text]


def proposed(drift: Row, units: str) -> list[tuple[str, str]]:
    """Events that nobody logged, each once, with the command that logs it."""
    found: dict[str, str] = {}
    for row in drift["series"]:
        for event in row.get("proposed_events") or ():
            words_ = f"{row['machine']}: {event['words']}."
            found.setdefault(event["command"], in_units(words_, units, row["characteristic"]))
    return [(words_, command) for command, words_ in found.items()]


def _within(one: Line) -> Line:
    """A series below its matter, which has said what to do: its own name leads."""
    return replace(one, do=one.name, name="")


def _own_line(told: Row, mine: Sequence[Line], units: str) -> Line:
    """A line with the matter's own words: a gauge's, or one that has become quiet."""
    do, _, why = told["first"].partition(": ")
    condition = told["conditions"][0] if told["conditions"] else "steady"
    words_ = f"{capital(why)} {told['more']}".strip()
    seen = mine[0] if mine else None
    return Line(
        told["id"], GAUGE if told["what"] == "gauge" else condition,
        scales.mark("stepped" if told["what"] == "gauge" else condition), told["name"],
        in_units(do, units), in_units(words_, units), seen.ribbon if seen else None, None, "",
        seen.href if seen else address.FLOOR,
    )  # fmt: skip


def budget(level: Row | None) -> str:
    """`About 0.2 false matters a month at this alarm level` of the answer's level."""
    if not level or level.get("false_alarms_a_month") is None:
        return ""
    n = level["false_alarms_a_month"]
    return (
        f"About {n:.2g} false matters a month are to be expected at this alarm level, over all series "
        f"({level['blocks_a_month']:.0f} blocks a month)."
    )


def series_lines(drift: Row, chart: Row, units: str) -> dict[str, Line]:
    """Every series as a line, in the answer's order of urgency."""
    rows: Sequence[Row] = drift["series"]
    charts = {r["id"]: r for r in chart["series"]}
    loud = [r for r in rows if r.get("condition") not in QUIET]
    quiet = [r for r in rows if r.get("condition") in QUIET]
    lefts = picture.lefts(loud) | picture.lefts(quiet)  # two lists, two scales
    found = {}
    for row in rows:
        key, condition = row["id"], row.get("condition") or "thin"
        drawn = None
        if key in charts and charts[key].get("blocks"):
            numbers = picture.ribbon(charts[key], row)
            drawn = ribbon_drawn.small(numbers, thin=condition == "thin")
        left = scales.bores_left(lefts[key]) if key in lefts else None
        found[key] = Line(
            key,
            condition,
            scales.mark(condition),
            words.name(row),
            *_said(row, units, left is not None),
            drawn,
            left,
            _left_words(row),
            address.of_series(row),
        )
    return found


def rest(quiet: Sequence[Line]) -> str:
    """`11 steady, 3 too few blocks to say`."""
    counts = Counter(m.condition for m in quiet)
    parts = []
    if counts["steady"]:
        parts.append(f"{counts['steady']} steady")
    if counts["thin"]:
        parts.append(f"{counts['thin']} too few blocks to say")
    ended = sum(counts.values()) - counts["steady"] - counts["thin"]
    if ended:
        parts.append(f"{ended} of a matter that has ended")
    return ", ".join(parts)


def head(loud: int) -> str:
    """The page's first words."""
    if loud == 0:
        return "Nothing is leaving its tolerance"
    return "One matter needs a look" if loud == 1 else f"{loud} matters need a look"


Place = tuple[str, list[tuple[str, str, str]]]


def floor_map(drift: Row) -> tuple[list[Place], list[tuple[str, str, str]]]:
    """Machines with their (operation, words, address), and gauges as (gauge, words, address)."""
    found: dict[str, dict[str, Counter[str]]] = {}
    for row in drift["series"]:
        operations = found.setdefault(row["machine"], {})
        operations.setdefault(row["operation"], Counter())[row.get("condition") or "thin"] += 1
    machines: list[Place] = []
    gauges = []
    for machine, operations in sorted(found.items()):
        lines = [(op, _told(counts), _to(machine, op)) for op, counts in operations.items()]
        gauges += [(machine, words_.removeprefix("1 "), href) for op, words_, href in lines if op == "check"]
        worked = [(said(op), words_, href) for op, words_, href in lines if op != "check"]
        if worked:
            machines.append((machine, worked))
    return machines, gauges


def gauge_words(told: Sequence[str]) -> str:
    """`9 masters: 8 steady, 1 drifting` of the gauges' conditions."""
    counts = Counter(told)
    return f"{many(len(told), 'master')}: " + ", ".join(f"{n} {key}" for key, n in counts.most_common())


def _to(machine: str, operation: str) -> str:
    return address.SERIES + address.search({"machine": machine, "operation": operation})


def _told(counts: Counter[str]) -> str:
    order = [key for key in ("drifting", "stepped", "scattered", "steady") if counts[key]]
    parts = [f"{counts[key]} {key}" for key in order]
    if counts["thin"]:
        parts.append(f"{counts['thin']} too few blocks")
    return ", ".join(parts)
