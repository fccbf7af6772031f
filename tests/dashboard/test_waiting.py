"""Doubts decided on the page, in a real browser over a real store."""

import re

import pytest
from playwright.sync_api import expect

from qc.ingest.run import ingest
from qc.records import Asked
from qc.store import Store
from tests.dashboard.conftest import served
from tests.qc.shopfloor import reading, text, window

pytestmark = pytest.mark.browser
BUILDS = ("B1", "B2", "B3", "B4")
NOTE = "<script>document.title='broken'</script>"


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """A store with a window and four builds of eight bores, one bore of each typed in inches."""
    folder = tmp_path_factory.mktemp("waiting")
    (folder / "1-specs.csv").write_text(text([window(-10, 10)]), encoding="utf-8")
    for build in BUILDS:
        sizes = [f"96.00{n}" for n in range(1, 9)]
        sizes[3] = "3.7797"
        rows = [
            reading(build, f"cyl-{n + 1}", size, reading="size", unit="mm", note=NOTE)
            for n, size in enumerate(sizes)
        ]
        (folder / f"{build}.csv").write_text(text(rows), encoding="utf-8")
    place = folder / "shop.db"
    with Store.open(place, create=True) as store:
        ingest(store, [folder], by="test")
    return place


@pytest.fixture(scope="module")
def address(place):
    with served(str(place)) as told:
        yield told


def of_build(place, build):
    """Address of the open doubt of a build."""
    with Store.open(place) as store:
        held = store.held()
    return f"/waiting?finding={held[held['build'] == build]['finding_id'].iloc[0]}"


def counting(place, build):
    with Store.open(place) as store:
        frame = store.readings(Asked(build=(build,)))
    return dict(zip(frame["feature"], frame["value"] / 1e8, strict=True))


def decide(page, button, by="ann", why="typed in inches", own=None):
    page.locator("#doubt-by").fill(by)
    page.locator("#doubt-why").fill(why)
    if own is not None:
        page.locator("#doubt-text").fill(own)
    page.locator(f"#{button}").click()


def test_a_doubt_is_shown_with_both_verdicts_and_the_file_around_it(open_page, address, place):
    page = open_page(address, of_build(place, "B1"))
    full = page.locator(".doubt-full")
    for name in ("Why I doubt it", "What I propose", "What changes"):
        expect(full.locator("dt", has_text=name)).to_be_visible()
    expect(full).to_contain_text("As written 1 reading lies outside its limits; as proposed 1 lies inside.")
    expect(full.locator("td.doubted")).to_have_text("3.7797")
    assert page.title() != "broken"


def test_a_proposal_is_taken_and_taken_back(open_page, address, place):
    page = open_page(address, of_build(place, "B2"))
    decide(page, "doubt-correct")
    done = page.locator(".doubt-full .lead").first
    expect(done).to_contain_text("Taken as corrected by ann: typed in inches")
    assert counting(place, "B2")["cyl-4"] == pytest.approx(96.00438)
    decide(page, "doubt-undo", by="bea", why="other sheet")
    expect(page.locator(".doubt-list > ol strong", has_text="B2.csv")).to_have_count(1)
    assert "cyl-4" not in counting(place, "B2")
    expect(page.locator(".doubt-list details strong", has_text="B2.csv")).to_have_count(0)
    expect(page.locator(".doubt-full li")).to_have_text([
        re.compile(r"^ann took it as corrected on \d+ \w+ \d{4}: typed in inches\.$"),
        re.compile(r"^bea took that back on \d+ \w+ \d{4}: other sheet\.$"),
    ])  # fmt: skip


def test_what_a_person_writes_is_taken_instead_of_the_proposal(open_page, address, place):
    page = open_page(address, of_build(place, "B3"))
    decide(page, "doubt-correct", own="96.002")
    expect(page.locator(".doubt-full .lead").first).to_contain_text("Taken as corrected")
    assert counting(place, "B3")["cyl-4"] == 96.002


def test_a_decision_that_lacks_something_is_told_and_changes_nothing(open_page, address, place):
    page = open_page(address, of_build(place, "B4"))
    for by, why, own, told in (
        ("", "x", "", "A decision carries a name"),
        ("ann", "", "", "A decision needs a reason"),
        ("ann", "x", "about 96", "cannot be read"),
    ):
        decide(page, "doubt-correct", by, why, own)
        expect(page.locator("#doubt-news")).to_contain_text(told)
    assert "cyl-4" not in counting(place, "B4")


def test_the_page_of_a_number_that_is_none_says_so(open_page, address):
    page = open_page(address, "/waiting?finding=x")
    expect(page.locator("main")).to_contain_text("is no number of a doubt")
    page = open_page(address, "/waiting?finding=99")
    expect(page.locator("main")).to_contain_text("No doubt has the number 99")


def test_the_page_of_doubts_is_no_wider_than_the_screen(open_page, address):
    page = open_page(address, "/waiting")
    for width in (1440, 1180, 820):
        page.set_viewport_size({"width": width, "height": 1000})
        assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
    for button in page.locator(".act:visible").all():
        assert button.bounding_box()["height"] >= 44
