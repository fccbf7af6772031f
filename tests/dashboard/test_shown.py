"""Numbers as a person reads them. 1 in = 25.4 mm exactly (international inch, 1959)."""

import pytest

from dashboard.theme.colours import DATA, INK, MUTED, PAIRS, PAPER, contrast, figure_css
from dashboard.theme.shown import Shown, in_units, interval, month, number, quantity, share, shown, spread

MINUS = "\N{MINUS SIGN}"


@pytest.mark.parametrize(
    ("value", "decimals", "sign", "text"),
    [
        (-3.26, 1, False, f"{MINUS}3.3"),
        (3.26, 1, True, "+3.3"),
        (-0.04, 1, True, "0.0"),
        (0.0, 2, True, "0.00"),
        (None, 1, False, "\N{EN DASH}"),
    ],
)
def test_a_number_has_a_true_minus_and_no_signed_nought(value, decimals, sign, text):
    assert number(value, decimals, sign=sign) == text


@pytest.mark.parametrize(
    ("unit", "characteristic", "value", "text"),
    [
        ("um", "bore_diameter", 25.4, "10.0 tenths"),  # 0.001 in
        ("um", "ra", 0.254, "10.0 µin"),
        ("mm", "bore_diameter", 101.6, "4.0000 in"),
        ("deg", "crosshatch_angle", 32.04, "32.0°"),
        ("min", "minutes_per_bore", 4.25, "4.2 min"),
    ],
)
def test_inches_are_exact(unit, characteristic, value, text):
    assert quantity(value, shown(unit, "inch", characteristic)) == text


def test_metric_is_shown_as_it_is():
    assert quantity(-2.54, shown("um", "metric", "bore_diameter"), sign=True) == f"{MINUS}2.5 µm"
    assert quantity(0.254, shown("um", "metric", "ra")) == "0.25 µm"


def test_a_small_spread_keeps_a_second_digit():
    how = Shown("µm", 1.0, 1)
    assert spread(0.72, how) == "0.72 µm"
    assert spread(1.43, how) == "1.4 µm"


@pytest.mark.parametrize(
    ("found", "text"),
    [
        ({"lower": 1.12, "upper": 1.61}, "1.12 to 1.61"),
        ({"lower": None, "upper": 4.0}, "at most 4.00"),
        ({"lower": -1.0, "upper": None}, f"at least {MINUS}1.00"),
        (None, ""),
        ({"lower": None, "upper": None}, ""),
    ],
)
def test_an_interval_says_an_open_end(found, text):
    assert interval(found, 2) == text


def test_a_share_has_its_interval():
    assert (
        share({"n": 11, "of": 12, "interval": {"lower": 0.62, "upper": 0.998}}) == "11 of 12 (0.62 to 1.00)"
    )


def test_sentences_turn_their_lengths_into_the_shops_unit():
    told = f"95 % of bores lie in {MINUS}2.54 to 5.08 um, {MINUS}25.4 um from plan, 12 blocks."
    assert in_units(told, "metric") == told.replace(" um", " µm")
    wanted = f"95 % of bores lie in {MINUS}1.0 to 2.0 tenths, {MINUS}10.0 tenths from plan, 12 blocks."
    assert in_units(told, "inch") == wanted


def test_a_month_is_written_out():
    assert month("2026-05") == "May 2026"


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [
        ("#000000", "#FFFFFF", 21.0),
        ("#767676", "#FFFFFF", 4.54),
    ],  # WCAG 2.1 technique G18 and its usual example
)
def test_contrast_is_that_of_wcag(one, other, ratio):
    assert contrast(one, other) == pytest.approx(ratio, abs=0.005)


@pytest.mark.parametrize("text", [INK, MUTED, DATA])
@pytest.mark.parametrize("which", [None, 0])
def test_text_stands_out_from_the_paper_day_and_night(text, which):
    colour, paper = (text, PAPER) if which is None else (PAIRS[text][which], PAIRS[PAPER][which])
    assert contrast(colour, paper) >= 4.5


def test_the_style_sheet_of_the_figures_is_the_palettes():
    from pathlib import Path

    import dashboard

    sheet = Path(dashboard.__file__).with_name("assets") / "figures.css"
    assert sheet.read_text(encoding="utf-8").endswith(figure_css())


def test_no_style_sheet_asks_another_host():
    from pathlib import Path

    import dashboard

    for sheet in Path(dashboard.__file__).with_name("assets").glob("*.css"):
        assert "//" not in sheet.read_text(encoding="utf-8").replace("http://www.w3.org", "")
