"""The files of the demo shop as bytes: one readings file a build, masters by month, registers."""

from __future__ import annotations

import csv
import io
from datetime import date, datetime, time, timedelta

import demo_families as facts
import xlsxwriter
from demo_bench import Bench, Row, gauge_error
from demo_draws import Draws
from demo_registers import registers
from demo_schedule import Plan, working_days

READINGS = (
    "build",
    "engine",
    "machine",
    "operation",
    "state",
    "characteristic",
    "feature",
    "station_mm",
    "clock_deg",
    "order",
    "value",
    "unit",
    "target",
    "gauge",
    "operator",
    "sized_with",
    "part_c",
    "gauge_c",
    "measured_at",
)
DEVIATIONS = (*READINGS[:10], "reading", *READINGS[10:])
MASTERS = (
    "build",
    "machine",
    "operation",
    "characteristic",
    "feature",
    "value",
    "unit",
    "target",
    "gauge",
    "master",
    "measured_at",
)
NUMBERS = {"station_mm", "clock_deg", "order", "value", "target", "part_c", "gauge_c"}
WORKBOOK_MADE = datetime(2025, 1, 1)  # noqa: DTZ001 - a workbook knows no zone


def csv_bytes(header: tuple[str, ...], rows: list[list[str]], semicolon: bool = False) -> bytes:
    """Return a CSV file, with comma and LF or with semicolon and CRLF."""
    out = io.StringIO()
    writer = csv.writer(
        out, delimiter=";" if semicolon else ",", lineterminator="\r\n" if semicolon else "\n"
    )
    writer.writerow(header)
    writer.writerows(rows)
    return out.getvalue().encode("utf-8")


def xlsx_bytes(header: tuple[str, ...], rows: list[list[str]]) -> bytes:
    """Return a workbook with one sheet; numbers as numbers, times as text; the same bytes each time."""
    out = io.BytesIO()
    book = xlsxwriter.Workbook(
        out, {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False}
    )
    book.set_properties({"created": WORKBOOK_MADE})
    sheet = book.add_worksheet("readings")
    for i, row in enumerate([list(header), *rows]):
        for j, text in enumerate(row):
            if i and text and header[j] in NUMBERS:
                sheet.write_number(i, j, float(text))
            elif text:
                sheet.write_string(i, j, text)
    book.close()
    return out.getvalue()


def zone_offset(at: datetime) -> str:
    """Return the offset of Central European time, summer from late March to late October."""

    def last_sunday(month: int) -> date:
        end = date(at.year, month, 31)
        return end - timedelta(days=(end.weekday() + 1) % 7)

    return "+02:00" if last_sunday(3) <= at.date() < last_sunday(10) else "+01:00"


def halves(value: float, step: float) -> float:
    """Return a length in whole halves of a step."""
    return round(value / step * 2) / 2


def inch_cells(row: Row, deviation: bool) -> tuple[str, str, str, str]:
    """Return reading, value, unit and target of a row typed in inch units, read to half a tenth."""
    if row.kind == "minutes":
        return "", f"{row.value:.1f}", "min", ""
    if row.kind == "texture":
        return "", f"{row.value / 0.0254:.1f}", "uin", ""
    if row.kind == "offset":
        return "", f"{halves(row.value, facts.TENTH):.1f}", "tenth", ""
    tenths = round(row.target / facts.TENTH)
    off = halves(row.value - row.target, facts.TENTH)
    if row.kind == "coarse":
        off = 5.0 * round(off / 5)
    if deviation:
        return "deviation", f"{off:.1f}", "tenth", f"{tenths / 10_000:.4f}"
    if row.kind == "coarse":
        return "", f"{(tenths + off) / 10:.1f}", "thou", f"{tenths / 10:.1f}"
    return "", f"{(tenths + off) / 10_000:.5f}", "in", f"{tenths / 10_000:.4f}"


