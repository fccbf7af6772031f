"""An invented shop's series in the shape of the JSON contract, for the pages alone.

No figure here claims to be right: the pages only have to show what an answer says, and the numbers are chosen
so that every kind of row, null and picture occurs.
"""

from datetime import UTC, datetime, timedelta
from typing import Any

START = datetime(2025, 11, 3, 9, 0, tzinfo=UTC)
CAUTIONS = ["Figures are advice: the engine maker's data and the responsible machinist decide."]
KEYS = ("machine", "operation", "characteristic", "method", "state")


def noise(seed: int, count: int) -> list[float]:
    """Numbers that look like noise, about -1.7 to 1.7: a linear congruence, the same everywhere."""
    found, x = [], seed * 7919 + 17
    for _ in range(count):
        total = 0.0
        for _ in range(4):
            x = (1103515245 * x + 12345) % 2**31
            total += x / 2**31
        found.append((total - 2.0) * 1.7)
    return found


def iso(days: float) -> str:
    return (START + timedelta(days=days)).isoformat().replace("+00:00", "Z")


def head(answer: str, revision: int = 41) -> dict[str, Any]:
    return {
        "answer": answer,
        "version": 1,
        "revision": revision,
        "asked": {},
        "zone": "Europe/Berlin",
        "cautions": list(CAUTIONS),
    }


