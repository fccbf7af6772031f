"""Matters as answers tell them: what to do, since when, how sure, who has it, what was done, did it help."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from qc.history import History, history, series_id
from qc.history.zone import iso, shop_zone
from qc.records import Asked
from qc.reports import agreement, bores_since, matter_words, reactions
from qc.reports.conditions import Conditions
from qc.reports.heads import Key
from qc.reports.matters import CALM, Act, Matter, matters

Row = dict[str, Any]


class Telling:
    """Tells of matters from what is known at one revision."""

    def __init__(self, store: Any, as_of: int | None, known: Conditions) -> None:
        self.known, self.found = known, matters(store, as_of)
        self.whole: History = history(store, Asked(as_of=as_of))
        self.zone = shop_zone(self.whole.settings)
        self._reactions = reactions.in_force(store, as_of)

    def of_row(self, key: Key) -> Row | None:
        """What a row of the drift answer says of its matter."""
        matter = self.found.of(key)
        if matter is None:
            return None
        hand = matter.taken_up
        return {
            "id": matter.id, "opened_at": iso(matter.opened_at),
            "taken_up_by": hand.initials if hand else None,
            "ended_at": None if matter.open else iso(matter.turns[-1].at),
        }  # fmt: skip

    def all(self, rows: Sequence[Mapping[str, Any]], gauges: Sequence[Mapping[str, Any]]) -> list[Row]:
        """Matters of some rows of the drift answer: the open ones most urgent first, then the latest ended.

        Parameters
        ----------
        rows : sequence
            Of the drift answer, in its order of urgency.
        gauges : sequence
            Shifts of gauges as that answer tells them.
        """
        by_id = {r["id"]: r for r in rows}
        place = {r["id"]: i for i, r in enumerate(rows)}
        asked = [m for m in self.found.all if any(series_id(k) in by_id for k in m.members)]
        told = [self._row(m, by_id, place, gauges) for m in asked]
        told += [self._lost(m) for m in self.found.lost]
        order = {m.id: i for i, m in enumerate(asked)}

        def urgency(row: Row) -> tuple[Any, ...]:
            if row["state"] == "open":
                mine = [place[s["id"]] for s in row["series"] if s["id"] in place and s["urgent"]]
                # what a gauge passed wrongly is wrong already: it has no bores left
                return 0, row["what"] != "gauge", min(mine, default=len(rows)), order[row["id"]]
            return 1, False, -self._ended_at(row["id"]), row["id"]

        return sorted(told, key=urgency)

    def _ended_at(self, name: str) -> int:
        return next(m.turns[-1].at for m in (*self.found.all, *self.found.lost) if m.id == name)

    def _row(
        self, matter: Matter, by_id: Mapping[str, Any], place: Mapping[str, int], gauges: Iterable[Any]
    ) -> Row:
        series = self._series(matter, by_id, place)
        worst = by_id.get(series[0]["id"]) if series else None
        group = matter.group
        row: Row = {
            "id": matter.id, "state": "open" if matter.open else "ended", "what": group.what,
            "machine": group.machine or None, "operation": group.operation or None,
            "name": matter_words.name(matter, by_id, self.known),
            "cause": self._cause(matter, worst, gauges),
            "conditions": list(dict.fromkeys(s["condition"] for s in series)), "series": series,
            "worst": series[0]["id"] if series else None,
            "since": worst["since"] if worst else {"at": None, "build": None},
            "opened_at": iso(matter.opened_at), "opened_with": matter.turns[0].build,
            "ended_at": None if matter.open else iso(matter.turns[-1].at),
            "turns": [
                {"act": t.act, "at": iso(t.at), "how": t.how, "build": t.build,
                 "words": matter_words.turn(t, self.zone)}
                for t in matter.turns
            ],
            "bores_to_limit": worst["bores_to_limit"] if worst and matter.open else None,
            **self._hands(matter),
            "reactions": self._reacted(matter),
        }  # fmt: skip
        row["next_blocks"] = self._next(matter)
        row |= self._touched(matter, row["next_blocks"])
        return {**row, **matter_words.told(row, worst, gauges, self.zone)}

    def _series(self, matter: Matter, by_id: Mapping[str, Any], place: Mapping[str, int]) -> list[Row]:
        """Series of a matter, the worst first."""
        out = []
        for key, member in matter.members.items():
            name = series_id(key)
            now = self.known.by_series[key].condition
            urgent = matter.open and member.calm == 0
            out.append({
                "id": name, "name": matter_words.series_of(key), "characteristic": key[2],
                "condition": member.condition,
                "condition_now": now, "urgent": urgent,
                "bores_to_limit": by_id[name]["bores_to_limit"] if name in by_id else None,
            })  # fmt: skip
        return sorted(out, key=lambda s: (not s["urgent"], place.get(s["id"], len(place)), s["id"]))

    def _cause(self, matter: Matter, worst: Mapping[str, Any] | None, gauges: Iterable[Any]) -> Row:
        if matter.group.what == "gauge":
            mine = [g for g in gauges if g["gauge"] == matter.group.machine]
            return dict(mine[-1]["cause"]) if mine else {"kind": "gauge", "id": matter.group.machine}
        signals = worst["signals"] if worst else []
        return dict(signals[-1]["cause"]) if signals else {"kind": "machine", "id": matter.group.machine}

    def _hands(self, matter: Matter) -> Row:
        hand = matter.taken_up
        return {
            "taken_up": _act(hand) if hand else None,
            "taken_up_by": hand.initials if hand else None,
            "done": [_act(a) for a in matter.acts if a.act == "done"],
        }

    def _reacted(self, matter: Matter) -> list[Row]:
        found = [reactions.reaction_to(self._reactions, key) for key in matter.members]
        once = {(r["characteristic"], r["machine"], r["operation"]): r for r in found if r}
        return [{**r, "words": reactions.words(r)} for r in once.values()]

    def _next(self, matter: Matter) -> Row | None:
        """Whether the blocks after the latest cure agree; None where nothing was done yet."""
        did = [(t.at, "event", t.words) for t in matter.turns if t.how == "event"]
        did += [(a.at, "done", a.said) for a in matter.acts if a.act in ("done", "ended")]
        if not did:
            return None
        at, what, words = max(did)
        series: list[Row] = []
        for key, member in matter.members.items():
            one = self.known.by_series[key]
            begun = bores_since.onset(one, member)
            found = agreement.after(one, member.condition, begun, at, among=len(matter.members))
            series.append({
                "id": series_id(key), "characteristic": key[2], "made": found.made,
                "agree": found.agree, "off": found.off,
                "allowed": found.allowed, "words": found.words,
            })  # fmt: skip
        made = min((s["made"] for s in series), default=0)
        known = [s["agree"] for s in series if s["agree"] is not None]
        whole = made >= CALM and len(known) == len(series) and bool(series)
        agree = False if False in known else True if whole else None
        told: Row = {"after": {"at": iso(at), "what": what, "words": words}, "of": CALM}
        told |= {"made": made, "agree": agree, "series": series}
        told["words"] = matter_words.agreement(told)
        return told

    def _touched(self, matter: Matter, after: Row | None) -> Row:
        """Bores since the last good block, as long as somebody may still have to look at them."""
        watched = after is not None and after["made"] < CALM
        none: Row = {"last_good": None, "bores_since": None, "bores_since_count": None}
        if not (matter.open or watched) or not matter.members:
            return {**none, "not_given": {"bores_since": "the matter has ended"}}
        good = bores_since.last_good(matter, self.known)
        if good is None:
            return {**none, "not_given": {"bores_since": "no good block before it is known"}}
        until = float("inf") if matter.open else matter.turns[-1].at
        builds = bores_since.bores_since(matter, good, until, self.whole)
        return {
            "last_good": {"at": iso(good.at), "build": good.build}, "bores_since": builds,
            "bores_since_count": bores_since.count(builds), "not_given": {},
        }  # fmt: skip

    def _lost(self, matter: Matter) -> Row:
        """A matter that no longer is one: what was said of it stays."""
        bare = self._row(matter, {}, {}, ())
        return {**bare, "name": matter_words.plain_name(matter)}


def _act(act: Act) -> Row:
    return {"initials": act.initials, "at": iso(act.at), "said": act.said, "by": act.by}