def metric_cells(row: Row, deviation: bool) -> tuple[str, str, str, str]:
    """Return reading, value, unit and target of a row typed in mm or um."""
    if row.kind == "minutes":
        return "", f"{row.value:.1f}", "min", ""
    if row.kind == "texture":
        return "", f"{row.value:.3f}", "um", ""
    if row.kind == "offset":
        return "", f"{round(row.value)}", "um", ""
    value = round(row.value / 10) * 10 if row.kind == "coarse" else round(row.value)
    target = f"{row.target / 1000:.3f}"
    if deviation:
        return "deviation", f"{value - round(row.target)}", "um", target
    return "", f"{value / 1000:.3f}", "mm", target


def mistyped_value(row: Row, text: str) -> str:
    """Return the value of a bore of cylinders 3 and 4 as typed by mistake: inches in a file in mm."""
    wrong = row.characteristic == "bore_diameter" and row.operation == "plateau_hone"
    return f"{row.value / 25_400:.4f}" if wrong and row.feature in ("cyl-3", "cyl-4") else text


def build_file(bench: Bench) -> tuple[str, bytes]:
    """Return name and bytes of a build's readings file in the form that build is typed in."""
    build, form = bench.build, bench.build.form
    deviation = form in ("tenth", "um_deviation")
    cells = inch_cells if form in ("inch", "tenth") else metric_cells
    rows = []
    for row in bench.rows:
        reading, value, unit, target = cells(row, deviation)
        value = mistyped_value(row, value) if build.mistyped else value
        value = value.removeprefix("-") if value in ("-0", "-0.0") else value
        celsius = "20" if row.kind == "size" else ""
        place = ["" if v is None else str(v) for v in (row.station, row.clock, row.order)]
        at = row.at.isoformat(timespec="minutes") + (zone_offset(row.at) if form == "zoned" else "")
        rows.append(
            [
                build.name,
                build.family.name,
                row.machine,
                row.operation,
                row.state,
                row.characteristic,
                row.feature,
                *place,
                *([reading or "size"] if deviation else []),
                value,
                unit,
                target,
                row.gauge,
                row.operator,
                row.sized_with,
                celsius,
                celsius,
                at,
            ]
        )
    header = DEVIATIONS if deviation else READINGS
    name = f"{build.on('check').isoformat()}-{build.name}"
    if form == "xlsx":
        return name + ".xlsx", xlsx_bytes(header, rows)
    if form == "semicolon":
        comma = [
            [t.replace(".", ",") if h in NUMBERS else t for h, t in zip(header, r, strict=True)] for r in rows
        ]
        return name + ".csv", csv_bytes(header, comma, semicolon=True)
    return name + ".csv", csv_bytes(header, rows)


def master_files(seed: int) -> dict[str, bytes]:
    """Return the monthly files of master readings, taken on four mornings in five."""
    months: dict[str, list[list[str]]] = {}
    for day in working_days(facts.FIRST_DAY, facts.LAST_DAY):
        draws = Draws(seed, "masters", day.isoformat())
        for i, gauge in enumerate(g for g in facts.GAUGES if g.master):
            noise, taken = 0.3 * draws.one(), draws.uniform()[0] < 0.8
            if not taken:
                continue
            value = round(gauge.master_mm * 1000 + gauge_error(seed, gauge.name, day) + noise) / 1000
            at = datetime.combine(day, time(7, 30)) + timedelta(minutes=2 * i)
            months.setdefault(f"master-{day:%Y-%m}.csv", []).append(
                [
                    "",
                    gauge.name,
                    "check",
                    "master_check",
                    "master",
                    f"{value:.3f}",
                    "mm",
                    f"{gauge.master_mm:.4f}",
                    gauge.name,
                    gauge.master,
                    at.isoformat(timespec="minutes"),
                ]
            )
    return {name: csv_bytes(MASTERS, rows) for name, rows in months.items()}


def all_files(plan: Plan, benches: list[Bench], seed: int) -> dict[str, bytes]:
    """Return every file of the shop by name.

    Source: invented for the demo; columns as the file contract names them.
    """
    files = dict(build_file(bench) for bench in benches)
    files |= master_files(seed)
    files |= {name: csv_bytes(*table) for name, table in registers(plan, benches).items()}
    return dict(sorted(files.items()))
