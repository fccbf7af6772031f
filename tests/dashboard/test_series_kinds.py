"""The Series page of a real store: charts by kind, shape of the bores, choices with initials and reason."""

import json
import random
import re
from base64 import b64decode

import numpy as np
import pytest
from plotly.utils import PlotlyJSONEncoder
from scipy import stats

from dashboard.answers import Answers
from dashboard.app import _view, create_app
from dashboard.components import address
from dashboard.figures import shape as shape_drawn
from dashboard.figures import strip as strip_drawn
from dashboard.pages.series.choosing import FAMILIES, KINDS
from dashboard.theme.shown import shown
from qc.errors import QuestionError
from qc.records import Asked
from qc.reports import chart, charts_by_kind, shape
from qc.reports.choices import SERIES_KINDS
from qc.reports.picture import ribbon
from qc.reports.strip import strip
from qc.store import Store
from tests.qc.shopfloor import Shop, block, event, window

SIZE = ("hone-1", "plateau_hone", "bore_diameter", "two_point", "plate_on")
SEARCH = "?" + "&".join(f"{k}={v}" for k, v in zip(address.IDENTITY, SIZE, strict=True))


def blocks():
    draw, rows = random.Random(5), []
    for n in range(24):
        level = draw.gauss(0, 1.0) + (9.0 if n == 20 else 0.0)
        day = f"2026-{2 + n // 12:02d}-{2 + 2 * (n % 12):02d}"
        sizes = [round(level + draw.gauss(0, 1.0), 1) for _ in range(4)]
        rows += block(f"B{n:02d}", f"{day}T09:00", sizes, engine="v8" if n % 3 else "i6")
    return rows


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    folder = tmp_path_factory.mktemp("kinds")
    with Store.open(folder / "shop.db", create=True) as store:
        shop = Shop(store, folder)
        stones = [event("stones_changed", "2026-03-14T06:00", operation="plateau_hone")]
        for rows in (blocks(), [window(-12, 12)], stones):
            shop.take(rows)
    return folder / "shop.db"


@pytest.fixture
def answers(place):
    return Answers(str(place), by="shop")


def text(view):
    return json.dumps(view, cls=PlotlyJSONEncoder, ensure_ascii=False)


def charted(store, kind):
    row = charts_by_kind.answer(store, Asked(), kind=kind)["series"][0]
    return row, ribbon(chart.answer(store, Asked())["series"][0])


def test_every_kind_that_can_be_chosen_has_everyday_words():
    assert set(KINDS) == set(SERIES_KINDS)


@pytest.mark.parametrize("kind", [k for k in SERIES_KINDS if k != "block_means"])
def test_a_kind_is_drawn_from_the_very_numbers_of_its_answer(answers, kind):
    row, above = charted(answers.store, kind)
    numbers = strip(row, above)
    assert [p.value for p in numbers.points] == [b["statistic"] for b in row["blocks"]]
    assert [p.x for p in numbers.points] == [d.x for d in above.dots]
    assert [bool(p.words) for p in numbers.points] == [bool(b["signals"]) for b in row["blocks"]]
    drawn = strip_drawn.figure(numbers, above, shown("um", "metric"), "UTC", "height").to_dict()
    heights = [v for p in numbers.points for v in (p.value, p.lower, p.upper) if v is not None]
    low, high = drawn["layout"]["yaxis"]["range"]
    assert low <= min(heights)
    assert max(heights) <= high
    said = [a["text"] for a in drawn["layout"]["annotations"]]
    assert any("upper limit" in t for t in said)
    dots = max((t for t in drawn["data"] if "markers" in t["mode"]), key=lambda t: len(t["x"]))
    assert [y for y in dots["y"] if y is not None] == pytest.approx(
        [p.value for p in numbers.points if p.value is not None]
    )


def test_lines_end_where_the_stones_were_changed(answers):
    row, above = charted(answers.store, "regression")
    drawn = strip_drawn.figure(strip(row, above), above, shown("um", "metric"), "UTC", "h").to_dict()
    lines = [t for t in drawn["data"] if t["mode"] == "lines"]
    assert len(lines) == 3  # both limits and the wear line
    assert all(sum(x is None for x in t["x"]) == 1 for t in lines)


def test_the_page_shows_the_kind_that_its_address_asks_for_with_words_and_questions(answers):
    told = text(_view(answers, "/series", SEARCH + "&kind=ewma"))
    assert "exponentially weighted moving average" in told
    assert "Five questions" in told
    assert "Do not look for one bad block" in told
    assert "series-strip" in told
    # each question leads to the charts that answer it
    assert "kind=cusum" in told
    assert "kind=spread" in told
    plain = text(_view(answers, "/series", SEARCH))
    assert "series-strip" not in plain
    assert "Limits are being learned from 24 blocks" in plain
    assert "B20 stands apart and widens them" in plain


