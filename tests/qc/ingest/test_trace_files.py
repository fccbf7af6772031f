"""Profile traces of every kind into a store: figures against the closed form they were drawn from."""

import random
from datetime import datetime

import pytest

from qc.ingest import sources, traces
from qc.ingest.held import decide
from qc.ingest.line import Shop
from qc.ingest.run import ingest
from qc.records import Asked
from tests.generate import traces as made

LAYOUT = made.layout("sdf_int32").replace('"T-*_sdf-int32.sdf"', '"*"')


@pytest.fixture
def traced(shop, file, tmp_path):
    """The result of a trace taken in by a layout."""

    def took(content, name="T-1_cyl-3_60_2026-05-04_a.sdf", told=LAYOUT):
        place = tmp_path / "trace.toml"
        place.write_text(told, encoding="utf-8")
        result = ingest(shop, [file(content, name)], by="test", layouts=[place]).files[0]
        assert result.rows == result.kept + result.held + result.already_kept
        return result

    return took


@pytest.fixture(scope="module")
def surface():
    """A known curve and the heights of a trace drawn from it."""
    draw = random.Random(4)
    curve = made.curve(draw)
    return curve, made.heights(curve, 9600, draw)


def test_every_kind_of_trace_gives_the_figures_it_was_drawn_from(shop, tmp_path):
    truth = made.files(tmp_path / "in", 11)
    layouts = [tmp_path / "in" / t["layout"] for t in truth]
    done = ingest(shop, [tmp_path / "in"], by="test", layouts=layouts).files
    assert {r.status for r in done} == {"kept"}, [r.findings for r in done if r.status != "kept"]
    found = shop.readings(Asked())
    assert len(found) == 8 * len(truth) == 96
    for one in truth:
        mine = found[found["file"] == one["file"]].set_index("characteristic")
        assert set(mine.index) == set(one["expected"])
        for key, (value, atol) in one["expected"].items():
            row = mine.loc[key]
            assert row["value"] / 1e5 == pytest.approx(value, abs=atol), (one["file"], key)
            assert (row["row"], row["column"]) == (1, key)
        first = mine.iloc[0]
        for key in ("build", "machine", "operation", "state", "feature", "gauge"):
            assert first[key] == one[key]
        assert first["station"] == one["station_mm"] * 100_000_000
        assert first["measured_at"] == _noon(one["measured_at"])
        assert f"of {one['points']} points at 0.5 um" in mine.loc["ra", "note"]


def _noon(day):
    return int(datetime.fromisoformat(f"{day}T12:00:00+00:00").timestamp()) * 1_000_000


def test_the_filter_is_the_method_and_the_note_tells_how_a_figure_was_computed(traced, shop, surface):
    told = LAYOUT + 'rk_filter = "iso16610-31"\nnote = "after brushing"\n'
    assert traced(made.sdf([surface[1]], 6), told=told).kept == 8
    found = shop.readings(Asked()).set_index("characteristic")
    assert found.loc[["ra", "rz"], "method"].tolist() == ["gauss-0.8"] * 2
    assert set(found.loc[["rk", "rpk", "rvk", "mr1", "mr2", "vo"], "method"]) == {"iso16610-31"}
    assert found.loc["rk", "note"].startswith(
        "after brushing; robust Gaussian filter ISO 16610-31, cut-off 0.8 mm, short cut-off 2.5 um, "
        "8000 of 9600 points at 0.5 um, tip 2 um; Rq "
    )
    assert found.loc["ra", "unit"] == "um"
    assert found.loc["mr1", "unit"] == "%"


@pytest.mark.parametrize(
    ("more", "ra", "rk"),
    [
        ("short_cutoff_um = 0", "gauss-0.8-s0", "iso13565-1-0.8-s0"),
        ("short_cutoff_um = 8", "gauss-0.8-s8", "iso13565-1-0.8-s8"),
        ("cutoff_mm = 0.25", "gauss-0.25", "iso13565-1-0.25"),
    ],
)
def test_other_cut_offs_are_other_methods(traced, shop, surface, more, ra, rk):
    key = more.partition(" ")[0]
    told = "\n".join(line for line in LAYOUT.splitlines() if not line.startswith(key)) + f"\n{more}\n"
    assert traced(made.sdf([surface[1]], 6), told=told).kept == 8
    found = shop.readings(Asked()).set_index("characteristic")["method"]
    assert (found["ra"], found["rk"]) == (ra, rk)


