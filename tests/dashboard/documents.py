"""Answers of the invented shop: its series, one month, two builds, one finding, its readings."""

from collections.abc import Mapping
from typing import Any

from dashboard.answers import EVERYTHING, Answers, Question
from qc.errors import QuestionError
from tests.dashboard.invented import KEYS, SHOP, Series, head, iso
from tests.dashboard.invented_matters import ended_matter, open_matter


def _fits(series: Series, asked: Question) -> bool:
    return all(value in asked[key] for key, value in zip(KEYS, series.key, strict=True) if asked.get(key))


def _position(
    feature: str,
    kind: str,
    planned: float | None,
    lower: float | None,
    upper: float | None,
    achieved: float | None,
    verdict: str | None,
    u: float | None = 1.5,
) -> dict[str, Any]:
    tunnel = {
        "characteristic": "tunnel_diameter",
        "feature": feature,
        "state": "caps_torqued",
        "value": 64.012,
        "unit": "mm",
        "readings": ["abc:7:value", "abc:8:value"],
        "gauge": "bg-1",
    }
    journal = {
        "characteristic": "journal_diameter",
        "feature": feature,
        "state": "unstated",
        "value": 59.981,
        "unit": "mm",
        "readings": ["abd:3:value"],
        "gauge": "mic-3",
    }
    return {
        "feature": feature,
        "characteristic": kind,
        "method": "by_parts",
        "unit": "um",
        "planned": planned,
        "lower": lower,
        "upper": upper,
        "source": "build plan, issue 2",
        "achieved": achieved,
        "off_plan": None if achieved is None or planned is None else achieved - planned,
        "standard_uncertainty": u,
        "verdict": verdict,
        "words": None,
        "parts": [tunnel, journal] if achieved is not None else [tunnel],
        "missing": [] if achieved is not None else ["journal_diameter"],
        "not_given": {},
    }


BUILD = {
    "build": "B-1073",
    "engine": "V8-6000",
    "at": iso(198),
    "positions": [
        _position("main-3", "main_clearance", 38.0, 30.0, 50.0, 27.0, "does_not_conform"),
        _position("main-1", "main_clearance", 38.0, 30.0, 50.0, 32.0, "undecided"),
        _position("main-2", "main_clearance", 38.0, 30.0, 50.0, 37.5, "conforms"),
        _position("rod-4", "rod_clearance", 45.0, 35.0, 60.0, 44.1, "conforms"),
        _position("rod-2", "rod_clearance", 45.0, 35.0, 60.0, 48.4, "conforms"),
        _position("cyl-1", "piston_clearance", 70.0, 60.0, 80.0, 72.2, "conforms", 2.0),
        _position("cyl-2", "piston_clearance", 70.0, 60.0, 80.0, 75.9, "conforms", 2.0),
        _position("main-5", "main_clearance", None, None, None, 41.0, None, None),
        _position("main-4", "main_clearance", 38.0, 30.0, 50.0, None, None, None),
    ],
    "sentence": "B-1073: look at 1 position outside plan; 1 position the gauge cannot decide; "
    "1 position with a part "
    "not measured; tightest is main bearing clearance main-3, 27 um, \N{MINUS SIGN}11 um from plan.",
}
OTHER_BUILD = {
    "build": "B-1072",
    "engine": "V8-6000",
    "at": iso(192),
    "positions": [_position("main-1", "main_clearance", 38.0, 30.0, 50.0, 38.2, "conforms")],
    "sentence": "B-1072: tightest is main bearing clearance main-1, 38 um, 0 um from plan.",
}


def _against(ratio: float | None, lower: float, upper: float, words: str | None) -> dict[str, Any]:
    return {
        "blocks": 6,
        "mean_difference": 0.4,
        "interval": {"lower": -0.9, "upper": 1.7, "confidence": 0.95},
        "spread_ratio": ratio,
        "interval_ratio": None if ratio is None else {"lower": lower, "upper": upper, "confidence": 0.95},
        "p_spread": 0.02,
        "words": words,
        "not_given": {} if words else {"words": "fewer than 5 blocks in one of the months: look at the dots"},
    }


