"""A mail server of our own on this machine, and a shop with one matter to tell of."""

import socket
import ssl
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from email import message_from_bytes, policy
from email.message import EmailMessage
from pathlib import Path

import pytest
import trustme
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import AuthResult, LoginPassword

SECRET = "bores and hones"


@dataclass
class Box:
    """What the server took; what it refuses."""

    messages: list[tuple[str, EmailMessage]] = field(default_factory=list)
    refuses: set[str] = field(default_factory=set)
    refuse_all: str | None = None
    logged_in: list[str] = field(default_factory=list)

    def knows(self, server, session, envelope, mechanism, data) -> AuthResult:
        assert isinstance(data, LoginPassword)
        known = (data.login, data.password) == (b"floor", SECRET.encode())
        self.logged_in += [data.login.decode()] if known else []
        return AuthResult(success=known, handled=False)

    async def handle_RCPT(self, server, session, envelope, address, options):  # noqa: N802
        if address in self.refuses:
            return "550 no such box here"
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server, session, envelope):  # noqa: N802
        if self.refuse_all:
            return self.refuse_all
        message = message_from_bytes(envelope.content, policy=policy.default)
        self.messages += [(who, message) for who in envelope.rcpt_tos]
        return "250 taken"


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


@dataclass(frozen=True)
class Server:
    """Where the server listens, and its box."""

    port: int
    box: Box


@pytest.fixture(scope="session")
def authority(tmp_path_factory) -> tuple[trustme.CA, Path]:
    """An authority that nobody else trusts, and the file that tells of it."""
    made = trustme.CA()
    place = tmp_path_factory.mktemp("authority") / "authority.pem"
    made.cert_pem.write_to_path(place)
    return made, place


@pytest.fixture
def mail_server(authority) -> Iterator[Callable[..., Server]]:
    """Starts servers: `security` none, starttls or ssl, with a log-in when `login`."""
    started: list[Controller] = []

    def start(security: str = "none", *, login: bool = False, port: int | None = None) -> Server:
        box, chosen = Box(), port or free_port()
        more: dict = {}
        if security != "none":
            context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
            authority[0].issue_cert("127.0.0.1").configure_cert(context)
            more = {"ssl_context" if security == "ssl" else "tls_context": context}
        if security == "starttls":
            more["require_starttls"] = True
        if login:
            # the server counts a line as secured only after STARTTLS
            secured = security != "ssl"
            more |= {"authenticator": box.knows, "auth_required": secured, "auth_require_tls": secured}
        controller = Controller(box, hostname="127.0.0.1", port=chosen, **more)
        controller.start()
        started.append(controller)
        return Server(chosen, box)

    yield start
    for controller in started:
        controller.stop()
