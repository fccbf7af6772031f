"""What a matter says to a machinist: what to do, then why, then how sure, then what was done about it."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any
from zoneinfo import ZoneInfo

from qc.catalogue import CATALOGUE, said
from qc.history import SERIES
from qc.reports.agreement import so_far, that_agree
from qc.reports.conditions import Conditions
from qc.reports.heads import Key
from qc.reports.matters import CALM, Matter, Turn
from qc.reports.words import day, day_of, interval, listed, number, plural, series_name, whole

Row = Mapping[str, Any]
_TOOL = {
    "stones_changed": "stones", "stones_dressed": "stones", "insert_changed": "insert",
    "wheel_dressed": "wheel", "bar_set_up": "bar", "brush_changed": "brush", "shoes_changed": "shoes",
}  # fmt: skip


def series_of(key: Key) -> str:
    """`hone-1, plateau hone, Rk, plate on`."""
    return series_name(dict(zip(SERIES, key, strict=True)))


def short(key: Key) -> str:
    """`Rk, plate on` where the machine and operation have been named."""
    return series_of(key).removeprefix(f"{key[0]}, ").removeprefix(f"{said(key[1])}, ")


def name(matter: Matter, rows: Mapping[str, Row], known: Conditions) -> str:
    """`hone-1, plateau hone: stones` of a matter."""
    if not matter.members:
        return plain_name(matter)
    group = matter.group
    labels = listed(list(dict.fromkeys(said(key[2]) for key in matter.members)))
    if group.what == "wear":
        return f"{group.machine}, {said(group.operation)}: {_tool(matter)}"
    if group.what == "gauge":
        return _gauge_named(matter, known)
    about = f"spread of {labels}" if group.what == "spread" else labels
    return f"{group.machine}, {said(group.operation)}: {about}"


def _gauge_named(matter: Matter, known: Conditions) -> str:
    """`bg-1: what it reads`, or `bg-1 or hone-1: bore size` where the two cannot be told apart."""
    gauge = matter.group.machine
    begun = [s for s in known.shifts if s.gauge == gauge and s.from_at <= matter.turns[-1].at]
    if not begun or begun[-1].decided:
        return f"{gauge}: what it reads"
    machines = listed(sorted({key[0] for key in matter.members}), "or")
    labels = listed(list(dict.fromkeys(said(key[2]) for key in matter.members)))
    return f"{gauge} or {machines}: {labels}"


def plain_name(matter: Matter) -> str:
    """The same where only the group is known."""
    g = matter.group
    where = ", ".join(w for w in (g.machine, said(g.operation) if g.operation else "") if w)
    return f"{where}: {g.what}"


def _tool(matter: Matter) -> str:
    """What wears in a matter about wear."""
    first = next(iter(matter.members))
    return _TOOL.get(CATALOGUE[first[2]].restarts_wear[0], "wear")


def turn(one: Turn, zone: ZoneInfo) -> str:
    """`opened on 3 May 2026 with build B1113` of a turn."""
    when = day(one.at, zone)
    build = f" with build {one.build}" if one.build else ""
    if one.act == "ended":
        return f"ended on {when}: {one.words}"
    return f"{'opened' if one.act == 'opened' else 'opened again'} on {when}{build}"


def agreement(told: Row) -> str:
    """Whether the next blocks agree, over all series of a matter."""
    of, made = told["of"], told["made"]
    if not made:
        return f"the next {of} blocks will tell"
    off = [s for s in told["series"] if s["agree"] is False]
    if off:
        names = listed([said(s["characteristic"]) for s in off])
        return f"{that_agree(made, False)} with what is expected in {names}"
    if all(s["agree"] is None for s in told["series"]):
        cannot = "cannot be held against anything: too little is known of before"
        return f"{so_far(made)} {cannot}" if made >= of else f"{so_far(made)} and {cannot}"
    return f"{that_agree(made, True)} with what is expected"


def told(row: Row, worst: Row | None, gauges: Iterable[Row], zone: ZoneInfo) -> dict[str, str]:
    """The matter's sentence in its parts: `first` what to do and why, `more` what else is known of it."""
    if row["state"] == "ended":
        return {"first": _ended(row, zone), "more": "", "sentence": _ended(row, zone)}
    first = _gauge(row, gauges) or _quiet(row) or _machine(row, worst)
    more = " ".join(part for part in (_others(row), _again(row), _did(row)) if part)
    return {"first": first, "more": more, "sentence": f"{first} {more}".strip()}


