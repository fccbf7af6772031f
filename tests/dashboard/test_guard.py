import re

import pytest

from dashboard.app import create_app, free_port


@pytest.fixture(scope="module")
def client(documents):
    return create_app("x", by="tester", answers=documents.Documents()).server.test_client()


def test_a_page_brings_a_policy_without_inline_or_evaluated_scripts(client):
    answer = client.get("/", base_url="http://127.0.0.1:8050")
    assert answer.status_code == 200
    policy = answer.headers["Content-Security-Policy"]
    scripts = next(p for p in policy.split("; ") if p.startswith("script-src"))
    assert "'self'" in scripts
    assert "unsafe" not in scripts
    assert "sha256-" in scripts
    assert "default-src 'self'" in policy


def test_a_page_names_no_other_host(client):
    html = client.get("/", base_url="http://127.0.0.1:8050").get_data(as_text=True)
    named = re.findall(r"""(?:src|href)=["'](?:https?:)?//[^"']+""", html)
    assert named == []


@pytest.mark.parametrize(
    "host", ["http://evil.example:8050", "http://192.168.0.9:8050", "http://127.0.0.1.example"]
)
def test_a_name_that_is_not_this_machine_is_refused(client, host):
    assert client.get("/", base_url=host).status_code == 403


@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"Origin": "http://evil.example"},
        {"Origin": "http://127.0.0.1:9999"},
        {"Origin": "http://127.0.0.1:8050", "Sec-Fetch-Site": "cross-site"},
    ],
)
def test_a_write_from_another_origin_is_refused(client, headers):
    path = "/_dash-update-component"
    answer = client.post(path, json={}, headers=headers, base_url="http://127.0.0.1:8050")
    assert answer.status_code == 403
    assert "only the pages themselves may write" in answer.get_data(as_text=True).lower()


def test_a_write_from_the_page_itself_reaches_the_callback(client):
    body = {
        "output": "changed.data",
        "outputs": {"id": "changed", "property": "data"},
        "inputs": [{"id": "units", "property": "value", "value": "metric"}],
        "changedPropIds": ["units.value"],
    }
    headers = {"Origin": "http://127.0.0.1:8050", "Sec-Fetch-Site": "same-origin"}
    answer = client.post(
        "/_dash-update-component", json=body, headers=headers, base_url="http://127.0.0.1:8050"
    )
    assert answer.status_code == 200
    assert answer.get_json()["response"]["changed"]["data"] == 41


def test_a_taken_port_is_passed_over():
    import socket

    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        found = free_port(port)
    assert found > port
