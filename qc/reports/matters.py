"""Matters: alarms that belong together, opened, ended and opened again as the blocks and people tell.

Nothing of a matter's course is stored: it is worked out from the blocks, the events and the acts of people,
so that it can be asked as it stood at any revision.
"""

import json
import re
from collections import Counter, OrderedDict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

import pandas as pd

from qc.history import history
from qc.history.zone import moment
from qc.records import Asked
from qc.reports.alarms import ACT, BLOCK, Group, Point, points
from qc.reports.conditions import judged
from qc.reports.heads import Key

CALM = 5
"""Quiet blocks of every series in it that end a matter, and blocks after a cure that must agree."""
AGAIN = 5
"""An alarm within so many blocks after an end is the same matter opened again; later it is another."""
_KEPT: "OrderedDict[tuple[object, ...], Matters]" = OrderedDict()
_KEEP = 4


@dataclass(frozen=True, slots=True)
class Turn:
    """A turn in a matter's life at a time [us]."""

    act: Literal["opened", "ended", "reopened"]
    at: int
    how: Literal["alarm", "event", "person", "quiet", "gone"]
    words: str
    build: str | None = None
    key: Key = ()


@dataclass(slots=True)
class Member:
    """A series in a matter: its latest alarm, the blocks of its first and last one, quiet blocks since."""

    condition: str
    first: int
    last: int
    calm: int = 0


@dataclass(frozen=True, slots=True)
class Act:
    """What a person did about a matter [us]."""

    act: str
    at: int
    initials: str
    said: str
    by: str
    revision: int


@dataclass(slots=True)
class Matter:
    """One matter with its turns, the series in it, and what people did about it."""

    group: Group
    turns: list[Turn]
    members: dict[Key, Member] = field(default_factory=dict)
    id: str = ""
    acts: list[Act] = field(default_factory=list)

    @property
    def open(self) -> bool:
        """Whether it needs somebody."""
        return self.turns[-1].act != "ended"

    @property
    def opened_at(self) -> int:
        """When it opened first [us]."""
        return self.turns[0].at

    def latest(self, act: str) -> Act | None:
        """The latest act of a kind."""
        return next((a for a in reversed(self.acts) if a.act == act), None)

    @property
    def taken_up(self) -> Act | None:
        """Who has it in hand: nobody once it has opened again."""
        again = [t.at for t in self.turns if t.act == "reopened"]
        act = self.latest("taken_up")
        return None if act is None or (again and act.at < again[-1]) else act

    def anchor(self) -> str:
        """What an act keeps of the matter, so that it finds it again when an estimate has moved."""
        g = self.group
        told = {"group": [g.machine, g.operation, g.what, g.subject], "opened_at": self.opened_at}
        return json.dumps(told, ensure_ascii=False)


@dataclass(frozen=True, slots=True)
class Matters:
    """Every matter there ever was, and what was said of those that no longer are one."""

    all: tuple[Matter, ...]
    lost: tuple[Matter, ...]

    def of(self, key: Key) -> Matter | None:
        """The matter a series is in: an open one, else the latest."""
        mine = [m for m in self.all if key in m.members]
        return max(mine, key=lambda m: (m.open, m.turns[-1].at), default=None)


def matters(store: Any, as_of: int | None = None) -> Matters:
    """Matters as of a revision, in order of their opening."""
    revision = store.revision(as_of)
    known, whole = judged(store, as_of), history(store, Asked(as_of=as_of))
    key = (id(known), store.place, revision)
    if key not in _KEPT:
        _KEPT[key] = worked_out(points(known, whole.events), store.records("matter", as_of))
        while len(_KEPT) > _KEEP:
            _KEPT.popitem(last=False)
    return _KEPT[key]


def worked_out(found: Mapping[Group, Sequence[Point]], acts: pd.DataFrame) -> Matters:
    """Matters of the points of every group and the acts in the store."""
    recorded = acts_of(acts)
    out: list[Matter] = []
    for group in sorted({*found, *(g for g, _ in recorded.values())}):
        mine = {i: (at, done) for i, ((g, at), done) in _together(recorded, acts).items() if g == group}
        ends = [
            Point(a.at, ACT, "ends", a.said, how="person")
            for _, done in mine.values() for a in done if a.act == "ended"
        ]  # fmt: skip
        points_ = found.get(group, ())
        swept_ = swept(group, [*points_, *ends])
        _name(swept_, mine, points_)
        out += swept_
    _tell_apart(out)
    there = {m.id for m in out}
    lost = [_gone(i, told, done) for i, (told, done) in _together(recorded, acts).items() if i not in there]
    out.sort(key=lambda m: (m.opened_at, m.id))
    return Matters(tuple(out), tuple(lost))


def swept(group: Group, points_: Iterable[Point]) -> list[Matter]:
    """Matters of one group: its points lived through in order of time."""
    found: list[Matter] = []
    now: Matter | None = None
    for p in sorted(points_, key=lambda p: (p.at, p.rank, p.key, p.state != "urgent")):
        if p.state == "ends":
            if now is not None and now.open:
                _end(now, Turn("ended", p.at, p.how, p.words))
        elif p.state == "urgent":
            if now is None or _over(now, p.key):
                now = Matter(group, [Turn("opened", p.at, "alarm", p.words, p.build, p.key)])
                found.append(now)
            elif not now.open:
                now.turns.append(Turn("reopened", p.at, "alarm", p.words, p.build, p.key))
            _alarm(now, p)
        elif now is not None and p.key in now.members:
            _quiet(now, p)
    return found


