"""The four pages in a real browser, over the invented shop."""

import re

import pytest
from playwright.sync_api import expect

pytestmark = pytest.mark.browser
TAPER = "/series?machine=hone-2&operation=finish_bore&characteristic=bore_taper&method=ends&state=plate_on"


def test_the_floor_lists_what_needs_a_person_in_the_order_of_the_answer(open_page, shop):
    page = open_page(shop)
    expect(page.locator("h1")).to_have_text("3 matters need a look")
    lines = page.locator(".loud > [data-matter]")
    expect(lines).to_have_count(3)
    told = lines.locator("> .matter .condition").all_inner_texts()
    assert [t.strip() for t in told] == ["drifting", "stepped", "scattered"]
    expect(lines.first).to_contain_text("Dress or change the stones of hone-2")
    expect(lines.first).to_contain_text("about 143 bores left, 92 to 264")
    expect(lines.nth(2)).to_contain_text("120 to no end in sight")


def test_the_steady_rest_is_one_line_that_opens(open_page, shop):
    page = open_page(shop)
    summary = page.locator("#rest > summary")
    expect(summary).to_have_text("5 steady, 2 too few blocks to say")
    expect(page.locator("#rest .quiet [data-series]").first).to_be_hidden()
    summary.click()
    expect(page.locator("#rest .quiet [data-series]")).to_have_count(7)
    expect(page.locator("#rest .quiet [data-series]").first).to_be_visible()


def test_what_waits_opens_to_its_five_parts(open_page, shop):
    page = open_page(shop)
    page.locator("#waiting > summary").click()
    waiting = page.locator("#waiting")
    for words in (
        "row 14 value",
        "95.012 mm at cyl-3.",
        "1 mm under",
        "96.012 would fit",
        "not conform",
    ):
        expect(waiting).to_contain_text(words)
    expect(waiting.locator("a", has_text="Decide about it")).to_have_attribute("href", "/waiting?finding=7")


def test_a_line_of_the_floor_leads_to_its_series_and_back_through_the_history(open_page, shop):
    page = open_page(shop)
    page.locator(".loud > li > .matter").first.click()
    expect(page).to_have_url(shop + TAPER)
    expect(page.locator("#forecast")).to_have_text(
        "Forecast: meets the upper limit in about 143 bores, 92 to 264."
    )
    page.go_back()
    expect(page.locator("h1")).to_have_text("3 matters need a look")


def test_the_map_leads_to_the_series_of_a_machine_and_operation(open_page, shop):
    page = open_page(shop)
    page.locator("#map a", has_text="finish bore").first.click()
    expect(page.locator("h1")).to_have_text("2 series fit")
    page.locator(".row-link", has_text="bore size").click()
    expect(page.locator("#capability")).to_be_visible()


def test_the_large_ribbon_writes_its_limits_events_and_forecast_out(open_page, shop):
    page = open_page(shop, TAPER)
    drawn = page.locator("#series-ribbon")
    for words in (
        "upper limit 8.0",
        "lower limit \N{MINUS SIGN}8.0",
        "limit for block means",
        "stones changed",
        "meets the upper limit in about 143 bores, 92 to 264",
        "walks away",
    ):
        expect(drawn).to_contain_text(words)
    expect(page.locator("#series-ribbon .scatterlayer .points path").first).to_be_attached()


def test_a_dot_leads_to_the_file_row_and_text_of_its_readings_and_survives_reload(open_page, shop):
    page = open_page(shop, TAPER)
    points = page.locator("#series-ribbon .scatterlayer .trace").filter(has=page.locator("path.point"))
    expect(points.first).to_be_attached()
    box = points.first.locator("path.point").nth(3).bounding_box()
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    expect(page).to_have_url(re.compile("block=B-1043"))
    rows = page.locator("#readings tbody tr")
    expect(rows).to_have_count(8)
    expect(rows.first).to_contain_text("bench_2026-05-11.csv")
    page.reload()
    expect(page.locator("#readings h2")).to_contain_text("Readings behind B-1043")
    page.locator("#readings .close").click()
    expect(page.locator("#readings")).to_have_count(0)


def test_the_ribbon_runs_by_date_when_the_address_says_so(open_page, shop):
    page = open_page(shop, TAPER)
    expect(page.locator("#series-ribbon .xtick text").first).to_contain_text("bores")
    page.locator("#by-date").click()
    expect(page).to_have_url(re.compile("by=date"))
    expect(page.locator("#by-date.here")).to_be_visible()
    expect(page.locator("#series-ribbon .xtick text").first).not_to_contain_text("bores")


def test_another_series_is_chosen_by_typing_its_name(open_page, shop):
    page = open_page(shop, TAPER)
    page.locator("#series-pick").click()
    page.locator("#series-pick").fill("deck flat")
    page.get_by_role("option").first.click()
    expect(page).to_have_url(re.compile("characteristic=deck_flatness"))
    expect(page.locator("#capability")).to_contain_text("too few blocks for an index")
    expect(page.locator("#tolerance-words")).to_contain_text("95\N{NO-BREAK SPACE}% of bores lie from")


