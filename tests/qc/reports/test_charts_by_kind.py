import json
import random

import numpy as np
import pytest
from click.testing import CliRunner

from qc.charts.ewma import chart as moving_average
from qc.cli import main
from qc.errors import QuestionError
from qc.records import Asked
from qc.reports import chart, charts_by_kind
from tests.qc.shopfloor import block, event, ra, window

STONES = [event("stones_changed", "2026-03-14T06:00", operation="plateau_hone")]
FEATURES = {"machine": ("hone-1",)}
KINDS = [k for k in charts_by_kind.KINDS if k != "block_means"]
COUNTED = charts_by_kind.COUNTED


def blocks():
    draw, rows = random.Random(5), []
    for n in range(24):
        level, day = (
            draw.gauss(0, 1.0) + (5.0 if n == 20 else 0.0),
            f"2026-{2 + n // 12:02d}-{2 + 2 * (n % 12):02d}",
        )
        engine = "v8" if n % 3 else "i6"
        sizes = [round(level + draw.gauss(0, 1.0), 1) for _ in range(4)]
        rows += block(f"B{n:02d}", f"{day}T09:00", sizes, engine=engine)
        rough = [round(0.4 * 2 ** draw.gauss(0, 0.2), 3) for _ in range(4)]
        rows += ra(f"B{n:02d}", f"{day}T10:00", rough, engine=engine)
    return rows


@pytest.fixture(scope="module")
def shop(shop_of):
    return shop_of(blocks(), [window(-8, 8)], STONES)


def answered(shop, kind, **options):
    return charts_by_kind.answer(shop.store, Asked(), kind=kind, **options)


def size(document):
    return next(r for r in document["series"] if r["characteristic"] in ("bore_diameter", "several"))


def test_the_default_is_the_chart_of_block_means_with_its_questions(shop):
    for ours in (answered(shop, "block_means"), answered(shop, None)):
        for row, plain in zip(ours["series"], chart.answer(shop.store, Asked())["series"], strict=True):
            assert {k: row[k] for k in plain} == plain
            assert row["kind"] == "block_means"
            assert len(row["questions"]) == 5


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_says_what_it_says_how_sure_and_what_not_to_conclude(shop, kind):
    document = json.loads(json.dumps(answered(shop, kind), allow_nan=False))
    assert document["kind"] == kind
    assert document["series"]
    for row in document["series"]:
        assert row["sentence"].endswith(".")
        assert "not inside tolerance" in row["explained"][-1] or kind in COUNTED
        for key in ("center", "lower_limit", "upper_limit"):
            assert row[key] is not None or row["not_given"][key]
        assert all(e[0].isupper() and e.endswith(".") for e in row["explained"]), row["explained"]
        assert {"statistic", "lower", "upper", "signals"} <= set(row["blocks"][0])
    row = document["series"][0] if kind in COUNTED else size(document)
    assert (
        any(e.startswith("How sure: ") and "false alarm" in e for e in row["explained"])
        or kind == "acceptance"
    )
    assert row["methods"]["run_length"]


def test_the_moving_average_is_that_of_the_charts_own_numbers(shop):
    row = size(answered(shop, "ewma"))
    means = [b["mean"] for b in row["blocks"]]
    found = moving_average(
        means, [b["n"] for b in row["blocks"]], spread_in_block=row["spread_in_block"],
        spread_between_blocks=row["spread_between_blocks"], lag1=row["lag1"],
    )  # fmt: skip
    assert [b["statistic"] for b in row["blocks"]] == pytest.approx(list(found.statistic))
    assert row["upper_limit"] == pytest.approx(found.upper_limit)


def test_the_block_that_is_far_off_is_called_by_the_charts_of_single_blocks(shop):
    for kind in ("short_run", "mean_range", "mean_spread"):
        off = [b["build"] for b in size(answered(shop, kind))["blocks"] if b["signals"]]
        assert "B20" in off, kind


