import json
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[3]


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["drift"], "shop.db"),
        (["capability", "--characteristic", "bore_diametre"], "shop.db"),
        (["nothing"], "No such command"),
        (["month"], "Missing argument"),
        (["ingest", "not-there.csv"], "nothing stands at not-there.csv"),
        (["verify", "not-there.zip"], "no pack stands at not-there.zip"),
        (["shop", "set", "colour", "blue"], "is no setting"),
        (["held", "--by", "me", "accept", "1", "--reason", "x"], "write the options behind"),
    ],
)
def test_a_refusal_is_one_sentence_on_stderr_and_exit_code_2(qc, words, sentence):
    done = qc(*words)
    assert done.exit_code == 2
    assert done.stdout == ""
    assert sentence in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1
    assert "Traceback" not in done.output


def test_a_refusal_with_json_is_one_document_on_stdout(qc):
    done = qc("drift", "--json")
    assert done.exit_code == 2
    assert done.stderr == ""
    assert list(json.loads(done.stdout)) == ["error"]
    assert "shop.db" in json.loads(done.stdout)["error"]


@pytest.mark.parametrize(
    ("words", "near"),
    [
        (["--characteristic", "bore_diametre"], "bore_diameter"),
        (["--state", "hot"], "plate_on"),
        (["--since", "yesterday"], "2026-05"),
        (["--since", "2026-05", "--until", "2026-04"], "turn them round"),
        (["--as-of", "99"], "revision"),
    ],
)
def test_a_question_without_an_answer_tells_the_cure(qc, shop, words, near):
    done = qc("series", *words, store=shop)
    assert done.exit_code == 2
    assert near in done.stderr


def test_a_refusal_makes_no_store(qc, tmp_path):
    qc("drift")
    qc("shop", "set", "units", "cubits")
    assert list(tmp_path.iterdir()) == []


def test_help_and_version_are_done(qc):
    for words in ([], ["--help"], ["--version"], ["held", "--help"]):
        done = qc(*words)
        assert done.exit_code == 0, words
        assert done.stdout


def _process(*words, cwd, **more):
    return subprocess.run(
        [sys.executable, "-m", "qc", *map(str, words)],
        cwd=cwd, capture_output=True, text=True, encoding="utf-8", check=False,
        env={"PYTHONPATH": str(ROOT), "PATH": "", **more},
    )  # fmt: skip


def test_exit_codes_of_a_real_process(tmp_path, files):
    assert _process("--help", cwd=tmp_path).returncode == 0
    refused = _process("series", cwd=tmp_path)
    assert (refused.returncode, refused.stdout) == (2, "")
    assert "Traceback" not in refused.stderr
    held = _process("ingest", files, cwd=tmp_path, QC_STORE="mine.db", TZ="UTC")
    assert held.returncode == 1, held.stderr
    assert (tmp_path / "mine.db").exists()


def test_a_fault_of_ours_is_told_from_work_that_is_done(qc, shop, monkeypatch):
    from qc.reports import series

    def broken(store, asked):
        raise RuntimeError("a fault")

    monkeypatch.setattr(series, "answer", broken)
    done = qc("series", store=shop)
    assert done.exit_code == 70
    assert "RuntimeError: a fault" in done.stderr
    assert "please report" in done.stderr


def test_every_text_is_opened_with_its_encoding(tmp_path, files):
    strict = [sys.executable, "-X", "warn_default_encoding", "-W", "error", "-m", "qc"]
    for words in (
        ["ingest", str(files)],
        ["series", "--out", "a.csv"],
        ["capability", "--out", "a.xlsx"],
        ["readings"],
    ):
        done = subprocess.run(
            [*strict, *words], cwd=tmp_path, capture_output=True, text=True, encoding="utf-8", check=False,
            env={"PYTHONPATH": str(ROOT), "PATH": "", "TZ": "UTC"},
        )  # fmt: skip
        assert done.returncode in (0, 1), (words, done.stderr)
        assert "Traceback" not in done.stderr