def month_document(month: str) -> dict[str, Any]:
    def figure(series: Series, words: str | None, ratio: float | None) -> dict[str, Any]:
        return {
            "characteristic": series.key[2],
            "method": series.key[3],
            "unit": series.unit,
            "blocks": 5,
            "mean": 0.8,
            "spread_in_block": series.spread,
            "spread_between_blocks": 0.7 * series.spread,
            "against": {
                "last_month": _against(ratio, 1.21, 1.98, words),
                "last_year": _against(None, 0, 0, None) | {"mean_difference": None, "interval": None},
            },
        }

    def row(
        machine: str, operation: str, state: str, sentence: str, figures: list[dict[str, Any]]
    ) -> dict[str, Any]:
        return {
            "machine": machine,
            "operation": operation,
            "state": state,
            "builds": 5,
            "bores": 40,
            "first_pass": {
                "n": 4,
                "of": 5,
                "fraction": 0.8,
                "interval": {"lower": 0.28, "upper": 0.995, "confidence": 0.95},
            },
            "figures": figures,
            "held": 2,
            "sentence": sentence,
            "events": [
                {
                    "at": iso(150),
                    "event": "stones_changed",
                    "words": "stones changed",
                    "machine": machine,
                    "gauge": None,
                    "operation": None,
                    "note": None,
                }
            ],
        }

    rows = [
        row(
            "hone-1",
            "finish_bore",
            "plate_on",
            "hone-1, finish bore: bore size less even than last month (1.5 times the spread "
            "from bore to bore, "
            "1.2 to 2.0) (5 builds).",
            [figure(SHOP[1], "less even", 1.55), figure(SHOP[3], "the same", 1.04)],
        ),
        row(
            "hone-2",
            "finish_bore",
            "plate_on",
            "hone-2, finish bore: nothing can be told apart from last month (5 builds).",
            [figure(SHOP[5], "cannot tell from 5 blocks", 1.2), figure(SHOP[0], None, None)],
        ),
    ]
    return {**head("month"), "month": month, "compared_with": {}, "rows": rows}


FINDING = {
    "id": 7,
    "file": "bench_2026-05-11.csv",
    "severity": "stop",
    "code": "far_from_target",
    "count": 2,
    "cells": [
        {"sheet": None, "row": 14, "column": "value", "text": "96.1O2"},
        {"sheet": None, "row": 15, "column": "value", "text": "95.012"},
    ],
    "saw": "95.012 mm at cyl-3.",
    "doubt": "It stands 1 mm under its target and its neighbours.",
    "proposal": "96.012 would fit.",
    "effect": "Accepting it makes cyl-3 of B-1073 not conform.",
    "decided": None,
    "held_rows": 2,
}


