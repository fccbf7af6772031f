"""Matters on the Floor page in a real browser: opened, taken up, refused, watched."""

import pytest
from playwright.sync_api import expect

pytestmark = pytest.mark.browser
TAPER = "hone-2-finish-bore-bore-taper-b-1060"


@pytest.fixture
def own_shop(serving):
    """An invented shop of its own: what is said in it stays in it."""
    return serving("full")


def test_a_matter_opens_to_its_series_its_bores_and_its_course(open_page, shop):
    page = open_page(shop)
    matter = page.locator(f"[data-matter='{TAPER}']")
    expect(matter.locator("summary").first).to_contain_text("Nobody has taken it up")
    matter.locator("summary").first.click()
    expect(matter.locator(".within [data-series]")).to_have_count(1)
    expect(matter).to_contain_text("Dress the stones; tell the foreman")
    expect(matter).to_contain_text("7 bores in 2 builds since B-1059, the last good block")
    matter.locator(".made > summary").click()
    expect(matter.locator(".bores li").first).to_contain_text("cyl-1 to cyl-4, cyl-6")
    expect(matter).to_contain_text("Opened on 9 March 2026 with build B-1060")


def test_a_person_takes_a_matter_up_with_initials_and_one_sentence(open_page, own_shop):
    page = open_page(own_shop, f"/?matter={TAPER}")
    matter = page.locator(f"[data-matter='{TAPER}']")
    expect(matter.locator(".hand-form")).to_be_visible()
    matter.get_by_role("button", name="Take it up").click()
    expect(matter.locator(".refused-words")).to_contain_text("Write your initials and one sentence")
    matter.get_by_label("Initials").fill("RK")
    matter.get_by_label("One sentence").fill("Stones <b>ordered</b> & on the way.")
    matter.get_by_role("button", name="Take it up").click()
    expect(matter.locator("summary").first).to_contain_text("Taken up by RK")
    expect(matter.locator("summary").first).to_contain_text("Stones <b>ordered</b> & on the way.")
    page.reload()
    expect(page.locator(f"[data-matter='{TAPER}'] summary").first).to_contain_text("Taken up by RK")


def test_what_was_done_stands_in_its_course(open_page, own_shop):
    page = open_page(own_shop, f"/?matter={TAPER}")
    matter = page.locator(f"[data-matter='{TAPER}']")
    matter.get_by_label("Initials").fill("RK")
    matter.get_by_label("One sentence").fill("Stones dressed.")
    matter.get_by_role("button", name="Done").click()
    expect(matter.locator(".course").last).to_contain_text("Done by RK on 22 May 2026: Stones dressed.")


def test_an_address_without_its_matter_opens_none(open_page, shop):
    page = open_page(shop)
    expect(page.locator(".hand-form").first).to_be_hidden()


def test_ended_matters_are_watched_or_folded(open_page, shop):
    page = open_page(shop)
    expect(page.locator("#watched [data-matter]")).to_have_count(1)
    expect(page.locator("#watched")).to_contain_text("stones changed")
    expect(page.locator("#past > summary")).to_have_text("1 matter ended before")
    expect(page.locator("#past [data-matter]")).to_be_hidden()


def test_what_lies_ahead_and_what_nobody_logged_are_told_once(open_page, shop):
    page = open_page(shop, f"/?matter={TAPER}")
    expect(page.locator(f"[data-matter='{TAPER}']")).to_contain_text("About 143 bores to the upper limit.")
    expect(page.locator("#proposed > summary")).to_have_text("1 change that nobody logged")
    page.locator("#proposed > summary").click()
    expect(page.locator("#proposed")).to_contain_text("taper fell back by 3 µm with build B-1070")
    expect(page.locator("#proposed")).to_contain_text("qc event add --machine m")


def test_the_alarm_budget_is_told(open_page, shop):
    page = open_page(shop)
    expect(page.locator(".budget")).to_contain_text("About 0.22 false matters a month")


@pytest.mark.parametrize("width", [1440, 1180, 820])
def test_an_open_matter_fits_the_screen_and_the_finger(open_page, shop, width):
    page = open_page(shop, f"/?matter={TAPER}", width=width)
    form = page.locator(f"[data-matter='{TAPER}'] .hand-form")
    expect(form).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    for one in (*form.locator("input").all(), *form.locator("button").all()):
        assert one.bounding_box()["height"] >= 44


def test_paper_shows_the_matters_and_no_form(open_page, shop):
    page = open_page(shop, f"/?matter={TAPER}")
    page.emulate_media(media="print")
    expect(page.locator(f"[data-matter='{TAPER}'] .sentence").first).to_be_visible()
    expect(page.locator(".hand-form").first).to_be_hidden()
