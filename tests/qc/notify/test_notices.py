"""Notices over a real mail server: each once, nothing lost, no secret told."""

import numpy as np
import pandas as pd
import pytest

from qc.errors import PostError
from qc.notify import after, notices
from qc.notify.post import PASSWORD, Post, post_of
from qc.records import Asked
from qc.reports import drift
from qc.store import Store
from tests.qc.notify.conftest import SECRET, free_port
from tests.qc.shopfloor import Shop, block, event, window

RECIPIENTS = ("rk@example.org", "owner@example.org")


def day(i: int) -> str:
    return (pd.Timestamp("2025-01-05T08:00") + pd.Timedelta(days=4 * i)).isoformat()


def stepped(first: int, last: int, step: int = 24) -> list[dict]:
    """Blocks of hone-1, which stands 12 um higher from one of them on: an alarm whatever the level is."""
    draw = np.random.default_rng(11).normal(0, 1, (60, 4))
    return [
        row for i in range(first, last)
        for row in block(f"B{i}", day(i), np.round(draw[i] + (12 if i >= step else 0), 2))
    ]  # fmt: skip


@pytest.fixture
def shop(tmp_path):
    """One matter is open: a step that no event explains."""
    with Store.open(tmp_path / "shop.db", create=True) as store:
        made = Shop(store, tmp_path)
        made.take([window(-20, 20)])
        made.take(stepped(0, 34))
        yield made


def set_up(shop: Shop, port: int, **more: str) -> None:
    told = {
        "mail_host": "127.0.0.1", "mail_port": str(port), "mail_security": "none",
        "mail_sender": "floor@example.org", "mail_recipients": ", ".join(RECIPIENTS), **more,
    }  # fmt: skip
    with shop.store.write(by="test", command="set") as write:
        for name, value in told.items():
            write.set(name, value)


def test_each_recipient_gets_a_new_matter_once(shop, mail_server):
    server = mail_server()
    set_up(shop, server.port)
    found = notices.send(shop.store, by="test")
    assert found.refusal is None
    assert sorted(who for who, _ in server.box.messages) == sorted(RECIPIENTS)
    (matter,) = [m for m in drift.answer(shop.store, Asked())["matters"] if m["state"] == "open"]
    body = " ".join(server.box.messages[0][1].get_content().split())
    assert matter["sentence"] in body
    assert matter["id"] in body
    assert notices.send(shop.store, by="test") == notices.Sent((), ())
    assert len(server.box.messages) == 2


def test_nothing_is_sent_and_nothing_written_where_notices_are_not_set_up(shop):
    before = shop.store.revision()
    assert notices.send(shop.store, by="test") is None
    assert shop.store.revision() == before


def test_what_the_server_refuses_is_tried_again_and_nothing_is_lost(shop, mail_server):
    port = free_port()
    set_up(shop, port)
    found = notices.send(shop.store, by="test")
    assert found.sent == ()
    assert len(found.waiting) == 2
    assert f"127.0.0.1:{port} cannot be used" in found.refusal
    assert "2 notices wait and will be tried again next time" in found.refusal
    server = mail_server(port=port)
    server.box.refuse_all = "451 come back later"
    found = notices.send(shop.store, by="test")
    assert (found.sent, len(found.waiting)) == ((), 2)
    assert "451 come back later" in found.refusal
    server.box.refuse_all = None
    assert len(notices.send(shop.store, by="test").sent) == 2
    assert len(server.box.messages) == 2


def test_one_recipient_refused_leaves_the_other_served(shop, mail_server):
    server = mail_server()
    set_up(shop, server.port)
    server.box.refuses.add("owner@example.org")
    found = notices.send(shop.store, by="test")
    assert [d.recipient for d in found.sent] == ["rk@example.org"]
    assert [d.recipient for d in found.waiting] == ["owner@example.org"]
    assert "does not take mail for owner@example.org: 1 notice waits" in found.refusal
    server.box.refuses.clear()
    assert [d.recipient for d in notices.send(shop.store, by="test").sent] == ["owner@example.org"]


