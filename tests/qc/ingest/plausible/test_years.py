"""Dates a year back in a shop without a list of builds."""

import pytest

from qc.ingest.plausible import years
from tests.generate import small_shop as small

CHECKS = (years,)
NEXT = 10


def sheet(number, year=2026, **more):
    """Two bores of a block, all dates of one year; blocks lie three days apart from 5 January 2026 on."""
    rows = [r for r in small.bores(number) if r["state"] == "plate_on" and r["feature"] in ("cyl-1", "cyl-2")]
    return [r | {"measured_at": f"{year}{r['measured_at'][4:]}", **more} for r in rows]


def shop(order=range(NEXT)):
    return {f"{k:02}.csv": sheet(i) for k, i in enumerate(order)}


def ours(findings):
    return [f for f in findings if f["code"] == "year_back"]


@pytest.mark.parametrize(("year", "much"), [(2025, "a year"), (2016, "10 years")])
def test_a_date_of_last_year_or_with_a_wrong_digit_is_asked_about(grow, year, much):
    _, findings = grow(shop() | {"next.csv": sheet(NEXT, year)})
    (found,) = ours(findings)
    assert (found["severity"], found["count"]) == ("ask", 12)
    assert f"{much} behind the last" in found["doubt"]
    # the eleventh block, 30 days after 5 January
    assert f"{year}-02-04" in found["saw"]
    assert f"Is {year}-02-04 meant as 2026-02-04?" in found["proposal"]


@pytest.mark.parametrize(
    "then",
    [
        {"next.csv": sheet(NEXT)},
        {"next.csv": sheet(NEXT, 2024)},  # two years back is no slip of one digit
        {"builds.csv": small.builds(NEXT + 1), "next.csv": sheet(NEXT, 2025)},  # the list tells
        {"late.csv": sheet(1, build="N1b")},  # brought in some weeks late
    ],
)
def test_other_dates_are_not_asked_about(grow, then):
    _, findings = grow(shop() | then)
    assert ours(findings) == []


def test_a_shop_that_takes_in_old_files_in_any_order_is_not_asked(grow):
    months = {f"{k}.csv": sheet(k, measured_at=f"2025-{m:02}-10T08:00") for k, m in
              enumerate((3, 9, 1, 12, 5, 2, 11, 7, 4))}  # fmt: skip
    _, findings = grow(months | {"next.csv": sheet(NEXT, measured_at="2024-12-12T08:00")})
    assert ours(findings) == []


def test_an_old_build_of_which_more_is_known_from_then_is_not_asked_about(grow):
    first = sheet(NEXT, 2025, characteristic="ra", unit="um", target="", station_mm="", clock_deg="")[:1]
    _, findings = grow(shop() | {"a.csv": first, "next.csv": sheet(NEXT, 2025)})
    assert ours(findings) == []
