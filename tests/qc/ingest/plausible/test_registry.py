"""What becomes of what a check doubts: held, marked, asked once; what a check may see of a file."""

from types import SimpleNamespace

import numpy as np
import pytest

from qc.ingest.plausible import registry
from qc.ingest.plausible.scene import Suspicion

UM = 100_000


def _suspicion(rows, code="strange", severity="stop", cause="c", **other):
    words = ("{who} {read} {texts}.", "Doubted.", "Look again.")
    return Suspicion(tuple(rows), code, severity, cause, *words, **other)


def _check(*doubts, rivals=True):
    return SimpleNamespace(CODES=("strange",), RIVALS=rivals, doubts=lambda at: iter(doubts))


@pytest.fixture
def checked(monkeypatch):
    """Let these checks be all there are."""

    def let(*checks):
        monkeypatch.setattr(registry, "CHECKS", checks)

    return let


def test_what_a_check_stops_is_held_under_one_finding_in_its_words(checked, shop, taken, bores, codes):
    checked(_check(_suspicion((1, 3), proposed={1: "96.009"})))
    result = taken(bores(4))
    assert (result.kept, result.held, codes(result)) == (2, 2, [("stop", "strange")])
    (found,) = [f for f in result.findings if f["code"] == "strange"]
    assert found["saw"] == "Bores 2, 4 of B-104 (rows 3, 5) read 96.011, 96.013."
    assert found["effect"] == "2 rows wait and are in no figure until this is decided."
    assert [c["row"] for c in found["cells"]] == [3, 5]
    told = [dict(f) for f in shop.held()["fields"]]
    assert [t.get("proposed value") for t in told] == ["96.009", None]


def test_what_a_check_asks_about_counts_and_is_marked(checked, taken, bores, codes):
    checked(_check(_suspicion((0,), severity="ask")))
    result = taken(bores(4))
    assert (result.kept, codes(result)) == (4, [("ask", "strange")])
    assert "1 reading counts, marked" in next(f["effect"] for f in result.findings if f["code"] == "strange")


def test_a_reading_explained_by_one_slip_is_left_alone_by_its_rivals(checked, taken, bores, codes):
    first = _check(_suspicion((0, 1), severity="ask", cause="slip"))
    weaker = _check(_suspicion((0, 1, 2), cause="other"))
    checked(first, weaker)
    result = taken(bores(4))
    assert codes(result) == [("stop", "strange"), ("ask", "strange")]
    assert [f["count"] for f in result.findings if f["code"] == "strange"] == [1, 2]


def test_a_check_that_rivals_none_speaks_of_marked_readings_but_not_of_held_ones(checked, taken, bores):
    checked(
        _check(_suspicion((0,), cause="held"), _suspicion((1,), severity="ask", cause="marked")),
        _check(_suspicion((0, 1, 2), severity="ask", cause="file"), rivals=False),
    )
    found = [f for f in taken(bores(4)).findings if f["code"] == "strange"]
    assert [(f["severity"], [c["row"] for c in f["cells"]]) for f in found] == [
        ("stop", [2]), ("ask", [3]), ("ask", [3, 4]),
    ]  # fmt: skip


def test_a_marked_reading_that_is_held_for_something_else_is_not_said_to_count(checked, taken, bores):
    checked(_check(_suspicion((0,), severity="ask")))
    rows = bores(2)
    rows.append(rows[0] | {"value": "96.2"})
    result = taken([rows[2], *rows])
    # row 2 counts, row 3 reads otherwise at the same place and waits
    assert [f["code"] for f in result.findings if f["severity"] != "note"] == ["reads_otherwise", "strange"]


def test_a_scene_knows_deviation_limits_and_the_past_of_its_series(checked, taken, bores):
    seen = []
    checked(
        SimpleNamespace(
            CODES=(), RIVALS=True, doubts=lambda at: seen.append((at, at.past(at.series[0]))) or iter(())
        )
    )
    taken(bores(4, target="96.010", lower="96.000", upper="96.020"))
    taken(bores(4, build="B-105", target="96.000"), "more.csv")
    taken([bores(1, target="96.010", measured_at="2026-04-04T08:00")[0]], "again.csv")
    (first, before), (second, past), (third, _) = seen
    assert first.columns["deviation"].tolist() == [0, 1_000 * UM // 1_000, 2 * UM, 3 * UM]
    assert (first.columns["lower"][0], first.columns["upper"][0]) == (9_600_000_000, 9_602_000_000)
    assert not before
    assert [(b.build, len(b.readings), b.level) for b in past.blocks] == [("B-104", 4, 1.5 * UM)]
    assert len(second.beside_columns["size"]) == 0
    assert len(third.beside_columns["size"]) == 4
    assert np.isnan(third.beside_columns["pass"]).all()


def test_the_past_is_the_same_whether_files_come_together_or_one_by_one(checked, shop, file, bores):
    from qc.ingest.run import ingest

    seen = []
    checked(
        SimpleNamespace(
            CODES=(), RIVALS=True, doubts=lambda at: seen.append(at.past(at.series[0])) or iter(())
        )
    )
    files = [file(bores(8, build=f"B-{n}", target="96.000"), f"{n}.csv") for n in range(3)]
    ingest(shop, files, by="test")
    ingest(shop, [file(bores(8, build="B-3", target="96.000"), "3.csv")], by="test")
    assert [len(p.blocks) for p in seen] == [0, 1, 2, 3]
    assert [b.build for b in seen[3].blocks] == ["B-0", "B-1", "B-2"]
    assert seen[2].blocks[1].fit.spread == pytest.approx(seen[3].blocks[1].fit.spread)


def test_an_accepted_doubt_is_not_raised_again(checked, monkeypatch, shop, taken, bores):
    from qc.ingest import taking
    from qc.ingest.held import decide

    monkeypatch.setattr(taking, "_READABLE", taking._READABLE | {"strange"})
    monkeypatch.setattr(taking, "_BELIEVED", taking._BELIEVED | {"strange"})
    checked(_check(_suspicion((0,))))
    number = next(f["id"] for f in taken(bores(4)).findings if f["code"] == "strange")
    done = decide(shop, number, "accept", "read again", "bea")
    assert (done.kept, done.held) == (1, 0)
    assert len(shop.readings()) == 4


def test_what_was_hidden_meets_the_checks_when_it_is_taken_in(checked, shop, taken, bore, bores):
    from qc.ingest.held import decide

    rows = bores(4)
    rows[0]["measured_at"] = "03/04/2026"
    result = taken(rows)
    (number,) = [f["id"] for f in result.findings if f["code"] == "date_order"]
    checked(_check(_suspicion((0,))))
    done = decide(shop, number, "accept", "day first", "bea")
    assert (done.kept, done.held) == (0, 1)
    assert shop.findings()["code"].tolist()[-1] == "strange"
