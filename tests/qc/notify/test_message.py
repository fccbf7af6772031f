"""What a notice says, and that a name out of a file cannot write its headers."""

from email import message_from_bytes, policy

import pytest

from qc.notify.message import notice
from qc.notify.post import Post

POST = Post("mail.example.org", 587, "starttls", "floor@example.org", ("rk@example.org",))
MATTER = {
    "id": "hone-1-plateau-hone-wear-b7", "state": "open", "name": "hone-1, plateau hone: stones",
    "conditions": ["drifting"], "turns": [{"act": "opened"}],
    "sentence": "Dress or change the stones of hone-1: Rk drifting since 3 May 2026, \N{MINUS SIGN}2 um.",
    "reactions": [{"words": "dress the stones; tell the foreman"}],
    "bores_since": [{"build": "B8", "features": ["cyl-1", "cyl-2"], "waiting": [], "waiting_rows": 0}],
    "bores_since_count": 2,
    "last_good": {"at": "2026-05-01T00:00:00Z", "build": "B7"},
}  # fmt: skip


def read(message):
    return message_from_bytes(message.as_bytes(), policy=policy.default)


def test_a_notice_says_what_to_do_and_where_to_see_it():
    got = read(notice(POST, "rk@example.org", MATTER, again=False))
    assert got["To"] == "rk@example.org"
    assert got["From"] == "floor@example.org"
    assert got["Subject"] == "Shop floor: hone-1, plateau hone: stones, drifting"
    assert got.get_content_type() == "text/plain"
    body = " ".join(got.get_content().split())
    for words in (
        MATTER["sentence"],
        "Reaction: dress the stones; tell the foreman",
        "2 bores in 1 build since B7",
        "http://127.0.0.1:8050/?matter=hone-1-plateau-hone-wear-b7",
        "qc matter take-up hone-1-plateau-hone-wear-b7",
        "responsible machinist decide",
    ):
        assert words in body


def test_one_that_opened_again_says_so_first():
    got = read(notice(POST, "rk@example.org", MATTER, again=True))
    assert got["Subject"].startswith("Shop floor: opened again: hone-1")


@pytest.mark.parametrize("end", ["\r\n", "\n", "\r", "\x0b", "\x0c", "\u2028", "\u0085", "\x00"])
def test_a_line_end_in_a_name_begins_no_header(end):
    nasty = f"hone-1{end}Bcc: all@example.org{end}{end}body"
    message = notice(POST, "rk@example.org", {**MATTER, "name": nasty, "sentence": nasty}, again=False)
    got = read(message)
    assert got["Bcc"] is None
    assert sorted(got.keys()) == sorted(
        ["From", "To", "Subject", "Date", "Message-ID", "Auto-Submitted", "MIME-Version", "Content-Type",
         "Content-Transfer-Encoding"]
    )  # fmt: skip
    assert "Bcc: all@example.org" in got["Subject"]
    assert got["Subject"].isprintable()
    assert "May have to be measured again" in got.get_content()


def test_a_very_long_name_is_cut_in_the_subject_only():
    got = read(notice(POST, "rk@example.org", {**MATTER, "name": "hone " * 100}, again=False))
    assert len(got["Subject"]) <= 150