def _gauge(row: Row, gauges: Iterable[Row]) -> str:
    if row["what"] != "gauge":
        return ""
    still = [g for g in gauges if g["gauge"] == row["machine"] and g["to"] is None]
    return str(still[-1]["sentence"]) if still else ""


def _quiet(row: Row) -> str:
    if any(s["urgent"] for s in row["series"]):
        return ""
    return f"{row['name']}: quiet again; {CALM} quiet blocks end it."


def _machine(row: Row, worst: Row | None) -> str:
    if worst is not None:
        return str(worst["sentence"])
    return f"{row['name']}: {listed(row['conditions'])}."


def _others(row: Row) -> str:
    """What else shows it, the nearest to its limit first."""
    more = [s for s in row["series"][1:] if s["urgent"]]
    if not more or row["what"] == "gauge":
        return ""
    names = []
    for one in more:
        left = one["bores_to_limit"]
        told_ = said(one["characteristic"])
        if left and left.get("median"):
            ends = interval(left["lower"], left["upper"], 0)
            told_ += f" (about {number(left['median'], 0)} {left['of']}, {ends})"
        names.append(told_)
    return f"The same shows in {listed(names)}."


def _again(row: Row) -> str:
    turns = row["turns"]
    if turns[-1]["act"] != "reopened":
        return ""
    return f"It goes on: {turns[-1]['words']}, after it had {turns[-2]['words']}."


def _did(row: Row) -> str:
    after = row["next_blocks"]
    if after is None or not row["done"] or after["after"]["what"] != "done":
        return ""
    return whole(str(after["words"]))


def _ended(row: Row, zone: ZoneInfo) -> str:
    last = row["turns"][-1]
    after = row["next_blocks"]
    more = f"; {after['words']}" if after is not None and last["how"] in ("event", "person") else ""
    return f"{row['name']}: {last['words']}{more}."


def hands(row: Row, zone: ZoneInfo) -> list[str]:
    """Who has it, what was done: a line each."""
    out = []
    if row["taken_up"]:
        act = row["taken_up"]
        out.append(f"Taken up by {act['initials']} on {day_of(act['at'], zone)}: {act['said']}")
    out += [f"Done by {a['initials']} on {day_of(a['at'], zone)}: {a['said']}" for a in row["done"]]
    return out


def features(names: Sequence[str]) -> str:
    """`cyl-1 to cyl-6, cyl-8` of features in order."""
    runs: list[list[str]] = []
    for one in names:
        if runs and _follows(runs[-1][-1], one):
            runs[-1].append(one)
        else:
            runs.append([one])
    return ", ".join(f"{r[0]} to {r[-1]}" if len(r) > 2 else ", ".join(r) for r in runs)


def _follows(before: str, after: str) -> bool:
    (kind, _, first), (same, _, second) = before.rpartition("-"), after.rpartition("-")
    return kind == same and first.isdecimal() and second.isdecimal() and int(second) == int(first) + 1


def bores(row: Row) -> str:
    """`36 bores in 5 builds since B1097`, how many may have to be measured again."""
    if row["bores_since"] is None:
        return ""
    good = row["last_good"]
    since = f" since {good['build']}" if good["build"] else ""
    n = row["bores_since_count"]
    held = sum(bool(b["waiting_rows"]) for b in row["bores_since"])
    waits = f"; {plural(held, 'build has', 'builds have')} readings that wait for a decision" if held else ""
    in_builds = plural(len(row["bores_since"]), "build")
    return f"{plural(n, 'bore')} in {in_builds}{since}, the last good block{waits}"


def made(build: Mapping[str, Any]) -> str:
    """`cyl-1 to cyl-8 (waiting: cyl-4)`: the features of a build, and those of which a reading is held."""
    if not build["waiting_rows"]:
        return features(build["features"])
    waiting = features(build["waiting"]) or plural(build["waiting_rows"], "row")
    if build["waiting"] == build["features"]:
        return f"{waiting}, waiting for a decision"
    return f"{features(build['features'])} (waiting for a decision: {waiting})"
