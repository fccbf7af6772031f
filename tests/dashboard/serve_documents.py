"""The invented shop's pages on a port, for the browser: serve_documents.py PORT full | empty | STORE."""

import sys

from dashboard.app import create_app, serve
from tests.dashboard.documents import Documents

if __name__ == "__main__":
    port, what = int(sys.argv[1]), sys.argv[2]
    answers = None if what not in ("full", "empty") else Documents(empty=what == "empty")
    serve(create_app(what, by="tester", answers=answers), port)
