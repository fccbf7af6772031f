"""Too little, too even or at odds: a sentence and a null with its reason, never a flattering figure."""

import json

import pytest

from tests.qc.shopfloor import block, text, window

FIGURES = ("ppk", "ppk_interval", "pp", "cp", "cpk", "to_prove", "inside_one_block", "gauge_free")


def blocks(values, **more):
    return [r for i, v in enumerate(values) for r in block(f"B{i}", f"2026-03-{i + 1:02d}T08:00", v, **more)]


WAVE = [[(i * 7 + j * 3) % 9 - 4 for j in range(4)] for i in range(24)]
SPEC = {"source": "book"}
CASES = {
    "one block": ([window(-10, 10)], blocks([[1, 2, -1, 0]]), "one block: how blocks differ"),
    "two values alike": ([window(-10, 10)], blocks([[1, 1]]), "one block: how blocks differ"),
    "all values equal": ([window(-10, 10)], blocks([[3, 3, 3]] * 24), "every bore reads the same"),
    "no limits": ([], blocks(WAVE), "no specification with limits is in force"),
    "target outside its limits": ([window(2, 8)], blocks(WAVE), "the target 0 lies outside the limits"),
    "the gauge's resolution": (
        [window(-10, 10)], blocks([[i % 2, (i + j) % 2, 0, 1] for i in range(24) for j in (1,)]),
        "two steps of the gauge",
    ),
}  # fmt: skip


@pytest.fixture
def store_of(qc, tmp_path):
    def made(*files):
        place = tmp_path / "shop.db"
        qc("shop", "set", "zone", "UTC", store=place)
        for i, rows in enumerate(f for f in files if f):
            (tmp_path / f"f{i}.csv").write_text(text(rows), encoding="utf-8")
            qc("ingest", tmp_path / f"f{i}.csv", store=place)
        return place

    return made


@pytest.mark.parametrize("name", CASES)
def test_what_allows_no_index_gives_none_and_says_why(qc, store_of, name):
    specs, readings, why = CASES[name]
    place = store_of(specs, readings)
    done = qc("capability", "--json", store=place)
    assert done.exit_code == 0, done.output
    row = json.loads(done.output)["series"][0]
    for figure in FIGURES:
        assert row[figure] is None, figure
        assert row["not_given"][figure], figure
    assert why in row["not_given"]["ppk"]
    assert row["sentence"].endswith(".")
    assert "Ppk" not in row["sentence"]
    told = qc("capability", store=place)
    assert told.exit_code == 0
    assert "Warning" not in told.output
    assert "nan" not in told.output
    assert "Traceback" not in told.output


def test_a_target_outside_its_limits_is_in_no_row_of_shares_either(qc, store_of):
    specs = [window(2, 8, engine="v8"), window(-9, 9, engine="i6"), window(-12, 12, engine="i4")]
    rows = [
        r
        for n, e in enumerate(("v8", "i6", "i4"))
        for r in block(f"E{n}", f"2026-04-0{n + 1}T08:00", [1, -2, 3], engine=e)
    ]
    found = json.loads(qc("capability", "--json", store=store_of(specs, rows)).output)["series"]
    shared = next(r for r in found if r["window"]["scaled"])
    assert shared["blocks"] == 2
    of_v8 = next(r for r in found if r["window"]["lower"] == 2)
    assert "the target 0 lies outside the limits" in of_v8["not_given"]["ppk"]


def test_few_steps_of_the_gauge_are_warned_of(qc, store_of):
    rows = blocks([[(i + j) % 3 for j in range(4)] for i in range(24)])
    row = json.loads(qc("capability", "--json", store=store_of([window(-10, 10)], rows)).output)["series"][0]
    assert row["ppk"] is not None
    assert any("3 steps of the gauge" in text for text in row["warnings"])


def test_a_gauge_too_coarse_for_the_tolerance_is_warned_of(qc, store_of):
    gauge = [{"gauge": "bg-1", "resolution": "2", "unit": "um"}]
    row = json.loads(
        qc("capability", "--json", store=store_of([window(-10, 10)], gauge, blocks(WAVE))).output
    )["series"][0]
    assert any("10 % of the tolerance" in text for text in row["warnings"])


def test_figures_are_told_in_words_with_and_without_what_a_person_kept_out(qc, store_of):
    place = store_of([window(-20, 20)], blocks(WAVE))
    from qc.store import Store

    with Store.open(place) as store, store.write(by="ann", command="exclude") as write:
        write.exclude({"build": "B3"}, "chipped stone")
    told = " ".join(qc("capability", store=place).output.split())
    assert "kept out by a person. Without them: Ppk" in told
    assert "With them: Ppk" in told
    assert "Quote both" in told


def test_a_choice_is_written_listed_and_taken_back(qc, store_of):
    place = store_of([window(-10, 10)], blocks(WAVE))
    one = ("--machine", "hone-1", "--characteristic", "bore_diameter")
    done = qc(
        "choose", "set", "wanted", "1.67", "--reason", "the customer asks", "--by", "ann", *one, store=place
    )
    assert done.exit_code == 0, done.output
    assert "wanted 1.67" in done.output
    listed = qc("choose", "list", store=place).output
    assert "the customer asks" in listed
    assert "ann" in listed
    row = json.loads(qc("capability", "--json", store=place).output)["series"][0]
    assert row["to_prove"]["wanted"] == 1.67
    assert qc("choose", "usual", "wanted", "--reason", "no longer", *one, store=place).exit_code == 0
    assert "0 choices" in qc("choose", "list", store=place).output
    refused = qc("choose", "set", "chart", "bar", "--reason", "x", *one, store=place)
    assert refused.exit_code == 2
    assert "take one of" in refused.output


def test_a_choice_is_for_one_series_only(qc, store_of):
    place = store_of(blocks(WAVE), blocks(WAVE, machine="hone-2"))
    refused = qc("choose", "set", "chart", "ewma", "--reason", "x", store=place)
    assert refused.exit_code == 2
    assert "the filters leave 2" in refused.output
