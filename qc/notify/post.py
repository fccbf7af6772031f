"""Where notices go and by which server: the shop's mail settings, each checked before it is kept."""

import os
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Literal

from qc.errors import InputError, QuestionError

Security = Literal["starttls", "ssl", "none"]
PASSWORD: Final = "QC_MAIL_PASSWORD"  # name of a variable of the environment
PORTS: Final[Mapping[str, int]] = {"starttls": 587, "ssl": 465, "none": 25}  # RFC 6409, RFC 8314, RFC 5321
HERE: Final = "http://127.0.0.1:8050/"
_ADDRESS: Final = re.compile(
    r"[A-Za-z0-9.!#$%&'*+/=?^_`{|}~-]{1,64}@[A-Za-z0-9](?:[A-Za-z0-9.-]{0,252}[A-Za-z0-9])?"
)
_HOST: Final = re.compile(r"[A-Za-z0-9](?:[A-Za-z0-9.:_-]{0,252}[A-Za-z0-9])?|::1")
_PAGE: Final = re.compile(r"https?://[^\s<>\"]{1,200}")


def _host(text: str) -> str:
    if not _HOST.fullmatch(text):
        raise InputError(f"{text!r} is no mail server's name: write one like mail.example.org")
    return text


def _port(text: str) -> str:
    if not text.isdecimal() or not 1 <= int(text) <= 65535:
        raise InputError(f"mail_port is a number from 1 to 65535, not {text!r}")
    return str(int(text))


def _address(text: str) -> str:
    if not _ADDRESS.fullmatch(text):
        raise InputError(f"{text!r} is no mail address: write one like floor@example.org, without a name")
    return text


def _recipients(text: str) -> str:
    told = [_address(part.strip()) for part in re.split(r"[,;]", text) if part.strip()]
    if not told:
        raise InputError("mail_recipients are addresses with commas between them")
    return ", ".join(dict.fromkeys(told))


def _security(text: str) -> str:
    if text.lower() not in PORTS:
        raise InputError(f"mail_security is one of {', '.join(PORTS)}, not {text!r}")
    return text.lower()


def _line(text: str) -> str:
    if not text.isprintable():
        raise InputError("write it in one line of plain text")
    return text


def _page(text: str) -> str:
    if not _PAGE.fullmatch(text):
        raise InputError(f"{text!r} is no address of a page: write one like {HERE}")
    return text


SETTINGS: Final[Mapping[str, tuple[str, Callable[[str], str]]]] = {
    "mail_host": ("mail server that sends notices", _host),
    "mail_port": ("its port (587, 465 with ssl)", _port),
    "mail_security": ("starttls, ssl or none", _security),
    "mail_user": (f"log-in name; the password stands in {PASSWORD} or a file", _line),
    "mail_password_file": ("file whose first line is the password; never kept in the store", _line),
    "mail_sender": ("address that notices come from", _address),
    "mail_recipients": ("addresses that get notices, with commas", _recipients),
    "mail_page": (f"address of the pages, written into notices ({HERE})", _page),
}


@dataclass(frozen=True, slots=True)
class Post:
    """How notices are sent; a password is never part of it, it is read when it is needed."""

    host: str
    port: int
    security: Security
    sender: str
    recipients: tuple[str, ...]
    user: str | None = None
    password_file: str | None = None
    page: str = HERE

    @property
    def place(self) -> str:
        """Server and port, for messages."""
        return f"{self.host}:{self.port}"

    def password(self) -> str:
        """The password, from the environment or the file.

        Raises
        ------
        QuestionError
            When neither has one.
        """
        told = os.environ.get(PASSWORD)
        if told:
            return told
        if self.password_file:
            from qc.ingest.sources import content

            lines = content(Path(self.password_file)).decode("utf-8", "replace").splitlines()
            if lines and lines[0].strip():
                return lines[0].strip()
        raise QuestionError(
            f"{self.user} logs in at {self.place} with a password: put it into {PASSWORD} or into a file and "
            "name that with qc shop set mail_password_file"
        )


def post_of(settings: Mapping[str, str]) -> Post | None:
    """How this shop sends notices, None where it has not been set up.

    Raises
    ------
    QuestionError
        When it is set up in part, or a password would go over an open line.
    """
    told = {name: settings[name] for name in SETTINGS if settings.get(name)}
    needed = ("mail_host", "mail_sender", "mail_recipients")
    if "mail_host" not in told and "mail_recipients" not in told:
        return None
    missing = [name for name in needed if name not in told]
    if missing:
        raise QuestionError(f"notices need {', '.join(missing)} too: qc shop set {missing[0]} VALUE")
    kind: Security = told.get("mail_security", "starttls")  # type: ignore[assignment]
    if kind == "none" and "mail_user" in told:
        raise QuestionError(
            "a password never goes over an open line: set mail_security to starttls or ssl, or take "
            "mail_user back"
        )
    return Post(
        told["mail_host"], int(told.get("mail_port", PORTS[kind])), kind, told["mail_sender"],
        tuple(told["mail_recipients"].split(", ")), told.get("mail_user"), told.get("mail_password_file"),
        told.get("mail_page", HERE),
    )  # fmt: skip
