"""Choices of a person stick to their series, are told with who and why, and go back to the usual."""

import numpy as np
import pytest
from scipy import stats

from qc.errors import QuestionError
from qc.records import Asked
from qc.reports import capability, choices, choosing
from tests.qc.reports.test_capability import of_blocks, sizes
from tests.qc.shopfloor import ra, window

SIZE = ("hone-1", "plateau_hone", "bore_diameter", "two_point", "plate_on")
ROUGH = np.round(0.4 * np.exp(np.random.default_rng(4).normal(0, 0.2, (22, 4))), 3)


def rough_key(shop):
    return next(k for k in choices.groups(shop.history().values) if k[2] == "ra")


@pytest.fixture
def shop(shop_of):
    limit = {"characteristic": "ra", "reading": "size", "unit": "um", "upper": "0.9", "source": "book"}
    files = [r for i, v in enumerate(ROUGH) for r in ra(f"B{i}", f"2026-01-{i + 5:02d}T08:00", v)]
    return shop_of([window(-10, 10), limit], of_blocks(sizes(22, 4, 1)), files)


def rows(shop, characteristic, **options):
    asked = Asked(characteristic=(characteristic,))
    return capability.answer(shop.store, asked, draws=2000, **options)["series"]


def note(shop, key, name, value, reason="the drawing says so"):
    return choosing.note(shop.store, key, name, value, reason=reason, by="ann", command="test")


def test_a_chosen_family_is_used_told_and_shown_beside_the_catalogues_own(shop):
    usual = rows(shop, "ra")[0]
    note(shop, rough_key(shop), "family", "normal")
    chosen = rows(shop, "ra")[0]
    assert usual["family"]["name"] == "lognormal"
    assert usual["family"]["chosen"] is None
    assert chosen["family"]["name"] == "normal"
    assert (chosen["family"]["chosen"]["by"], chosen["family"]["chosen"]["reason"]) == (
        "ann", "the drawing says so",
    )  # fmt: skip
    assert chosen["ppk"] == pytest.approx((0.9 - ROUGH.mean()) / (3 * ROUGH.std(ddof=1)))
    assert chosen["family"]["usual"]["ppk"] == pytest.approx(usual["ppk"])
    log = np.log(ROUGH)
    point = np.exp(log.mean() + 3 * log.std(ddof=1)) - np.exp(log.mean())
    assert usual["ppk"] == pytest.approx((0.9 - np.exp(log.mean())) / point)
    assert any("chosen for this series by ann" in text for text in chosen["explained"]["family"])


def test_the_other_series_of_the_shop_keeps_its_own_family(shop):
    note(shop, rough_key(shop), "family", "normal")
    assert rows(shop, "bore_diameter")[0]["family"]["chosen"] is None


def test_going_back_to_the_usual_forgets_nothing_but_the_choice(shop):
    before = rows(shop, "ra")[0]["ppk"]
    note(shop, rough_key(shop), "family", "normal")
    at = shop.store.revision()
    note(shop, rough_key(shop), "family", None, reason="the drawing was read wrongly")
    assert rows(shop, "ra")[0]["ppk"] == before
    assert choices.choices(shop.store) == {}
    assert choices.choices(shop.store, at)[rough_key(shop)]["family"].value == "normal"


def test_the_index_wanted_is_asked_for_chosen_set_or_common_practice_in_that_order(shop):
    def wanted(**options):
        found = rows(shop, "bore_diameter", **options)[0]["to_prove"]
        return found["wanted"], found["said_by"]

    assert wanted() == (1.33, "common practice, no source")
    with shop.store.write(by="test", command="set") as write:
        write.set("wanted_index", "1.5")
    assert wanted() == (1.5, "the shop's setting")
    note(shop, SIZE, "wanted", "1,67")
    assert wanted()[0] == 1.67
    assert "ann" in wanted()[1]
    assert wanted(wanted=2.0) == (2.0, "asked for in this question")


@pytest.mark.parametrize(
    ("name", "value", "says"),
    [
        ("chart", "bar", "take one of block_means"),
        ("chart", "multivariate", "for one series"),
        ("family", "lognormal", "takes values above 0"),
        ("family", "cauchy", "no family is called"),
        ("wanted", "much", "number from 0.1 to 10"),
        ("wanted", "99", "number from 0.1 to 10"),
        ("learn_without", "B99", "has no build B99"),
        ("learn_without", " , ", "no build is named"),
        ("colour", "blue", "nothing to choose"),
    ],
)
def test_what_cannot_be_chosen_is_refused_and_nothing_is_written(shop, name, value, says):
    before = shop.store.revision()
    with pytest.raises(QuestionError, match=says):
        note(shop, SIZE, name, value)
    assert shop.store.revision() == before


def test_a_choice_without_a_reason_or_a_series_is_refused(shop):
    with pytest.raises(QuestionError, match="needs a reason"):
        note(shop, SIZE, "chart", "ewma", reason="  ")
    with pytest.raises(QuestionError, match="there is no series"):
        note(shop, ("hone-9", *SIZE[1:]), "chart", "ewma")


def test_the_answer_lists_what_is_in_force(shop):
    note(shop, SIZE, "chart", "ewma")
    note(shop, SIZE, "chart", "cusum", reason="small shifts")
    found = choices.answer(shop.store, Asked())["choices"]
    assert [(c["name"], c["value"], c["by"], c["reason"]) for c in found] == [
        ("chart", "cusum", "ann", "small shifts")
    ]
    assert choices.answer(shop.store, Asked(characteristic=("ra",)))["choices"] == []


def test_blocks_that_lean_on_each_other_are_warned_of_and_prove_nothing(shop_of):
    draw, level, values = np.random.default_rng(8), 0.0, []
    for _ in range(60):
        level = 0.85 * level + draw.normal(0, 1)
        values.append(np.round(level + draw.normal(0, 0.5, 4), 1))
    row = rows(shop_of([window(-30, 30)], of_blocks(np.array(values))), "bore_diameter")[0]
    means = np.array(values).mean(axis=1)
    assert stats.pearsonr(means[1:], means[:-1]).statistic > 0.5
    assert row["lag1"] > 0.25
    assert any("lag-1" in text and "too short" in text for text in row["warnings"])
    assert "interval is too short" in row["sentence"]
    assert row["to_prove"]["proved"] is None
    assert "lean on each other" in row["not_given"]["to_prove.proved"]


def test_independent_blocks_are_not_warned_of(shop):
    row = rows(shop, "bore_diameter")[0]
    assert row["lag1"] <= 0.25
    assert row["warnings"] == []
    assert row["to_prove"]["proved"] is (row["ppk"] >= row["to_prove"]["needed"])
