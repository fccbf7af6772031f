"""Expected times by hand from the calendar (1970-01-01 is day 0; 2026-04-03 is day 20546) and by the
zone's offset."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.errors import TimeError
from qc.history import zone
from qc.ingest.times import form, parse_at, shop_zone

DAY = 86_400_000_000
APRIL_3 = 20_546 * DAY
HOUR = 3_600_000_000
MIN, MAX = (datetime(year, 1, 1, tzinfo=UTC).replace(tzinfo=None) for year in (1990, 2090))


@pytest.mark.parametrize(
    ("text", "hours"),
    [
        ("2026-04-03T08:15", 8.25),
        ("2026-04-03 08:15", 8.25),
        ("2026-04-03T08:15:00Z", 8.25),
        ("2026-04-03T08:15:00+02:00", 6.25),
        ("2026-04-03T08:15+0200", 6.25),
        ("2026-04-03T08:15:00.000", 8.25),
        ("2026/04/03 08:15", 8.25),
        ("20260403T0815", 8.25),
        (" 2026-04-03T08:15 ", 8.25),
    ],
)
def test_a_time_of_day_is_read_with_its_zone_or_the_shops(text, hours):
    assert parse_at(text, UTC) == (APRIL_3 + int(hours * HOUR), False)


def test_a_time_without_zone_is_in_the_shops_zone():
    # central European summer time is two hours before UTC
    assert parse_at("2026-04-03T08:15", ZoneInfo("Europe/Berlin")) == (APRIL_3 + int(6.25 * HOUR), False)


def test_a_date_alone_is_noon_and_an_events_is_the_start_of_the_day():
    assert parse_at("2026-04-03", UTC) == (APRIL_3 + 12 * HOUR, True)
    assert parse_at("2026-04-03", UTC, date_at="start") == (APRIL_3, True)
    assert parse_at("2026-04-03", ZoneInfo("America/Chicago")) == (APRIL_3 + 17 * HOUR, True)


@pytest.mark.parametrize("text", ["2026-02-30", "2026-13-01", "2026-04-03T25:00", "31/02/2026", "03/04/2026",
                                  "45321", "yesterday", "", "3 April 2026", "2026-04"])  # fmt: skip
def test_what_is_not_one_sure_date_is_refused(text):
    with pytest.raises(TimeError, match="write it like"):
        parse_at(text, UTC)


def test_other_orders_are_read_once_the_shop_has_said_which():
    assert parse_at("03/04/2026", UTC, "day_first")[0] == APRIL_3 + 12 * HOUR
    assert parse_at("04/03/2026 08:15", UTC, "month_first")[0] == APRIL_3 + int(8.25 * HOUR)
    assert parse_at("3.4.26", UTC, "day_first")[0] == APRIL_3 + 12 * HOUR
    assert parse_at("04/03/2026 8:15 PM", UTC, "month_first")[0] == APRIL_3 + int(20.25 * HOUR)
    assert parse_at("04/03/2026 12:15 AM", UTC, "month_first")[0] == APRIL_3 + int(0.25 * HOUR)
    with pytest.raises(TimeError):
        parse_at("13/04/2026", UTC, "month_first")


def test_a_workbooks_day_count_is_read_only_when_the_shop_says_so():
    # 2024-01-30 is day 45321 counted from 1900 as workbooks do (common practice, no source)
    noon = datetime(2024, 1, 30, 12, tzinfo=UTC)
    expected = (noon - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(microseconds=1)
    assert parse_at("45321", UTC, "serial") == (expected, True)
    assert parse_at("45321.25", UTC, "serial")[0] == parse_at("2024-01-30T06:00", UTC)[0]


@given(st.datetimes(MIN, MAX), st.integers(-840, 840))
def test_any_time_with_offset_agrees_with_the_standard_librarys(at, minutes):
    sign, size = ("-" if minutes < 0 else "+"), abs(minutes)
    text = f"{at.isoformat()}{sign}{size // 60:02d}:{size % 60:02d}"
    expected = datetime.fromisoformat(text) - datetime(1970, 1, 1, tzinfo=UTC)
    assert parse_at(text, UTC)[0] == expected // timedelta(microseconds=1)


def test_the_form_of_a_date_is_told_without_reading_it():
    assert [form(t) for t in ("2026-04-03", "03.04.2026", "45321", "soon")] == [
        "iso", "day_or_month", "serial", "other",
    ]  # fmt: skip


def test_an_unknown_zone_is_refused_with_an_example():
    with pytest.raises(TimeError, match="Europe/Berlin"):
        shop_zone("Nowhere/Town")
    assert shop_zone("America/Chicago") == ZoneInfo("America/Chicago")


@pytest.mark.parametrize(("told", "hours_ahead"), [("Asia/Tokyo", 9), ("no zone at all", 0)])
def test_without_a_setting_times_are_read_in_the_zone_that_answers_are_told_in(
    monkeypatch, told, hours_ahead
):
    # Tokyo is nine hours before UTC all the year; a machine that names no zone counts as UTC
    monkeypatch.setenv("TZ", told)
    assert parse_at("2026-04-03T09:00", shop_zone(None))[0] == APRIL_3 + (9 - hours_ahead) * HOUR
    assert str(zone.shop_zone({})) == str(shop_zone(None))
