import pytest

from qc.errors import QuestionError
from qc.stats.levels import DEFAULT_LEVEL, alarm_level, false_alarms


def test_budget_is_spread_over_all_blocks_of_a_month():
    # 2 accepted a month over 400 series-blocks (by hand).
    assert alarm_level(2.0, 400.0) == pytest.approx(0.005)
    assert false_alarms(0.005, 400.0) == pytest.approx(2.0)


def test_level_without_a_budget_is_five_percent_of_steady_series_in_70_blocks():
    assert alarm_level(None, 400.0) == DEFAULT_LEVEL
    one_or_more = 1 - (1 - DEFAULT_LEVEL) ** 70
    assert one_or_more == pytest.approx(0.05, abs=5e-4)


def test_no_false_alarms_at_all_cannot_be_had():
    with pytest.raises(QuestionError, match="above 0"):
        alarm_level(0.0, 400.0)
