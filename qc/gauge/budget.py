"""Uncertainty of a figure made of several readings, with what they have in common counted once."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from qc.errors import QuestionError


@dataclass(frozen=True, slots=True)
class Part:
    """One part of a figure: how it enters, and what is not known of it [unit of the figure].

    ``coefficient`` is +1 for a housing, -1 for a wall or a journal. ``random`` is the standard
    uncertainty that is new with each of the ``readings`` averaged. ``common`` names each cause that
    stays the same for everything it touches (a gauge's zero, a master) with its standard uncertainty;
    the same name on two parts is the same error.
    """

    name: str
    coefficient: float
    random: float
    readings: int = 1
    common: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Budget:
    """Standard uncertainty of a figure, and the standard uncertainty each term adds.

    ``random`` is by part, ``common`` by cause; the squares of all of them add up to ``u`` squared. A
    common term of nought cancels.
    """

    u: float
    random: dict[str, float]
    common: dict[str, float]


def random_part(standard_uncertainty: float, common_part: float | None) -> float:
    """Random part of a gauge's standard uncertainty, given its common part [unit of the input].

    Source: JCGM 100:2008, 5.1.2 (independent parts add in squares; from memory).

    Parameters
    ----------
    standard_uncertainty, common_part : float
        Of one reading; a common part that is not known counts as nought.

    Raises
    ------
    QuestionError
        A common part larger than the whole.
    """
    common = 0.0 if common_part is None or np.isnan(common_part) else common_part
    if common > standard_uncertainty:
        raise QuestionError(
            f"the common part {common} of a gauge is larger than its whole standard uncertainty "
            f"{standard_uncertainty}: correct the gauge's entry"
        )
    return float(np.sqrt(standard_uncertainty**2 - common**2))


def standard_uncertainty(parts: Sequence[Part]) -> Budget:
    """Standard uncertainty of a figure, common parts with their sign, random parts in quadrature.

    u^2 = sum over causes of (sum c_i u_i)^2 + sum over parts of (c_i u_random,i)^2 / readings. Two
    walls by one micrometer: its common part twice; a bore gauge zeroed in the micrometer that reads
    the journal: the micrometer's common part not at all.
    Source: JCGM 100:2008, 5.2.2 with correlation 1 inside a cause and 0 between causes (from memory).

    Parameters
    ----------
    parts : sequence of Part

    Raises
    ------
    QuestionError
        No part, a negative uncertainty, or no reading.
    """
    if not parts:
        raise QuestionError("an uncertainty needs at least one part")
    random: dict[str, float] = {}
    common: dict[str, float] = {}
    for part in parts:
        if part.readings < 1 or part.random < 0 or any(u < 0 for u in part.common.values()):
            raise QuestionError(f"{part.name} needs a reading or more and uncertainties of nought or more")
        own = part.coefficient * part.random / np.sqrt(part.readings)
        random[part.name] = float(np.hypot(random.get(part.name, 0.0), own))
        for cause, u in part.common.items():
            common[cause] = common.get(cause, 0.0) + part.coefficient * u
    common = {cause: abs(u) for cause, u in common.items()}
    total = float(np.sqrt(sum(u**2 for u in (*random.values(), *common.values()))))
    return Budget(total, random, common)
