"""Matters, reactions and notices by command, and what an ingest says has changed."""

import json
import shutil

import pytest

from qc.errors import QuestionError
from qc.notify.post import PASSWORD
from tests.qc.notify.conftest import free_port
from tests.qc.reports.textured import day, limits, texture
from tests.qc.shopfloor import text


@pytest.fixture(scope="module")
def sheets(tmp_path_factory):
    """Files of a hone: its limits and quiet blocks, then the blocks after a step."""
    folder = tmp_path_factory.mktemp("sheets")
    for name, rows in (
        ("limits", limits()), ("quiet", texture(0, 24)), ("rough", texture(24, 34)),
        ("later", texture(34, 36)),
    ):  # fmt: skip
        (folder / f"{name}.csv").write_text(text(rows), encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def _stepped(tmp_path_factory, sheets):
    from click.testing import CliRunner

    from qc.cli import main

    place = tmp_path_factory.mktemp("stepped") / "made.db"
    files = [str(sheets / f"{name}.csv") for name in ("limits", "quiet", "rough")]
    for words in (["shop", "set", "zone", "UTC"], ["ingest", *files]):
        done = CliRunner().invoke(main, [*words, "--store", str(place)])
        assert done.exit_code == 0, done.output
    return place


@pytest.fixture
def stepped(_stepped, tmp_path):
    """A store of its own with one open matter."""
    place = tmp_path / "stepped.db"
    shutil.copy(_stepped, place)
    return place


def only(qc, store):
    return json.loads(qc("matter", "list", "--json", "--all", store=store).stdout)["matters"][0]


def test_an_ingest_says_what_changed_after_the_lines_of_its_files(qc, sheets, tmp_path):
    store = tmp_path / "shop.db"
    first = qc("ingest", sheets / "limits.csv", sheets / "quiet.csv", store=store)
    assert first.stdout.splitlines()[-1] == "series judged for the first time: 2 steady"
    done = qc("ingest", sheets / "rough.csv", store=store)
    lines = " ".join(done.stdout.split())
    assert lines.startswith("rough.csv: kept")
    assert "hone-1, plateau hone, Ra, plate on: steady -> " in lines
    assert "; new matter hone-1-plateau-hone-wear-1b" in lines
    again = qc("ingest", sheets / "rough.csv", store=store)
    assert "steady ->" not in again.stdout


def test_what_changed_stands_in_the_json(qc, sheets, tmp_path):
    store = tmp_path / "shop.db"
    qc("ingest", sheets / "limits.csv", sheets / "quiet.csv", store=store)
    told = json.loads(qc("ingest", sheets / "rough.csv", "--json", store=store).stdout)
    assert {row["series"].split("/")[2] for row in told["changed"]} == {"ra", "rk"}
    assert all(row["was"] == "steady" for row in told["changed"])
    assert told["changed"][0]["matter"]["became"] == "new"
    assert (told["notices"], told["not_given"]) == (None, {})


def test_an_ingest_may_be_told_only_to_take_in(qc, sheets, tmp_path, monkeypatch):
    from qc.reports import changes

    monkeypatch.setattr(changes, "told_before", lambda store: pytest.fail("it was judged"))
    done = qc("ingest", sheets / "limits.csv", sheets / "quiet.csv", "--no-judge", store=tmp_path / "shop.db")
    assert done.exit_code == 0
    assert "judged" not in done.stdout


def test_a_judgement_that_fails_is_said_and_the_files_are_in(qc, sheets, tmp_path, monkeypatch):
    from qc.reports import changes

    def fails(store, before, *, by):
        raise QuestionError("the zone 'Nowhere' is unknown")

    store = tmp_path / "shop.db"
    qc("ingest", sheets / "limits.csv", sheets / "quiet.csv", store=store)
    monkeypatch.setattr(changes, "changed", fails)
    done = qc("ingest", sheets / "rough.csv", store=store)
    assert done.exit_code == 0
    said = " ".join(done.stdout.split())
    assert "what changed could not be worked out: the zone 'Nowhere' is unknown" in said
    told = json.loads(qc("ingest", sheets / "later.csv", "--json", store=store).stdout)
    assert told["changed"] is None
    assert "could not be worked out" in told["not_given"]["changed"]


def test_an_event_added_by_hand_says_that_it_ended_a_matter(qc, stepped):
    done = qc("event", "add", "--event", "stones_changed", "--at", day(34)[:10], "--machine", "hone-1",
              store=stepped)  # fmt: skip
    assert "ended hone-1-plateau-hone-wear-1b" in " ".join(done.stdout.split())


def test_a_matter_is_listed_taken_up_done_and_ended(qc, stepped):
    name = only(qc, stepped)["id"]
    assert name in qc("matter", "list", store=stepped).stdout
    taken = qc("matter", "take-up", name, "--initials", "RK", "--said", "Stones are ordered.", store=stepped)
    assert (taken.exit_code, f"{name}: taken up by RK" in taken.stdout) == (0, True)
    done = qc("matter", "done", "hone-1", "--initials", "RK", "--said", "Stones dressed.",
              "--at", day(33)[:10], "--json", store=stepped)  # fmt: skip
    assert json.loads(done.stdout)["act"] == "done"
    shown = " ".join(qc("matter", "show", name, store=stepped).stdout.split())
    for words in (
        "Taken up by RK on", ": Stones are ordered.", "Done by RK on 17 May 2025: Stones dressed.",
        "the next 5 blocks will tell", "40 bores in 10 builds since 1B23, the last good block",
        "1B24: cyl-1 to cyl-4",
    ):  # fmt: skip
        assert words in shown
    assert qc("matter", "end", name, "--initials", "MB", "--said", "Known.", store=stepped).exit_code == 0
    assert "0 open matters" in qc("matter", "list", store=stepped).stdout
    assert only(qc, stepped)["state"] == "ended"


def test_the_drift_answer_shows_the_matter_and_the_budget(qc, stepped):
    qc("matter", "take-up", "hone-1", "--initials", "RK", "--said", "Stones are ordered.", store=stepped)
    done = qc("drift", store=stepped)
    assert done.exit_code == 1
    told = " ".join(done.stdout.split())
    assert told.count("Dress or change the stones of hone-1") + told.count("Find what changed on hone-1") == 1
    assert "Taken up by RK" in told
    assert "false matters a month at this level (0.00073 a series and block" in told


def test_an_act_is_refused_with_its_cure(qc, stepped):
    done = qc("matter", "take-up", "hone-9", "--initials", "RK", "--said", "x", store=stepped)
    assert (done.exit_code, "qc matter list names them" in done.stderr) == (2, True)
    done = qc("matter", "take-up", "hone-1", "--initials", "", "--said", "x", store=stepped)
    assert (done.exit_code, "write your initials" in done.stderr) == (2, True)


def test_a_reaction_is_set_listed_shown_and_lifted(qc, stepped):
    done = qc("reaction", "set", "ra", "--does", "dress the stones", "--tells", "the foreman",
              "--remeasures", "Ra of every bore", "--machine", "hone-1", store=stepped)  # fmt: skip
    assert done.exit_code == 0
    listed = qc("reaction", "list", store=stepped).stdout
    assert "Ra on hone-1: dress the stones; tell the foreman; measure again: Ra of every bore" in listed
    assert "Reaction: dress the stones" in qc("matter", "show", "hone-1", store=stepped).stdout
    assert qc("reaction", "lift", "ra", "--machine", "hone-1", store=stepped).exit_code == 0
    assert "0 reactions" in qc("reaction", "list", store=stepped).stdout
    assert qc("reaction", "lift", "ra", store=stepped).exit_code == 2


def test_a_reaction_for_a_machine_with_a_slip_in_its_name_is_refused(qc, stepped):
    done = qc("reaction", "set", "ra", "--does", "dress", "--machine", "hone-l", store=stepped)
    assert (done.exit_code, "is it hone-1?" in done.stderr) == (2, True)
    # a machine that is still to come
    done = qc("reaction", "set", "ra", "--does", "dress", "--machine", "hone-7", store=stepped)
    assert done.exit_code == 0


def test_matters_and_reactions_come_out_as_tables(qc, stepped, tmp_path):
    qc("reaction", "set", "ra", "--does", "dress the stones", store=stepped)
    for words, name in ((["matter", "list"], "m.csv"), (["reaction", "list"], "r.csv")):
        assert qc(*words, "--out", tmp_path / name, store=stepped).exit_code == 0
        assert len((tmp_path / name).read_text(encoding="utf-8").splitlines()) == 2


def test_notices_that_are_not_set_up_say_how(qc, stepped):
    for words in ("try", "send"):
        done = qc("notify", words, store=stepped)
        assert (done.exit_code, "qc shop set mail_host" in done.stderr) == (2, True)


def test_a_server_that_is_not_there_leaves_the_notices_waiting(qc, stepped, sheets, monkeypatch):
    monkeypatch.delenv(PASSWORD, raising=False)
    port = free_port()
    for name, value in (
        ("mail_host", "127.0.0.1"), ("mail_port", port), ("mail_security", "none"),
        ("mail_sender", "floor@example.org"), ("mail_recipients", "rk@example.org"),
    ):  # fmt: skip
        assert qc("shop", "set", name, value, store=stepped).exit_code == 0
    done = qc("ingest", sheets / "later.csv", store=stepped)
    assert (done.exit_code, "1 notice waits" in done.stdout) == (0, True)
    done = qc("notify", "send", store=stepped)
    assert (done.exit_code, "1 notice waits" in done.stdout) == (1, True)
    done = qc("notify", "try", store=stepped)
    assert (done.exit_code, "cannot be used" in done.stderr) == (2, True)


def test_a_setting_of_the_mail_is_checked(qc, stepped):
    done = qc("shop", "set", "mail_recipients", "rk", store=stepped)
    assert (done.exit_code, "is no mail address" in done.stderr) == (2, True)
