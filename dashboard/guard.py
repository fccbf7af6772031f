"""Who may talk to the pages: this machine, from the pages' own origin; nothing comes from elsewhere."""

from typing import Final
from urllib.parse import urlsplit

from dash import Dash
from flask import Flask, Response, request

LOOPBACK: Final = frozenset({"127.0.0.1", "localhost", "::1"})


def _refused(words: str) -> Response:
    return Response(words + "\n", status=403, mimetype="text/plain")


def _check() -> Response | None:
    """Refuse foreign host names (a name that was made to point here) and writes from other origins."""
    if urlsplit(f"//{request.host}").hostname not in LOOPBACK:
        return _refused("These pages answer to this machine only: open them as http://127.0.0.1.")
    if request.method in ("GET", "HEAD", "OPTIONS"):
        return None
    origin = request.headers.get("Origin")
    site = request.headers.get("Sec-Fetch-Site", "same-origin")
    if origin is None or urlsplit(origin).netloc != request.host or site != "same-origin":
        return _refused("Only the pages themselves may write: reload the page and try again.")
    return None


def policy(app: Dash) -> str:
    """Content security policy: own scripts, own pictures, no other host."""
    scripts = " ".join(["'self'", *(str(one) for one in app.csp_hashes())])
    return "; ".join(
        [
            "default-src 'self'",
            f"script-src {scripts}",
            "style-src 'self' 'unsafe-inline'",
            "img-src 'self' data: blob:",
            "font-src 'self' data:",
            "worker-src 'self' blob:",
            "connect-src 'self'",
            "object-src 'none'",
            "base-uri 'self'",
            "form-action 'self'",
            "frame-ancestors 'none'",
        ]
    )


def protect(app: Dash) -> None:
    """Add the checks and the answer's headers to the app's server."""
    server: Flask = app.server

    @server.after_request
    def _headers(response: Response) -> Response:
        # only now is the list of inline scripts complete
        response.headers["Content-Security-Policy"] = policy(app)
        response.headers["X-Content-Type-Options"] = "nosniff"
        response.headers["Referrer-Policy"] = "same-origin"
        return response

    server.before_request(_check)
