"""Views without a browser: what they show of odd answers."""

import json
import time
from base64 import b64encode
from urllib.parse import parse_qs

import pytest
from plotly.utils import PlotlyJSONEncoder

from dashboard.answers import Answers
from dashboard.app import _view
from dashboard.components import address, landing, words
from dashboard.figures.ribbon_words import apart
from qc.errors import QuestionError

TAPER = "?machine=hone-2&operation=finish_bore&characteristic=bore_taper&method=ends&state=plate_on"


def _text(view) -> str:
    return json.dumps(view, cls=PlotlyJSONEncoder, ensure_ascii=False)


def _found(node, name: str) -> list[dict]:
    """Properties of every component of that id."""
    if isinstance(node, list):
        return [one for child in node for one in _found(child, name)]
    if not isinstance(node, dict):
        return []
    mine = [node["props"]] if (node.get("props") or {}).get("id") == name else []
    return mine + [one for child in node.values() for one in _found(child, name)]


@pytest.mark.parametrize("path", ["/", "/series", "/series" + TAPER, "/month", "/builds"])
@pytest.mark.parametrize("empty", [False, True])
def test_every_page_has_a_view_for_a_full_and_an_empty_store(documents, path, empty):
    name, _, search = path.partition("?")
    view = _view(documents.Documents(empty=empty), name, search)
    assert "H1" in _text(view)
    assert "cannot be answered" not in _text(view)


def test_a_refusal_is_a_sentence_with_its_cure_and_the_way_back(documents):
    class Refusing(documents.Documents):
        def drift(self, asked=None):
            raise QuestionError("'2026-13' is no month: write it like 2026-05")

    text = _text(_view(Refusing(), "/", ""))
    assert "'2026-13' is no month: write it like 2026-05." in text
    assert "Back to the floor" in text


def test_names_are_text_wherever_they_stand(documents):
    class Naughty(documents.Documents):
        def chart(self, asked=None):
            found = super().chart(asked)
            for row in found["series"]:
                row["blocks"][0]["build"] = "<a href='x'>B</a>"
                row["events"] = [
                    {"at": row["blocks"][3]["at"], "event": "e", "words": "<b>e</b>", "effect": "joint"}
                ]
            return found

    (drawn,) = _found(json.loads(_text(_view(Naughty(), "/series", TAPER))), "series-ribbon")
    shown = [{k: v for k, v in trace.items() if k != "customdata"} for trace in drawn["figure"]["data"]]
    text = json.dumps([shown, drawn["figure"]["layout"]])
    # a figure's words may hold links: everything from the answer is escaped there, elsewhere text is text
    assert "&lt;a href=" in text
    assert "&lt;b&gt;e&lt;/b&gt;" in text
    assert "<a " not in text
    assert "<b>e" not in text


def test_no_figure_uses_a_trace_that_needs_evaluated_scripts(documents):
    assert "scattergl" not in _text(_view(documents.Documents(), "/series", TAPER))


def test_an_address_keeps_the_words_of_the_command_line():
    words = {"machine": ("hone-1", "hone-2"), "as_of": ("12",), "since": ("2026-05",)}
    text = address.search(words)
    assert parse_qs(text[1:]) == {"machine": ["hone-1", "hone-2"], "as-of": ["12"], "since": ["2026-05"]}
    assert address.parse(text) == words
    assert address.parse("?nonsense=1&machine=a") == {"machine": ("a",)}


def test_a_dot_without_a_block_of_that_name_is_said(documents):
    assert "No block of this series has that name" in _text(
        _view(documents.Documents(), "/series", TAPER + "&block=B-1")
    )


@pytest.mark.parametrize(
    ("name", "safe"),
    [
        ("../../etc/passwd", "passwd"),
        ("C:\\bench\\sheet.csv", "sheet.csv"),
        (".hidden", "hidden"),
        ("..", "file"),
        ("a\x00b:c.csv", "a_b_c.csv"),
        ("Bench 12.xlsx", "Bench 12.xlsx"),
    ],
)
def test_a_dropped_file_keeps_its_own_name_and_no_folder(name, safe):
    assert landing.safe_name(name) == safe


def test_words_of_limits_are_moved_apart_no_further_than_needed():
    assert apart([0.0, 100.0], 15.0) == [0.0, 100.0]
    low, high = apart([50.0, 53.0], 15.0)
    assert (low, high) == (pytest.approx(44.0, abs=0.1), pytest.approx(59.0, abs=0.1))