class Series:
    """One invented series: level, walk and step of its block means."""

    def __init__(
        self,
        key: tuple[str, ...],
        condition: str,
        *,
        unit: str = "um",
        coded: bool = True,
        blocks: int = 34,
        bores: int = 8,
        level: float = 0.0,
        walk: float = 0.0,
        step: float = 0.0,
        spread: float = 1.4,
        window: tuple[float | None, float | None] = (-8.0, 8.0),
        events: tuple[tuple[int, str, str, str], ...] = (),
        left: tuple[float, float, float | None] | None = None,
        sentence: str = "",
        seed: int = 1,
    ) -> None:
        self.key, self.condition, self.unit, self.coded = key, condition, unit, coded
        self.count, self.bores, self.spread, self.window = blocks, bores, spread, window
        self.events, self.left, self.text = events, left, sentence
        self.id = "/".join(key)
        starts = [0] + [at for at, _, _, effect in events if effect == "renews"]
        random = noise(seed, blocks)
        self.blocks = []
        for i in range(blocks):
            begun = max(s for s in starts if s <= i)
            mean = level + walk * (i - begun) + (step if i >= blocks - 6 else 0.0) + 0.9 * spread * random[i]
            half = spread * (1.2 + 0.4 * abs(random[-1 - i]))
            self.blocks.append(
                {
                    "build": f"B-{1040 + i}",
                    "at": iso(6 * i),
                    "n": bores,
                    "mean": mean,
                    "spread": None if bores == 1 else spread * (0.8 + 0.15 * abs(random[-1 - i])),
                    "lowest": mean - half,
                    "highest": mean + half,
                    "stretch": sum(s <= i for s in starts) - 1,
                    "joint": 0,
                    "wear": float(8 * i),
                    "gauges": ["bg-1"],
                    "signals": [],
                    "readings": [f"{self.id}:{i}:{j}" for j in range(bores)],
                }
            )

    def head(self) -> dict[str, Any]:
        return {
            "id": self.id,
            **dict(zip(KEYS, self.key, strict=True)),
            "unit": self.unit,
            "coded": self.coded,
            "readings": 6 * self.bores * self.count,
            "features": self.bores * self.count,
            "blocks": self.count,
            "first_at": iso(0),
            "last_at": iso(6 * (self.count - 1)),
            "gauges": ["bg-1"],
            "left_out": {
                "held": 2,
                "voided": 1,
                "excluded": 0,
                "superseded": 0,
                "without_target": 0,
                "without_limits": 0,
                "incomplete": 0,
            },
            "condition": self.condition,
            "why": self.text,
            "sentence": self.text,
            "not_given": {},
        }

    def limits(self) -> dict[str, Any] | None:
        low, high = self.window
        if low is None and high is None:
            return None
        sided = "both" if low is not None and high is not None else "above"
        return {
            "lower": low,
            "target": 0.0 if self.coded else None,
            "upper": high,
            "bounded": sided,
            "scaled": False,
            "sources": ["shop standard, issue C"],
        }

    def chart(self) -> dict[str, Any]:
        means = [b["mean"] for b in self.blocks[:20]]
        center = sum(means) / len(means)
        blocks = [dict(b) for b in self.blocks]
        if self.condition in ("drifting", "stepped"):
            words = (
                "walked up since the stones were changed" if self.condition == "drifting" else "stepped up"
            )
            for block in blocks[-3:]:
                kind = "slope" if self.condition == "drifting" else "step"
                block["signals"] = [{"signal": kind, "words": words}]
        first = {"number": 0, "began_at": iso(0), "event": None}
        later = [
            {"number": n, "began_at": iso(6 * at - 1), "event": event}
            for n, (at, event, _, effect) in enumerate(self.events, 1)
            if effect == "renews"
        ]
        return {
            **self.head(),
            "center": center,
            "lower_limit": center - 2.6 * self.spread,
            "upper_limit": center + 2.6 * self.spread,
            "limits": {"phase": "being_learned", "set_at": None, "by": None},
            "blocks": blocks,
            "blocks_charted": len(blocks),
            "window": self.limits(),
            "stretches": [first, *later],
            "events": [
                {
                    "at": iso(6 * at - 1),
                    "event": event,
                    "words": words,
                    "effect": effect,
                    "machine": self.key[0],
                    "gauge": None,
                    "note": None,
                }
                for at, event, words, effect in self.events
            ],
            "methods": {"limits": "prediction limits for the next block mean", "lag1": 0.12},
        }

    def drift(self) -> dict[str, Any]:
        row: dict[str, Any] = {
            **self.head(),
            "since": None,
            "stretch": {"began_at": iso(0), "event": None, "bores": 96, "blocks": 12},
            "slope": None,
            "slope_per": "bore",
            "slope_interval": None,
            "toward": None,
            "limit": None,
            "bores_to_limit": None,
            "signals": [],
            "matter": None,
        }
        if self.left is not None:
            median, lower, upper = self.left
            limit = self.window[1] or 0.0
            level = sum(b["mean"] for b in self.blocks[-4:]) / 4
            row |= {
                "slope": (limit - level) / median if median else 0.0,
                "toward": "upper",
                "limit": limit,
                "bores_to_limit": {
                    "median": median,
                    "lower": lower,
                    "upper": upper,
                    "confidence": 0.9,
                    "of": "bores",
                },
            }
        if self.condition in ("drifting", "stepped", "scattered"):
            row["since"] = {"at": iso(120), "build": "B-1060"}
            row["signals"] = [
                {
                    "at": iso(150),
                    "build": "B-1065",
                    "signal": self.condition,
                    "source": "slope",
                    "words": self.text,
                    "cause": {"kind": "machine", "id": self.key[0]},
                }
            ]
        return row

    def capability(self) -> dict[str, Any]:
        bores = self.count * self.bores
        few, window = self.count < 20, self.limits()
        row: dict[str, Any] = {
            **self.head(),
            "window": window,
            "bores": bores,
            "mean": 0.6,
            "spread_in_block": self.spread,
            "spread_between_blocks": 0.8 * self.spread,
            "spread_of_block_means": 0.9 * self.spread,
            "spread_short": 1.1 * self.spread,
            "spread_all": 1.3 * self.spread,
            "bores_not_conforming": 1,
            "bores_undecided": 3,
            "reworked": 2,
            "family": {"name": "normal"},
            "pp": 1.46,
            "ppk": 1.34,
            "pp_interval": {"lower": 1.2, "upper": 1.7, "confidence": 0.95},
            "ppk_interval": {"lower": 1.12, "upper": 1.61, "confidence": 0.95},
            "cp": None,
            "cpk": None,
            "cp_interval": None,
            "cpk_interval": None,
            "outside": {
                "counted": {
                    "n": 1,
                    "of": bores,
                    "fraction": 1 / bores,
                    "interval": {"lower": 0.0, "upper": 0.02, "confidence": 0.95},
                },
                "predicted": {
                    "fraction": 0.0004,
                    "interval": {"lower": 0.0, "upper": 0.003, "confidence": 0.95},
                },
            },
            "tolerance_interval": {"lower": -3.1, "upper": 4.4, "content": 0.95, "confidence": 0.95},
            "gauge_free": None,
            "methods": {
                "ppk": "general method",
                "interval": "generalised pivotal quantities",
                "draws": 100000,
                "seed": 20190,
            },
            "not_given": {"cp": f"the series is {self.condition}", "cpk": f"the series is {self.condition}"},
        }
        if window is None:
            nothing = ("pp", "ppk", "pp_interval", "ppk_interval", "bores_not_conforming", "bores_undecided")
            row |= dict.fromkeys(nothing)
            row["outside"] = {"counted": None, "predicted": None}
            row["not_given"]["window"] = "no specification with limits is in force for it"
        row["sentence"] = (
            "95 % of bores lie in \N{MINUS SIGN}3.10 to 4.40 um (95 % sure); too few blocks for an index."
            if few
            else "Ppk 1.34, 95 % sure of 1.12 to 1.61."
        )
        return row