@pytest.mark.parametrize(
    ("kind", "says"),
    [
        ("first_pass", "first-pass yield"),
        ("scrap", "still outside"),
        ("multivariate", "has not what a chart"),
    ],
)
def test_kinds_about_a_machines_whole_work_stand_on_the_page_too(answers, kind, says):
    told = text(_view(answers, "/series", SEARCH + f"&kind={kind}"))
    assert says in told
    assert ("series-strip" in told) is (kind != "multivariate")


def test_a_kind_nobody_knows_in_an_address_is_passed_over(answers):
    assert "cannot be answered" not in text(_view(answers, "/series", SEARCH + "&kind=bar"))


def test_figures_stand_on_the_page_in_words_with_what_must_be_read_to_prove_the_wanted_one(answers):
    told = text(_view(answers, "/series", SEARCH))
    row = answers.capability()["series"][0]
    assert f"Ppk {row['to_prove']['needed']:.2f} must be read from 24 blocks" in told
    assert "inside one block only" in told
    assert "it is no Cp" in told
    assert "Shape of the bores" in told


def test_the_shape_has_quantiles_of_the_bores_and_of_both_families(answers):
    row = shape.answer(answers.store, Asked())["series"][0]
    values = np.array(row["values"])
    assert values.size == 96
    taken, other = row["families"]
    assert (taken["name"], other["name"]) == ("normal", "logistic")
    z = np.array([-3, stats.norm.ppf(0.025), -1, 0, 1, stats.norm.ppf(0.975), 3])
    expected = values.mean() + z * values.std(ddof=1)
    assert [p["at"] for p in taken["points"]] == pytest.approx(list(expected))
    heavy = stats.logistic(values.mean(), values.std(ddof=1) * np.sqrt(3) / np.pi)
    assert [p["at"] for p in other["points"]] == pytest.approx(list(heavy.ppf(stats.norm.cdf(z))))
    # 96 bores do not reach 1 in 740
    assert [round(p["share"], 3) for p in row["counted"]] == [0.025, 0.159, 0.5, 0.841, 0.975]
    assert row["counted"][2]["at"] == pytest.approx(np.median(values))
    assert row["can_hold"] == ["normal"]


def test_the_pile_and_the_rungs_are_drawn_to_one_scale(answers):
    row = shape.answer(answers.store, Asked())["series"][0]
    source = shape_drawn.drawn(row, shown("um", "metric"), FAMILIES, sign=True)
    svg = b64decode(source.partition(",")[2]).decode()
    pile = re.search(r'<path d="((?:M[\d.]+,[\d.]+h0)+)"', svg).group(1)
    xs = [float(x) for x in re.findall(r"M([\d.]+),", pile)]
    assert len(xs) == 96
    limits = [float(x) for x in re.findall(r'<line x1="([\d.]+)" x2="\1" y1="16"', svg)]
    per = (limits[1] - limits[0]) / 24
    values = np.sort(row["values"])
    assert np.sort(xs) == pytest.approx(limits[0] + (values + 12) * per, abs=shape_drawn.DOT / 2 + 0.1)
    for words in ("lower limit \N{MINUS SIGN}12.0", "as counted", "if normal (taken)", "1 in 740"):
        assert words in svg


def test_a_choice_on_the_page_asks_for_initials_and_a_reason_and_is_told_afterwards(place):
    answers = Answers(str(place), by="shop")
    with pytest.raises(QuestionError, match="initials"):
        answers.choose(SIZE, "chart", "cusum", initials=" ", reason="small shifts")
    with pytest.raises(QuestionError, match="needs a reason"):
        answers.choose(SIZE, "chart", "cusum", initials="AB", reason="")
    answers.choose(SIZE, "chart", "cusum", initials="AB", reason="small shifts")
    told = text(_view(answers, "/series", SEARCH))
    assert "This kind of chart was chosen by AB (shop), because: small shifts." in told
    answers.choose(SIZE, "chart", None, initials="AB", reason="enough of it")
    assert "was chosen by AB" not in text(_view(answers, "/series", SEARCH))


def test_the_page_has_a_form_for_the_chart_and_one_for_the_family(answers):
    told = text(_view(answers, "/series", SEARCH))
    for what in ("chart", "family"):
        assert f'"type": "choice-keep", "what": "{what}"' in told
    app = create_app("nowhere", by="shop", answers=answers)
    assert any("choice-keep" in key or "choice-news" in key for key in app.callback_map)