class Documents(Answers):
    """The invented shop as the pages' answers; settings and revisions are kept in memory."""

    def __init__(self, *, empty: bool = False, held: bool = True) -> None:
        super().__init__("nowhere", by="tester")
        self.acts: dict[str, list[dict[str, Any]]] = {}
        self.chosen: dict[str, dict[str, Any]] = {}
        self._empty, self._held, self._settings, self._revision = empty, held, {"zone": "Europe/Berlin"}, 41

    @property
    def place(self) -> str:
        return "shop.db"

    def revision(self) -> int:
        return self._revision

    def settings(self) -> dict[str, str]:
        return self._settings

    def set(self, name: str, value: str) -> None:
        self._settings = {**self._settings, name: value}
        self._revision += 1

    def uncertainty(self, gauges: Any) -> float | None:
        return 0.6

    def _rows(self, name: str, asked: Question) -> dict[str, Any]:
        chosen = () if self._empty else [s for s in SHOP if _fits(s, asked)]
        return {**head(name, self._revision), "series": [getattr(s, name)() for s in chosen]}

    def drift(self, asked: Question = EVERYTHING) -> dict[str, Any]:
        found = self._rows("drift", asked)
        rows = {s.id: s for s in SHOP if s.id in {r["id"] for r in found["series"]}}
        loud = [s for s in rows.values() if s.condition in ("drifting", "stepped", "scattered")]
        steady = [s for s in rows.values() if s.condition == "steady"]
        found["matters"] = [open_matter(s, self.acts) for s in loud]
        if steady:
            one = steady[0]
            found["matters"] += [
                ended_matter(one, "watched-1", "hone-1: stones: ended: stones changed", "event", 3),
                ended_matter(one, "past-1", "hone-1: stones: ended: 5 quiet blocks", "quiet", None),
            ]
        for row in found["series"][:2]:  # two series of one machine saw it: it is told once
            row["proposed_events"] = [
                {"words": "taper fell back by 3 um with build B-1070", "command": "qc event add --machine m"}
            ]
            row["forecast"] = "About 143 bores to the upper limit."
        level = {"level": 0.00073, "blocks_a_month": 300.0, "false_alarms_a_month": 0.219}
        return {**found, "alarm_level": level, "gauges": []}

    def act(self, matter: str, kind: Any, *, initials: str, said: str) -> None:
        if not initials or not said:
            raise QuestionError("write your initials and one sentence: they are kept with it")
        self.acts.setdefault(matter, []).append(
            {"act": kind, "initials": initials, "said": said, "at": iso(200), "by": self.by}
        )
        self._revision += 1

    def chart(self, asked: Question = EVERYTHING) -> dict[str, Any]:
        return self._rows("chart", asked)

    def kinds(self, asked: Question, kind: str | None) -> dict[str, Any]:
        found = self._rows("chart", asked)
        for row in found["series"]:
            chosen = self.chosen.get("chart")
            row |= {"kind": "block_means", "chosen": chosen, "questions": [], "explained": []}
            if chosen:
                row["explained"] = [f"Chosen by {chosen['by']}, because: {chosen['reason']}."]
        return found

    def choose(self, series: Any, name: str, value: str | None, *, initials: str, reason: str) -> None:
        if not initials or not reason:
            raise QuestionError("write your initials and why: they are kept with it")
        self.chosen[name] = {"value": value, "by": initials, "at": iso(200), "reason": reason}
        self._revision += 1

    def shape(self, asked: Question = EVERYTHING) -> dict[str, Any]:
        return {**head("shape"), "series": []}

    def capability(self, asked: Question = EVERYTHING) -> dict[str, Any]:
        return self._rows("capability", asked)

    def series(self, asked: Question = EVERYTHING) -> dict[str, Any]:
        return {**self._rows("head", asked), "answer": "series"}

    def clearance(self, asked: Question = EVERYTHING) -> dict[str, Any]:
        return {**head("clearance"), "builds": [] if self._empty else [BUILD, OTHER_BUILD]}

    def held(self) -> dict[str, Any]:
        found: list[Mapping[str, Any]] = [] if self._empty or not self._held else [FINDING]
        return {
            **head("held"),
            "sentence": "2 rows kept out of the figures until a person decides.",
            "findings": found,
        }

    def month(self, month: str, asked: Question = EVERYTHING) -> dict[str, Any]:
        return month_document(month)

    def readings(self, asked: Question = EVERYTHING) -> dict[str, Any]:
        rows = [
            {
                "id": rid,
                "build": b["build"],
                "characteristic": "bore_diameter",
                "feature": f"cyl-{j + 1}",
                "station_mm": 40.0,
                "clock_deg": 90.0,
                "value_um": 96000.0 + b["mean"],
                "value": None,
                "deviation_um": b["mean"],
                "gauge": "bg-1",
                "made_at": b["at"],
                "file": "bench_2026-05-11.csv",
                "row": str(7 + j),
                "column": "value",
                "text": f"{96 + b['mean'] / 1000:.3f}",
            }
            for s in SHOP
            for b in s.blocks
            if not asked.get("build") or b["build"] in asked["build"]
            for j, rid in enumerate(b["readings"])
        ]
        return {**head("readings"), "readings": rows}
