"""Numbers on the pages are those that `qc ... --json` prints, over a part of the demo shop's files."""

import json
import re
import subprocess
import sys
from functools import cache
from pathlib import Path
from urllib.parse import urlencode

import pytest
from playwright.sync_api import expect

pytestmark = pytest.mark.browser
ROOT = Path(__file__).parents[2]
MINUS = "\N{MINUS SIGN}"
KEYS = ("machine", "operation", "characteristic", "method", "state")


@cache
def _asked(store: Path, *words: str) -> dict:
    done = subprocess.run(
        [sys.executable, "-m", "qc", *words, "--store", str(store), "--json"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )
    assert done.returncode in (0, 1), done.stderr
    return json.loads(done.stdout)


def _number(value: float, digits: int, *, sign: bool = False) -> str:
    text = f"{value:+.{digits}f}" if sign else f"{value:.{digits}f}"
    return (text.lstrip("+-") if float(text) == 0 else text).replace("-", MINUS)


def _series(row: dict, **more: str) -> str:
    return "/series?" + urlencode({key: row[key] for key in KEYS} | more)


SIZES = ("capability", "--characteristic", "bore_diameter")


@pytest.fixture(scope="module")
def bore(demo_store) -> dict:
    """The capability row of the bore size with the most blocks."""
    rows = _asked(demo_store, *SIZES)["series"]
    return max((r for r in rows if r["ppk"] is not None and r["unit"] == "um"), key=lambda r: r["blocks"])


def test_the_floor_has_every_series_of_the_drift_answer_in_its_order(open_page, demo, demo_store):
    rows = _asked(demo_store, "drift")["series"]
    page = open_page(demo)
    loud = [r["id"] for r in rows if r["condition"] not in ("steady", "thin")]
    quiet = [r["id"] for r in rows if r["condition"] in ("steady", "thin")]
    for where, series in ((".loud", loud), ("#rest", quiet)):
        lines = page.locator(f"{where} [data-series]").all()
        shown = [one.get_attribute("data-series") for one in lines]
        assert [s for s in shown if s in series] == series
    steady = sum(r["condition"] == "steady" for r in rows)
    assert f"{steady} steady" in page.locator("#rest > summary").inner_text()
    told = next(r for r in rows if r["bores_to_limit"] and r["bores_to_limit"]["median"] > 0)
    left = told["bores_to_limit"]
    line = page.locator(f"[data-series='{told['id']}'] .bores-left")
    expect(line).to_contain_text(f"about {left['median']:.0f} {left['of']} left, {left['lower']:.0f} to ")


def test_indices_and_spreads_are_those_of_the_capability_answer(open_page, demo, demo_store, bore):
    first = next(r for r in _asked(demo_store, *SIZES)["series"] if r["id"] == bore["id"])
    page = open_page(demo, _series(bore))
    part = page.locator("#capability")
    expect(part).to_be_visible()
    if first["blocks"] < 20:
        page.locator("summary", has_text="too few blocks for an index").click()
    ends = first["ppk_interval"]
    wanted = f"{_number(first['ppk'], 2)} ({_number(ends['lower'], 2)} to {_number(ends['upper'], 2)})"
    expect(page.locator("#index-ppk")).to_have_text(wanted)
    held = first["tolerance_interval"]
    lower, upper = (_number(held[end], 1, sign=True) for end in ("lower", "upper"))
    between = f"from {lower} to {upper} \N{MICRO SIGN}m"
    expect(page.locator("#tolerance-words")).to_contain_text(between)
    row = part.locator(".facts div", has=page.locator("dt", has_text="all together")).locator("dd")
    expect(row).to_have_text(re.compile(rf"^{first['spread_all']:.1f}"))
    counted = first["outside"]["counted"]
    expect(part).to_contain_text(f"{counted['n']} of {counted['of']}")


def test_the_blocks_and_limits_of_the_ribbon_are_those_of_the_chart_answer(open_page, demo, demo_store, bore):
    words = [word for key in KEYS for word in (f"--{key}", bore[key])]
    chart = _asked(demo_store, "chart", *words)["series"][0]
    page = open_page(demo, _series(bore))
    page.locator("#blocks > summary").click()
    rows = page.locator("#blocks tbody tr")
    expect(rows).to_have_count(len(chart["blocks"]))
    newest = chart["blocks"][-1]
    cells = rows.first.locator("td").all_inner_texts()
    assert cells[0] == newest["build"]
    assert cells[2] == str(newest["n"])
    assert cells[3:6] == [_number(newest[k], 1, sign=True) for k in ("mean", "lowest", "highest")]
    limit = _number(chart["upper_limit"], 1, sign=True)
    expect(page.locator("#series-ribbon")).to_contain_text(f"limit for block means {limit}")


def test_the_readings_behind_a_block_are_those_that_the_chart_names(open_page, demo, demo_store, bore):
    words = [word for key in KEYS for word in (f"--{key}", bore[key])]
    block = _asked(demo_store, "chart", *words)["series"][0]["blocks"][-1]
    readings = {
        r["id"]: r for r in _asked(demo_store, "readings", *words, "--build", block["build"])["readings"]
    }
    page = open_page(demo, _series(bore, block=block["build"]))
    rows = page.locator("#readings tbody tr")
    expect(rows).to_have_count(len(block["readings"]))
    shown = [row.locator("td").all_inner_texts() for row in rows.all()]
    wanted = {(r["text"], r["file"], r["row"]) for r in (readings[i] for i in block["readings"])}
    assert {(cells[2], cells[3], cells[4]) for cells in shown} == wanted


def test_the_month_shows_the_figures_of_its_answer(open_page, demo, demo_store):
    month = max(r["last_at"] for r in _asked(demo_store, "series")["series"])[:7]
    rows = _asked(demo_store, "month", month)["rows"]
    page = open_page(demo, f"/month?month={month}")
    expect(page.locator(".month-row")).to_have_count(len(rows))
    row = rows[0]
    figure = next(f for f in row["figures"] if f["unit"] == "um")
    key = "/".join(
        [row["machine"], row["operation"], figure["characteristic"], figure["method"], row["state"]]
    )
    cells = page.locator(f"[data-series='{key}'] td").all_inner_texts()
    assert cells[2] == str(figure["blocks"])
    assert cells[3].lstrip("+").startswith(_number(figure["mean"], 1))
    then = figure["against"]["last_month"]
    if then["spread_ratio"] is not None:
        assert f"{then['spread_ratio']:.2f} times" in cells[6]


def test_clearances_are_those_of_the_answer_in_its_order(open_page, demo, demo_store):
    builds = _asked(demo_store, "clearance")["builds"]
    build = max(builds, key=lambda b: b["at"])
    page = open_page(demo, "/builds")
    expect(page.locator("h1")).to_have_text(build["build"])
    shown = page.locator(".clearances .achieved").all_inner_texts()
    wide = ("end_play", "rod_side_clearance", "ring_gap")
    close = [p for p in build["positions"] if p["characteristic"] not in wide]
    assert shown[: len(close)] == [
        "\N{EN DASH}" if p["achieved"] is None else _number(p["achieved"], 1) for p in close
    ]


def test_files_are_added_through_the_page_and_a_second_time_kept_already(open_page, demo, tmp_path):
    head = (
        "build,machine,operation,characteristic,feature,value,unit,measured_at,target,lower,upper,gauge,"
        "state\n"
    )
    rest = "mm,2026-05-03T10:00:00Z,96.003,95.99,96.02,bg-bore-1,plate_on"
    lines = [f"Z-1,hone-9,finish_bore,bore_diameter,cyl-{n},96.00{n},{rest}" for n in range(1, 7)]
    sheet = tmp_path / "added.csv"
    sheet.write_text(head + "\n".join(lines) + "\n", encoding="utf-8")
    page = open_page(demo)
    for words in ("6 kept", "already kept, nothing new in it"):
        page.locator("#drop input[type=file]").set_input_files(str(sheet))
        expect(page.locator("#drop-news")).to_contain_text(f"added.csv: {words}")
        page.locator("#drop-news .way").click()
        page.wait_for_selector("#map")
    expect(page.locator("#map")).to_contain_text("hone-9")