def test_a_matter_that_opened_again_is_told_again_once(shop, mail_server):
    server = mail_server()
    set_up(shop, server.port, mail_recipients="rk@example.org")
    notices.send(shop.store, by="test")
    shop.take([event("machine_repaired", day(34)[:10])])
    assert notices.send(shop.store, by="test") == notices.Sent((), ())
    matters = [m for m in drift.answer(shop.store, Asked())["matters"] if m["opened_with"]]
    assert {m["state"] for m in matters} == {"ended"}
    row = {**matters[0], "state": "open", "turns": [*matters[0]["turns"], {"act": "reopened"}]}
    assert [d.kind for d in notices.due(shop.store, [row], ["rk@example.org"])] == ["reopened 1"]


@pytest.mark.parametrize("security", ["starttls", "ssl"])
def test_a_secured_line_with_log_in(shop, mail_server, authority, monkeypatch, security):
    server = mail_server(security, login=True)
    set_up(shop, server.port, mail_security=security, mail_user="floor")
    monkeypatch.setenv("SSL_CERT_FILE", str(authority[1]))
    monkeypatch.setenv(PASSWORD, SECRET)
    found = notices.send(shop.store, by="test")
    assert (found.refusal, len(server.box.messages), server.box.logged_in) == (None, 2, ["floor"])


@pytest.mark.parametrize("security", ["starttls", "ssl"])
def test_a_server_that_nobody_vouches_for_gets_neither_mail_nor_password(
    shop, mail_server, monkeypatch, security
):
    server = mail_server(security, login=True)
    set_up(shop, server.port, mail_security=security, mail_user="floor")
    monkeypatch.setenv(PASSWORD, SECRET)
    found = notices.send(shop.store, by="test")
    assert "certificate" in found.refusal.lower()
    assert (server.box.messages, server.box.logged_in) == ([], [])


def test_a_wrong_password_is_said_without_repeating_it(shop, mail_server, authority, monkeypatch):
    server = mail_server("starttls", login=True)
    set_up(shop, server.port, mail_security="starttls", mail_user="floor")
    monkeypatch.setenv("SSL_CERT_FILE", str(authority[1]))
    monkeypatch.setenv(PASSWORD, "something else")
    found = notices.send(shop.store, by="test")
    assert "does not know floor with this password" in found.refusal
    assert "something else" not in found.refusal


def test_no_secret_is_in_the_store_or_the_pack(shop, mail_server, authority, monkeypatch, tmp_path):
    from qc.export.pack import content

    server = mail_server("starttls", login=True)
    set_up(shop, server.port, mail_security="starttls", mail_user="floor")
    monkeypatch.setenv("SSL_CERT_FILE", str(authority[1]))
    monkeypatch.setenv(PASSWORD, SECRET)
    notices.send(shop.store, by="test")
    packed = content(shop.store, shop.store.revision())
    assert not [name for name, data in packed.items() if SECRET.encode() in data]
    assert b"mail_" not in packed["settings.csv"]
    stored = b"".join(p.read_bytes() for p in tmp_path.glob("shop.db*"))
    assert SECRET.encode() not in stored


def test_notices_go_out_by_themselves_after_files_are_taken_in(shop, mail_server):
    server = mail_server()
    set_up(shop, server.port)
    watch = after.Watch(shop.store, by="test")
    shop.take(stepped(34, 35))
    told = watch.told()
    assert len(told["notices"]["sent"]) == 2
    assert len(server.box.messages) == 2
    assert told["not_given"] == {}


def test_a_refusing_server_never_refuses_the_files(shop):
    set_up(shop, free_port())
    watch = after.Watch(shop.store, by="test")
    shop.take(stepped(34, 35))
    told = watch.told()
    assert told["changed"] == []
    assert "2 notices wait" in told["not_given"]["notices"]


def test_a_try_goes_to_every_recipient_and_is_no_notice(shop, mail_server):
    server = mail_server()
    set_up(shop, server.port)
    notices.attempt(post_of(shop.store.settings()))
    assert [m["Subject"] for _, m in server.box.messages] == ["Shop floor: a try"] * 2
    assert not len(shop.store.records("notice"))


def test_a_try_that_fails_is_a_refusal_with_the_servers_words():
    post = Post("127.0.0.1", free_port(), "none", "floor@example.org", ("rk@example.org",))
    with pytest.raises(PostError, match="cannot be used"):
        notices.attempt(post)
