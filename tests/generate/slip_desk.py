"""What a person with a pencil has before a slip is made: a build's rows, older builds, a hand to choose."""

import random
from collections.abc import Callable
from dataclasses import dataclass, field
from fractions import Fraction

from tests.generate.slip_shop import IN_UM, Plan, Row, Shop

Rows = list[Row]


class Impossible(Exception):
    """This slip cannot be made in these rows."""


@dataclass
class Made:
    """A slip: how it was made, the rows it touched, and those that now tell of something else altogether."""

    how: str
    touched: list[int]
    identity: set[int] = field(default_factory=set)


@dataclass
class Desk:
    """What the person with the pencil has: the rows, the build, older builds of the shop."""

    rng: random.Random
    shop: Shop
    plan: Plan
    rows: Rows
    after: int

    def group(self, fits: Callable[[Row], bool], least: int = 4) -> list[int]:
        """Rows of one table (operation, state, characteristic) that fit, in their order."""
        tables: dict[tuple[str, str, str], list[int]] = {}
        for i, row in enumerate(self.rows):
            if fits(row):
                tables.setdefault(row.block, []).append(i)
        large = [t for t in tables.values() if len(t) >= least]
        if not large:
            raise Impossible
        return self.rng.choice(large)

    def part(self, table: list[int]) -> list[int]:
        """One cell, one hole, some holes in a row, or all of a table."""
        how = self.rng.choice(("cell", "hole", "holes", "all"))
        if how == "cell":
            return [self.rng.choice(table)]
        if how == "all":
            return table
        holes = list(dict.fromkeys(self.rows[i].cells["feature"] for i in table))
        start = self.rng.randrange(len(holes))
        some = holes[start : start + (1 if how == "hole" else self.rng.randint(2, 4))]
        return [i for i in table if self.rows[i].cells["feature"] in some]


def is_size(row: Row) -> bool:
    return row.cells["unit"] in ("mm", "in") and not row.cells.get("reading")


def is_deviation(row: Row) -> bool:
    return row.cells.get("reading") == "deviation"


def is_large(row: Row) -> bool:
    return is_size(row) and abs(value(row)) * IN_UM[row.cells["unit"]] > 1000


def key_in(*keys: str) -> Callable[[Row], bool]:
    return lambda r: r.cells["characteristic"] in keys


def value(row: Row) -> Fraction:
    return Fraction(row.cells["value"])


def decimals(text: str) -> int:
    return len(text.partition(".")[2])


def rewrite(row: Row, um: Fraction) -> None:
    """Write another value [um, as the row counts] with the digits that the row has."""
    row.cells["value"] = f"{float(um / IN_UM[row.cells['unit']]):.{decimals(row.cells['value'])}f}"
