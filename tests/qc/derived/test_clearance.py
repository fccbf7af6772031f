import numpy as np
import pytest

from qc.derived.clearance import by_parts, main_clearance_installed, piston_clearance
from qc.errors import QuestionError


def test_bearing_clearance_takes_the_mean_bore_and_the_largest_journal():
    # 53.048 mm mean bore less the largest journal of 52.998 mm is 50 um (by hand).
    found = main_clearance_installed([[53_047.0, 53_049.0]], [[52_990.0, 52_998.0, 52_995.0, 52_996.0]])
    assert found == pytest.approx([50.0], abs=1e-9)


def test_clearance_by_parts_takes_both_walls_off():
    # 57.000 - 2 x 1.980 - 52.990 = 0.050 mm (by hand).
    found = by_parts([57_000.0], [1_980.0], [[1_979.0, 1_981.0]], [[52_985.0, 52_990.0]])
    assert found == pytest.approx([50.0], abs=1e-9)


def test_the_published_wall_band_gives_twice_its_width_in_clearance():
    # TM 9-2815-202-34 p. 4-156: walls 0.1545 to 0.1552 in, 18 um of wall are 36 um of clearance.
    thin, thick = 0.1545 * 25_400, 0.1552 * 25_400
    wide, narrow = by_parts([100_000.0, 100_000.0], [thin, thick], [thin, thick], [92_000.0, 92_000.0])
    assert wide - narrow == pytest.approx(36.0, abs=0.5)


def test_a_coated_skirt_may_be_larger_than_its_bore():
    # A workshop manual's range runs from -16 to +31 um.
    assert piston_clearance([96_010.0], [96_026.0])[0] == pytest.approx(-16.0)


def test_a_missing_journal_reading_leaves_no_clearance():
    assert np.isnan(main_clearance_installed([53_048.0], [[52_990.0, np.nan]])[0])
    assert np.isnan(by_parts([57_000.0], [np.nan], [1_980.0], [52_990.0])[0])


def test_an_incomplete_set_of_parts_is_refused():
    with pytest.raises(QuestionError, match="shell_bore 2, journal 1"):
        main_clearance_installed([53_048.0, 53_050.0], [52_990.0])
