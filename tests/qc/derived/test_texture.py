import pytest

from qc.derived.texture import vo
from qc.errors import QuestionError


def test_oil_volume_of_a_triangle_of_valleys():
    # Triangle of height Rvk = 1.5 um over (100 - 80) % of the length: 1.5 x 0.20 / 2 = 0.15 um (geometry),
    # which is 0.015 mm^3/cm^2.
    assert vo([1.5], [80.0])[0] == pytest.approx(0.15)


def test_no_valleys_hold_no_oil():
    assert vo([1.5], [100.0])[0] == 0.0


def test_a_ratio_over_100_percent_is_refused():
    with pytest.raises(QuestionError, match="between 0 and 100"):
        vo([1.5], [800.0])
