import json
from pathlib import Path

import pytest

from qc.derived.temperature import at_20
from qc.errors import QuestionError

CASE = json.loads(
    (Path(__file__).parents[2] / "reference" / "thermal_expansion.json").read_text(encoding="utf-8")
)
IRON, ALUMINIUM, STEEL = (
    1e-6 * CASE["expected"][key] for key in ("grey_cast_iron", "aluminium_356", "gauge_block_steel")
)


def test_gauge_set_on_a_steel_ring_needs_only_the_difference():
    # thermal_expansion: 100 mm bore in aluminium 356, bore and ring at 26 degC: 6.0 um too large.
    read = 100_000.0
    assert read - at_20(read, ALUMINIUM, 26.0, STEEL, 26.0) == pytest.approx(6.0, abs=1e-6)


def test_an_absolute_instrument_needs_the_whole_expansion():
    # Same case's coefficient: 21.5e-6 x 100 mm x 6 K = 12.9 um.
    assert 100_000.0 - at_20(100_000.0, ALUMINIUM, 26.0) == pytest.approx(12.9, abs=1e-6)


def test_iron_read_with_a_warm_steel_ring_is_nearly_right():
    # 11.4 against 11.5: the ring grows more than the block, by 0.08 um at 28 degC.
    assert at_20(100_000.0, IRON, 28.0, STEEL, 28.0) - 100_000.0 == pytest.approx(0.08, abs=1e-6)


def test_at_20_degrees_nothing_changes():
    assert at_20(96_000.0, ALUMINIUM, 20.0, STEEL, 20.0) == 96_000.0


def test_half_a_master_is_refused():
    with pytest.raises(QuestionError, match="both the master's"):
        at_20(96_000.0, ALUMINIUM, 26.0, STEEL)
    with pytest.raises(QuestionError, match="small number"):
        at_20(96_000.0, 21.5, 26.0)