def test_only_the_figures_asked_for_are_kept(traced, shop, surface):
    assert traced(made.sdf([surface[1]], 6), told=LAYOUT + 'figures = ["rk", "ra"]\n').kept == 2
    assert set(shop.readings(Asked())["characteristic"]) == {"rk", "ra"}


def test_a_trace_taken_in_twice_changes_nothing(traced, shop, surface):
    traced(made.sdf([surface[1]], 6))
    again = traced(made.sdf([surface[1]], 6))
    assert (again.status, again.already_kept) == ("already_kept", 8)
    assert len(shop.readings(Asked())) == 8


def test_the_same_trace_in_another_container_is_already_kept(traced, shop, surface):
    # whole nanometres, which both containers hold exactly: the same figures to the last digit
    z = [round(v, 3) for v in surface[1]]
    traced(made.sdf([z], 7, zscale=1e-6))
    told = LAYOUT.replace('file = ["*"]', 'file = ["*", "*.x3p"]')
    again = traced(made.x3p(z), "T-1_cyl-3_60_2026-05-04_b.x3p", told)
    assert (again.kept, again.held, again.already_kept) == (0, 0, 8)


def test_another_trace_of_the_same_bore_and_day_waits_as_reading_otherwise(traced, surface, codes):
    traced(made.sdf([surface[1]], 7))
    other = traced(made.sdf([[2 * v for v in surface[1]]], 7), "T-1_cyl-3_60_2026-05-04_b.sdf")
    assert ("stop", "reads_otherwise") in codes(other)
    # Mr1 and Mr2 are the same for heights twice as large
    assert (other.kept, other.held, other.already_kept) == (0, 6, 2)


def test_profiles_of_one_file_are_trials(traced, shop, surface):
    z = surface[1]
    assert traced(made.sdf([z, [2 * v for v in z], [3 * v for v in z]], 6)).kept == 24
    found = shop.readings(Asked(characteristic=("ra",))).sort_values("trial")
    assert found["trial"].tolist() == found["row"].tolist() == [1, 2, 3]
    first = found["value"].iloc[0]
    assert found["value"].tolist() == pytest.approx([first, 2 * first, 3 * first], rel=1e-4)


def test_the_files_own_date_counts_where_the_layout_says_none(traced, shop, surface):
    told = LAYOUT.replace("_{date}_{kind}", "_{kind}")
    assert traced(made.sdf([surface[1]], 6), "T-1_cyl-3_60_a.sdf", told).kept == 8
    zoned = made.x3p(surface[1], date="2026-05-06T07:30:00+02:00")
    assert traced(zoned, "T-2_cyl-3_60_a.x3p", told).kept == 8
    at = shop.readings(Asked(characteristic=("ra",))).set_index("build")["measured_at"]
    assert at["T-1"] == _noon("2026-05-04") - 3 * 3_600_000_000 - 45 * 60_000_000
    assert at["T-2"] == _noon("2026-05-06") - 6 * 3_600_000_000 - 30 * 60_000_000


def test_a_file_without_any_date_waits(traced, surface):
    told = LAYOUT.replace("_{date}_{kind}", "_{kind}")
    result = traced(made.sdf([surface[1]], 6, date="000000000000"), "T-1_cyl-3_60_a.sdf", told)
    assert result.status == "held"
    assert "does not say its date" in result.findings[0]["saw"]


def test_a_name_that_means_no_bore_waits_and_is_corrected(traced, shop, surface):
    result = traced(made.sdf([surface[1]], 6), "T-1_cil-3_60_2026-05-04_a.sdf")
    assert (result.kept, result.held) == (0, 8)
    (finding,) = [f for f in result.findings if f["severity"] == "stop"]
    assert (finding["code"], finding["count"]) == ("unknown_feature", 8)
    decide(shop, finding["id"], "correct", "slip of the name", "test")
    found = shop.readings(Asked())
    assert set(found["feature"]) == {"cyl-3"}
    assert len(found) == 8


