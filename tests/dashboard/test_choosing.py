"""A person chooses the kind of chart in the browser: asked for initials and why, and told afterwards."""

from playwright.sync_api import expect

TAPER = "/series?machine=hone-2&operation=finish_bore&characteristic=bore_taper&method=ends&state=plate_on"


def test_a_kind_is_kept_for_a_series_with_initials_and_reason_only(open_page, shop):
    page = open_page(shop, TAPER)
    page.locator("#kind .choosing summary").click()
    form = page.locator("#kind .choosing")
    form.locator("button.say").click()
    expect(form.locator(".refused-words")).to_contain_text("initials")
    form.get_by_placeholder("Initials").fill("AB")
    form.get_by_placeholder("Why").fill("small shifts matter")
    form.locator("input").first.click()
    page.get_by_role("option", name="running average of block means (EWMA)").click()
    form.locator("button.say").click()
    expect(page.locator("#kind")).to_contain_text("Chosen by AB, because: small shifts matter.")


def test_another_kind_is_looked_at_by_its_address(open_page, shop):
    page = open_page(shop, TAPER)
    page.locator("#series-kind").click()
    page.get_by_role("option", name="spread in each block").click()
    page.wait_for_url("**kind=spread**")