def test_limits_may_be_learned_from_the_first_blocks_only(shop):
    row = size(answered(shop, "ewma", learn=12))
    assert row["methods"]["blocks_learned"] == 12
    assert row["center"] == pytest.approx(np.mean([b["mean"] for b in row["blocks"][:12]]))


def test_acceptance_is_by_the_tolerance_and_refused_without_one(shop):
    document = answered(shop, "acceptance")
    rows = {r["characteristic"]: r for r in document["series"]}
    assert -8 < rows["bore_diameter"]["lower_limit"] < rows["bore_diameter"]["upper_limit"] < 8
    assert "qc spec add" in rows["ra"]["not_given"]["upper_limit"]
    assert rows["ra"]["center"] is None


def test_a_worn_series_is_judged_about_lines_that_start_anew_with_the_stones(shop):
    row = size(answered(shop, "regression"))
    stretches = [b["stretch"] for b in row["blocks"]]
    assert sorted(set(stretches)) == [0, 1]
    line = np.array([b["line"] for b in row["blocks"]])
    first = np.flatnonzero(np.diff(stretches))[0]
    slopes = np.diff(line) / np.diff([b["wear"] for b in row["blocks"]])
    inside = np.delete(np.arange(23), first)
    assert slopes[inside] == pytest.approx(row["methods"]["slope"])


def test_the_walk_is_not_asked_of_a_characteristic_that_wears(shop):
    asked = {q["question"]: q for q in size(answered(shop, "individuals"))["questions"]}
    assert set(asked) == {"one_block_off", "lasting_shift", "slow_walk", "too_quiet", "spread_grown"}
    assert "wear slope" in asked["slow_walk"]["off"]
    assert asked["lasting_shift"]["off"] is None


def test_size_and_roughness_are_judged_together_roughness_by_its_logarithm(shop):
    row = size(answered(shop, "multivariate"))
    assert row["methods"]["scale"] == {"bore_diameter": "as it is", "ra": "logarithm"}
    assert set(row["blocks"][0]["contributions"]) == {"bore_diameter", "ra"}
    worst = max(row["blocks"], key=lambda b: b["statistic"])
    assert worst["build"] == "B20"
    assert worst["contributions"]["bore_diameter"] > worst["contributions"]["ra"]


THIN = {"one block": [[1.0, 2.0]], "all equal": [[1.0, 1.0]] * 6, "one bore each": [[1.0]] * 5}


@pytest.fixture(scope="module")
def thin(shop_of):
    def rows(values):
        return [r for n, v in enumerate(values) for r in block(f"C{n}", f"2026-05-{n + 1:02d}T08:00", v)]

    return {name: shop_of(rows(values)) for name, values in THIN.items()}


@pytest.mark.parametrize("kind", KINDS)
def test_too_little_is_answered_with_a_sentence_and_nulls(thin, kind):
    for name, shop in thin.items():
        for row in answered(shop, kind)["series"]:
            assert row["upper_limit"] is None, name
            assert len(row["not_given"]["upper_limit"]) > 20
            assert all(b["statistic"] is None for b in row["blocks"])


def test_one_series_alone_is_the_same_as_among_others(shop):
    alone = charts_by_kind.answer(shop.store, Asked(characteristic=("bore_diameter",)), kind="cusum")
    assert size(alone)["blocks"] == size(answered(shop, "cusum"))["blocks"]


def test_a_kind_nobody_knows_is_refused_with_those_there_are(shop):
    with pytest.raises(QuestionError, match="take one of block_means, ewma"):
        answered(shop, "bar")


def test_the_command_prints_the_chart_and_its_words(shop):
    place = str(shop.store.place)
    told = CliRunner().invoke(main, ["chart", "--store", place, "--kind", "ewma", "--characteristic", "ra"])
    assert told.exit_code == 0, told.output
    assert "How sure: a quiet series gives one false alarm" in " ".join(told.output.split())
    assert "B23" in told.output
    refused = CliRunner().invoke(main, ["chart", "--store", place, "--kind", "bar"])
    assert refused.exit_code == 2