def test_few_unmeasured_points_are_bridged_and_asked_about(traced, shop, surface, codes):
    gaps = frozenset({4000, 4001, 7000})
    result = traced(made.x3p(surface[1], invalid=gaps), "T-1_cyl-3_60_2026-05-04_a.x3p")
    assert (result.kept, codes(result)) == (8, [("ask", "trace_gaps")])
    found = shop.readings(Asked()).set_index("characteristic")
    assert "3 points bridged" in found.loc["ra", "note"]
    assert found.loc["ra", "value"] / 1e5 == pytest.approx(surface[0].figures()["ra"], rel=0.003)


def test_unmeasured_ends_are_left_off(traced, shop, surface):
    z = [0.0] * 300 + surface[1] + [0.0] * 300
    invalid = frozenset(range(300)) | frozenset(range(9900, 10_200))
    for number, how in enumerate(({"mask": True}, {"inline": True}), start=1):
        result = traced(made.x3p(z, invalid=invalid, **how), f"T-{number}_cyl-3_60_2026-05-04_a.x3p")
        assert result.kept == 8
        assert any("600 unmeasured points at its ends" in f["saw"] for f in result.findings)
    found = shop.readings(Asked(characteristic=("rk",)))["value"] / 1e5
    assert found.tolist() == pytest.approx([surface[0].figures()["rk"]] * 2, rel=0.006)


def test_inch_and_metric_columns_give_the_same_figures(traced, shop, surface):
    z = surface[1]
    told = LAYOUT + 'content = "x_z"\n'
    inch = made.columns(z, "x (in)\tz (uin)\n", 25_400.0, 0.0254)
    metric = made.columns(z, "x [mm]\tz [nm]\n", 1000.0, 0.001)
    traced(inch, "T-1_cyl-3_60_2026-05-04_a.txt", told)
    traced(metric, "T-2_cyl-3_60_2026-05-04_a.txt", told)
    found = shop.readings(Asked()).pivot_table(index="characteristic", columns="build", values="value")
    assert (found["T-1"] - found["T-2"]).abs().max() <= 2  # the eighth decimal of a uin, in 1e-5 um


def test_a_list_of_bores_is_no_trace_and_a_readings_file_is_read_as_such(traced, bores, table):
    result = traced(table(bores()).encode("utf-8"), "T-1_cyl-3_60_2026-05-04_a.csv")
    assert (result.kind, result.kept) == ("readings", 8)


def test_a_trace_without_a_layout_waits_with_the_cure(taken, surface):
    for name, data in (
        ("a.sdf", made.sdf([surface[1]], 6)), ("a.x3p", made.x3p(surface[1])),
        ("a.txt", made.spacing_first(surface[1])), ("b.txt", made.columns(surface[1], mark=",")),
    ):  # fmt: skip
        result = taken(data, name)
        assert (result.status, result.rows) == ("held", 0)
        assert result.findings[0]["code"] == "needs_layout"
        assert "qc layout try FILE --write" in result.findings[0]["proposal"]


def test_a_trace_that_waited_is_read_when_its_layout_comes(taken, traced, shop, surface):
    name = "T-1_cyl-3_60_2026-05-04_a.sdf"
    assert taken(made.sdf([surface[1]], 6), name).status == "held"
    assert traced(made.sdf([surface[1]], 6), name).kept == 8
    assert shop.findings().query("severity == 'stop'").empty


def test_sources_of_a_trace_are_stable(surface):
    from qc.ingest.layout import layout

    data = made.sdf([surface[1]], 6)
    by = layout("a.toml", LAYOUT.encode("utf-8"))
    read = traces.read(data, "T-1_cyl-3_60_2026-05-04_a.sdf", Shop(), sources.sha256(data), (by,))
    places = [row.record.source.place for row in read.rows]
    assert places == [f"{sources.sha256(data)[:12]}:1:{key}" for key in
                      ("ra", "rz", "rk", "rpk", "rvk", "mr1", "mr2", "vo")]  # fmt: skip