def test_every_missing_figure_says_why_and_every_figure_how(open_page, shop):
    page = open_page(shop, TAPER)
    page.locator("summary", has_text="What is not given, and why").click()
    expect(page.locator("#capability")).to_contain_text("the series is drifting")
    page.locator("summary", has_text="How was this computed").last.click()
    expect(page.locator(".how").last).to_contain_text("generalised pivotal quantities")


def test_units_are_the_shops_and_switch_everywhere(open_page, shop):
    page = open_page(shop, TAPER)
    expect(page.locator("#series-ribbon")).to_contain_text("upper limit 8.0")
    page.locator("label", has_text="tenths and in").click()
    # 8 um = 8 / 2.54 tenths of a thousandth of an inch
    expect(page.locator("#series-ribbon")).to_contain_text("upper limit 3.1")
    page.locator("label", has_text="µm and mm").click()
    expect(page.locator("#series-ribbon")).to_contain_text("upper limit 8.0")


def test_the_month_compares_each_machine_in_words_with_intervals(open_page, shop):
    page = open_page(shop, "/month?month=2026-05")
    expect(page.locator("h1")).to_have_text("May 2026")
    first = page.locator(".month-row").first
    expect(first).to_contain_text("right at the first pass 4 of 5")
    expect(first.locator("[data-against=last_month]").first).to_contain_text("less even")
    expect(first.locator("[data-against=last_month]").first).to_contain_text("1.55 times (1.21 to 1.98)")
    page.locator(".step", has_text="Month before").click()
    expect(page).to_have_url(re.compile("month=2026-04"))


def test_clearances_stand_tightest_first_and_open_to_their_parts(open_page, shop):
    page = open_page(shop, "/builds")
    expect(page.locator("h1")).to_have_text("B-1073")
    rows = page.locator(".clearances [data-position]")
    assert rows.first.get_attribute("data-position") == "main-3/main_clearance"
    # guard band 1.645 standard uncertainties (ISO 14253-1, one-sided 95 %): 1.645 x 1.5 um = 2.5 um
    expect(rows.first).to_contain_text("27.0 ± 2.5")
    expect(rows.first).to_contain_text("does not conform")
    expect(rows.nth(1)).to_contain_text("the gauge cannot tell")
    expect(rows.last).to_contain_text("missing: journal diameter")
    rows.first.locator("summary").click()
    expect(rows.first).to_contain_text("64.012 mm")
    expect(page.locator(".cautions")).to_contain_text("responsible machinist decide")


def test_another_build_is_chosen_and_stands_in_the_address(open_page, shop):
    page = open_page(shop, "/builds")
    page.locator("#build-pick").click()
    page.get_by_role("option", name="B-1072").click()
    expect(page).to_have_url(re.compile("build=B-1072"))
    expect(page.locator("h1")).to_have_text("B-1072")
    page.reload()
    expect(page.locator("h1")).to_have_text("B-1072")


@pytest.mark.parametrize("path", ["/nowhere", "/builds?build=B-9", "/series?machine=none"])
def test_what_is_not_there_is_said_with_the_way_back(open_page, shop, path):
    page = open_page(shop, path)
    expect(page.locator("#page .way").first).to_be_visible()
    expect(page.locator("body")).not_to_contain_text("Traceback")


def test_an_empty_store_shows_the_first_steps(open_page, empty_shop):
    page = open_page(empty_shop)
    expect(page.locator("#first-steps h1")).to_contain_text("drop the shop's measurement files")
    expect(page.locator("#first-steps")).to_contain_text("qc demo")
    expect(page.locator("#drop")).to_be_visible()


@pytest.mark.parametrize("width", [1440, 1100, 820])
@pytest.mark.parametrize("path", ["/", TAPER, "/month?month=2026-05", "/builds"])
def test_no_page_is_wider_than_the_screen(open_page, shop, path, width):
    page = open_page(shop, path, width=width)
    expect(page.locator(".cautions")).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_what_is_touched_is_44_pixels_high(open_page, shop):
    page = open_page(shop, width=820)
    for selector in (
        "nav a",
        ".loud > li > .matter",
        "#rest > summary",
        "#waiting > summary",
        "header label",
        "#map li a",
        "#drop",
    ):
        for box in [one.bounding_box() for one in page.locator(selector).all()]:
            assert box["height"] >= 44, selector


def test_the_dark_scheme_swaps_paper_and_dots(open_page, shop):
    page = open_page(shop, TAPER, scheme="dark")
    dot = page.locator("#series-ribbon path.point").first
    expect(dot).to_be_attached()
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(21, 24, 27)"
    assert dot.evaluate("e => getComputedStyle(e).fill") == "rgb(88, 169, 221)"


def test_paper_has_its_head_the_drawn_ribbon_and_no_controls(open_page, shop):
    page = open_page(shop, TAPER)
    page.emulate_media(media="print")
    expect(page.locator("#printed-head")).to_be_visible()
    expect(page.locator("#printed-head")).to_contain_text("revision")
    expect(page.locator(".large-ribbon img")).to_be_visible()
    for selector in ("header.top", "#series-pick", "#series-ribbon"):
        expect(page.locator(selector)).to_be_hidden()