def _alarm(matter: Matter, p: Point) -> None:
    known = matter.members.setdefault(p.key, Member(p.words, p.block, p.block))
    known.condition, known.last, known.calm = p.words, p.block, 0


def _quiet(matter: Matter, p: Point) -> None:
    matter.members[p.key].calm += 1
    if matter.open and all(m.calm >= CALM for m in matter.members.values()):
        matter.turns.append(Turn("ended", p.at, "quiet", f"{CALM} quiet blocks", p.build, p.key))


def _end(matter: Matter, turn: Turn) -> None:
    matter.turns.append(turn)
    for member in matter.members.values():
        member.calm = 0


def _over(matter: Matter, key: Key) -> bool:
    """Whether an alarm of this series is no longer the ended matter going on."""
    if matter.open:
        return False
    mine = [matter.members[key]] if key in matter.members else list(matter.members.values())
    since = CALM if matter.turns[-1].how == "quiet" else 0
    return all(m.calm >= since + AGAIN for m in mine)


def acts_of(frame: pd.DataFrame) -> dict[str, tuple[Group, int]]:
    """Group and opening [us] of every matter that something is recorded of, by id."""
    found: dict[str, tuple[Group, int]] = {}
    for row in frame.to_dict("records"):
        told = json.loads(row["told"])
        found.setdefault(row["matter"], (Group(*told["group"]), int(told["opened_at"])))
    return found


def _together(
    recorded: Mapping[str, tuple[Group, int]], frame: pd.DataFrame
) -> dict[str, tuple[tuple[Group, int], list[Act]]]:
    found: dict[str, tuple[tuple[Group, int], list[Act]]] = {i: (told, []) for i, told in recorded.items()}
    for row in frame.to_dict("records"):
        found[row["matter"]][1].append(
            Act(row["act"], int(row["at"]), _text(row["initials"]), _text(row["said"]), row["by"],
                int(row["revision"]))
        )  # fmt: skip
    for _, done in found.values():
        done.sort(key=lambda a: (a.at, a.revision))
    return found


def _text(value: object) -> str:
    return value if isinstance(value, str) else ""


def _name(
    found: Sequence[Matter], recorded: Mapping[str, tuple[int, list[Act]]], points_: Sequence[Point]
) -> None:
    """Names of the matters of a group: those recorded keep theirs, though the first alarm has moved."""
    for matter in found:
        matter.id = _natural(matter)
    plain = {m.id for m in found}
    for name, (at, done) in recorded.items():
        mine = next((m for m in found if m.id == name), None) or _nearest(found, at, recorded, points_)
        if mine is None or (mine.id != name and name in plain):
            continue
        mine.id, mine.acts = name, done


def _nearest(
    found: Sequence[Matter], at: int, recorded: Mapping[str, tuple[int, list[Act]]], points_: Sequence[Point]
) -> Matter | None:
    """The matter that was going on at a time, or one that began a few blocks later before any other ended."""
    free = [m for m in found if m.id not in recorded]
    for number, matter in enumerate(free):
        begun = free[number - 1].turns[-1].at if number else 0
        over = matter.turns[-1].at if not matter.open else float("inf")
        # an alarm long after one that vanished is nobody's yet: it has to be told, and taken up, by itself
        if begun < at <= over and _blocks_between(points_, at, matter.opened_at) <= AGAIN:
            return matter
    return None


def _blocks_between(points_: Sequence[Point], begun: int, opened: int) -> int:
    """Most blocks of one series from a time until a matter opened."""
    made = Counter(p.key for p in points_ if p.rank == BLOCK and begun <= p.at < opened)
    return max(made.values(), default=0)


def _natural(matter: Matter) -> str:
    """A name that stays when a block is added: it is made of the first alarm."""
    g, first = matter.group, matter.turns[0]
    begun = first.build or f"{moment(first.at):%Y-%m-%d}"
    words = [g.machine, g.operation, g.what, g.subject, begun]
    return "-".join(w for w in (re.sub(r"[\W_]+", "-", w.lower()).strip("-") for w in words) if w)


def _tell_apart(found: Sequence[Matter]) -> None:
    """Names that read alike once case and signs are gone get a number."""
    seen: dict[str, int] = {}
    for matter in found:
        seen[matter.id] = seen.get(matter.id, 0) + 1
        if seen[matter.id] > 1:
            matter.id = f"{matter.id}-{seen[matter.id]}"


def _gone(name: str, told: tuple[Group, int], done: list[Act]) -> Matter:
    """What was said of an alarm that no longer is one, at another alarm level or with corrected readings."""
    group, at = told
    last = max((a.at for a in done), default=at)
    words = "no alarm any more with the readings and settings as they are now"
    turns = [Turn("opened", at, "alarm", ""), Turn("ended", last, "gone", words)]
    return Matter(group, turns, {}, name, done)