def _drop(answers: Answers, *files: tuple[str, bytes]) -> landing.Job:
    place = landing.Landing(answers)
    contents = ["data:text/csv;base64," + b64encode(data).decode() for _, data in files]
    key = place.begin([name for name, _ in files], contents)
    job = place.job(key)
    end = time.monotonic() + 60
    while not job.finished and time.monotonic() < end:
        time.sleep(0.05)
    assert job.finished
    return job


HEAD = (
    "build,machine,operation,characteristic,feature,value,unit,measured_at,target,lower,upper,gauge,station_mm,"
    "state\n"
)
ROWS = "".join(
    f"B-{i},hone-9,finish_bore,bore_diameter,cyl-{n},96.00{n},mm,2026-05-0{i}T10:00:00Z,96.003,95.99,96.02,bg-1,40,plate_on\n"
    for i in (1, 2)
    for n in (1, 2, 3, 4)
)


def test_dropped_files_go_through_the_one_way_in_and_each_is_told_about(tmp_path):
    answers = Answers(str(tmp_path / "shop.db"), by="tester")
    job = _drop(answers, ("../bench.csv", (HEAD + ROWS).encode()), ("notes.csv", b"nothing,here\n1,2\n"))
    told = {one["file"]: one for one in job.files}
    assert told["bench.csv"]["kept"] == 8
    assert "notes.csv" in told or any("notes.csv" in words for words in job.refused)
    again = _drop(answers, ("bench.csv", (HEAD + ROWS).encode()))
    assert again.files[0]["status"] == "already_kept"
    assert "8 kept" in _text(landing.news(job))
    assert answers.store.revisions()["by"].iloc[0] == "tester"


def test_a_file_that_did_not_arrive_whole_is_refused_in_words(tmp_path):
    place = landing.Landing(Answers(str(tmp_path / "shop.db"), by="tester"))
    job = place.job(place.begin(["a.csv"], ["data:text/csv;base64,@@@"]))
    end = time.monotonic() + 30
    while not job.finished and time.monotonic() < end:
        time.sleep(0.05)
    assert job.refused == ["a.csv did not arrive whole: drop it again"]


def test_the_units_are_written_as_a_revision_and_nothing_else_is(tmp_path):
    answers = Answers(str(tmp_path / "shop.db"), by="tester")
    before = answers.revision()
    answers.set("units", "inch")
    assert answers.units() == "inch"
    assert answers.revision() == before + 1
    with pytest.raises(QuestionError, match="qc shop set"):
        answers.set("zone", "UTC")


SERIES = {
    "machine": "hone-1",
    "operation": "plateau_hone",
    "characteristic": "rpk",
    "method": "iso13565-1",
    "state": "plate_on",
}


@pytest.mark.parametrize(
    ("told", "do", "why"),
    [
        (
            "Dress the stones of hone-1: plateau hone, Rpk, plate on drifting since 3 May.",
            "Dress the stones of hone-1",
            "Drifting since 3 May.",
        ),
        (
            "Find what moves: hone-1, plateau hone, Rpk, plate on stepped, 2 um.",
            "Find what moves",
            "Stepped, 2 \N{MICRO SIGN}m.",
        ),
        ("hone-1, plateau hone, Rpk, plate on: steady, keeps its level.", "", "Steady, keeps its level."),
        (
            "hone-1, plateau hone, Rpk, plate on, limits 0 to 2 um: Ppk 1.2.",
            "",
            "Limits 0 to 2 \N{MICRO SIGN}m: Ppk 1.2.",
        ),
        ("Gauge or machine: read the master.", "Gauge or machine: read the master.", ""),
        ("", "", ""),
    ],
)
def test_a_sentence_parts_into_what_to_do_and_why_without_the_name(told, do, why):
    assert words.sentence({**SERIES, "sentence": told}, "metric") == (do, why)


def test_dropped_files_tell_what_they_changed(tmp_path):
    answers = Answers(str(tmp_path / "shop.db"), by="tester")
    job = _drop(answers, ("bench.csv", (HEAD + ROWS).encode()))
    assert job.refused == []
    assert job.changed == ["series judged for the first time: 1 with too few blocks to say"]
    assert "What changed" in _text(landing.news(job))