STONES = (
    (9, "stones_changed", "stones changed", "renews"),
    (21, "stones_changed", "stones changed", "renews"),
)
SHOP = (
    Series(
        ("hone-2", "finish_bore", "bore_taper", "ends", "plate_on"),
        "drifting",
        coded=False,
        walk=0.42,
        level=-2.0,
        spread=0.9,
        events=STONES,
        left=(143.0, 92.0, 264.0),
        seed=3,
        sentence="Dress or change the stones of hone-2: taper has walked 5 um toward the upper limit "
        "since 3 May.",
    ),
    Series(
        ("hone-1", "finish_bore", "bore_diameter", "two_point", "plate_on"),
        "stepped",
        step=4.2,
        seed=5,
        events=(*STONES, (26, "gauge_reset", "gauge re-set", "joint")),
        sentence="Gauge or machine: read the master. Bore size of hone-1 stepped up 4 um on 28 April.",
    ),
    Series(
        ("hone-2", "plateau_hone", "rpk", "iso13565-1", "plate_off"),
        "scattered",
        coded=False,
        level=0.16,
        spread=0.03,
        window=(None, 0.3),
        left=(310.0, 120.0, None),
        bores=3,
        seed=8,
        sentence="Look at the brush of hone-2: Rpk spreads 1.8 times as wide as it did (1.3 to 2.6).",
    ),
    Series(
        ("hone-1", "finish_bore", "bore_taper", "ends", "plate_on"),
        "steady",
        coded=False,
        walk=0.1,
        spread=0.9,
        events=STONES,
        left=(620.0, 380.0, 1500.0),
        seed=13,
        sentence="Steady, 34 blocks.",
    ),
    Series(
        ("hone-1", "plateau_hone", "rk", "iso13565-1", "plate_off"),
        "steady",
        coded=False,
        level=0.6,
        spread=0.07,
        window=(None, 1.0),
        bores=3,
        seed=21,
        sentence="Steady, 34 blocks.",
    ),
    Series(
        ("hone-2", "finish_bore", "bore_diameter", "two_point", "plate_on"),
        "steady",
        seed=34,
        sentence="Steady, 34 blocks.",
    ),
    Series(
        ("line-hone-1", "line_hone", "tunnel_diameter", "two_point", "caps_torqued"),
        "steady",
        bores=5,
        blocks=22,
        spread=1.1,
        window=(-6.0, 6.0),
        seed=55,
        sentence="Steady, 22 blocks.",
    ),
    Series(
        ("bench", "fit", "main_clearance", "by_parts", "caps_torqued"),
        "steady",
        bores=5,
        blocks=22,
        spread=2.2,
        window=(None, None),
        seed=89,
        sentence="Steady, 22 blocks.",
    ),
    Series(
        ("mill-1", "deck", "deck_flatness", "straight_edge", "free"),
        "thin",
        coded=False,
        level=12.0,
        spread=2.0,
        window=(None, 30.0),
        blocks=5,
        bores=2,
        seed=144,
        sentence="Too few blocks, 5 of the 8 that a verdict needs.",
    ),
    Series(
        ("grinder-1", "journal_grind", "journal_diameter", "two_point", "unstated"),
        "thin",
        blocks=6,
        bores=5,
        window=(-5.0, 5.0),
        seed=233,
        sentence="Too few blocks, 6 of the 8 that a verdict needs.",
    ),
)
