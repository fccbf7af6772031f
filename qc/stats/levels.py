"""The alarm budget: how often a quiet series may call for somebody."""

from qc.errors import QuestionError

DEFAULT_LEVEL = 0.00073
"""Level per series and block with no budget set: 5 % of steady series have one false alarm in 70 blocks."""


def alarm_level(false_alarms_a_month: float | None, blocks_a_month: float) -> float:
    """Return the level of a test per series and block, the budget over the blocks that are tested.

    Source: own rule, alarm budget: B / (blocks a month over all charted series).

    Parameters
    ----------
    false_alarms_a_month : float or None
        Accepted false matters a month; None = not set, `DEFAULT_LEVEL` holds.
    blocks_a_month : float
        Blocks a month summed over all series that are not thin.

    Raises
    ------
    QuestionError
        A budget that is not above nought.
    """
    if false_alarms_a_month is None or blocks_a_month <= 0:
        return DEFAULT_LEVEL
    if not false_alarms_a_month > 0:
        raise QuestionError("false_alarms_a_month must be above 0: no test alarms only when it should")
    return min(0.05, false_alarms_a_month / blocks_a_month)


def false_alarms(level: float, blocks: float) -> float:
    """Return how many false alarms a level gives over so many blocks, on average."""
    return level * blocks
