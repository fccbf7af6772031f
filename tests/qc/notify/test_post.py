"""The shop's mail settings: each checked, the password never among them."""

import pytest

from qc.errors import InputError, QuestionError
from qc.notify.post import PASSWORD, SETTINGS, post_of

WHOLE = {
    "mail_host": "mail.example.org",
    "mail_sender": "floor@example.org",
    "mail_recipients": "a@example.org, b@example.org",
}


def test_a_shop_without_mail_settings_sends_nothing():
    assert post_of({"zone": "UTC"}) is None


def test_ports_are_those_of_the_standards_unless_one_is_set():
    # RFC 6409: 587 for submission; RFC 8314: 465 with TLS from the start; RFC 5321: 25
    for security, port in (("starttls", 587), ("ssl", 465), ("none", 25)):
        assert post_of({**WHOLE, "mail_security": security}).port == port
    assert post_of(WHOLE).security == "starttls"
    assert post_of({**WHOLE, "mail_port": "2525"}).port == 2525


@pytest.mark.parametrize("missing", ["mail_host", "mail_sender", "mail_recipients"])
def test_settings_in_part_are_refused_with_what_is_missing(missing):
    with pytest.raises(QuestionError, match=f"{missing} too: qc shop set {missing}"):
        post_of({name: value for name, value in WHOLE.items() if name != missing})


def test_a_password_never_goes_over_an_open_line():
    with pytest.raises(QuestionError, match="open line"):
        post_of({**WHOLE, "mail_user": "floor", "mail_security": "none"})


def test_the_password_comes_from_the_environment_or_a_file(monkeypatch, tmp_path):
    place = tmp_path / "secret"
    place.write_text("from the file\n", encoding="utf-8")
    post = post_of({**WHOLE, "mail_user": "floor", "mail_password_file": str(place)})
    monkeypatch.delenv(PASSWORD, raising=False)
    assert post.password() == "from the file"
    monkeypatch.setenv(PASSWORD, "from the environment")
    assert post.password() == "from the environment"
    assert "from the" not in repr(post)


def test_no_password_anywhere_is_said_with_its_cure(monkeypatch):
    monkeypatch.delenv(PASSWORD, raising=False)
    with pytest.raises(QuestionError, match=PASSWORD):
        post_of({**WHOLE, "mail_user": "floor"}).password()


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("mail_sender", "floor@example.org\nBcc: all@example.org"),
        ("mail_sender", "Floor <floor@example.org>"),
        ("mail_recipients", "a@example.org\r\nSubject: x"),
        ("mail_recipients", " , "),
        ("mail_host", "mail.example.org\r\nQUIT"),
        ("mail_port", "0"),
        ("mail_port", "65536"),
        ("mail_security", "tls 1.0"),
        ("mail_user", "floor\r\nRSET"),
        ("mail_page", "javascript:alert(1)"),
    ],
)
def test_a_setting_that_is_none_is_refused(name, text):
    with pytest.raises(InputError):
        SETTINGS[name][1](text)


def test_recipients_are_kept_once_and_in_order():
    assert SETTINGS["mail_recipients"][1]("b@example.org; a@example.org,b@example.org") == (
        "b@example.org, a@example.org"
    )
