"""The usual attacks: foreign hosts and sites, writes without a token, climbing paths, script, floods."""

from __future__ import annotations

import re
import socket
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest

from narrator.review import guard, serve
from narrator.review.access import Access, new_password
from narrator.store import Writer
from narrator.store.rows import Sound
from tests.review.helpers import Browser, client_for, put_job, serving, token_in

NASTY = "<script>alert(1)</script> <img src=x onerror=alert(2)> {{ 7*7 }} \"' --> ]]> </textarea>"
FORM = {"content-type": "application/x-www-form-urlencoded"}


@pytest.mark.parametrize(
    "host", ["evil.example", "127.0.0.1", "127.0.0.1:1", "127.0.0.1.evil.example:8765", ""]
)
def test_a_foreign_host_is_not_answered(browser: Browser, host: str) -> None:
    answer = browser.get("/", headers={"host": host})
    assert answer.status_code == 421 and "Torvane" not in answer.text


@pytest.mark.parametrize(
    "origin", ["http://evil.example", "null", "https://127.0.0.1:8765", "http://127.0.0.1:1"]
)
def test_a_foreign_origin_may_not_write_or_read(browser: Browser, job: str, origin: str) -> None:
    data = {"token": browser.access.token, "who": "Eve", "seen": "0", "text": "x"}
    answer = browser.client.post(f"/jobs/{job}/lines/2", data=data, headers={"origin": origin})
    assert answer.status_code == 403
    assert browser.get(f"/jobs/{job}", headers={"origin": origin}).status_code == 403


def test_another_site_may_not_embed_sound_or_script(browser: Browser, job: str) -> None:
    foreign = {"sec-fetch-site": "cross-site", "sec-fetch-mode": "no-cors"}
    assert browser.get(f"/jobs/{job}/sound/0", headers=foreign).status_code == 403
    visit = {"sec-fetch-site": "cross-site", "sec-fetch-mode": "navigate"}
    assert browser.get("/", headers=visit).status_code == 200, "a link from elsewhere works"


WRITES = (
    "lines/2",
    "lines/2/undo",
    "lines/2/strike",
    "words",
    "added",
    "looks",
    "approval",
    "reopen",
    "replay",
    "replay/1",
)


@pytest.mark.parametrize("path", WRITES)
@pytest.mark.parametrize("token", [None, "", "wrong"])
def test_no_write_without_the_token(browser: Browser, job: str, path: str, token: str | None) -> None:
    data = {"who": "Eve", "seen": "0", "text": "x", "struck": "yes"} | (
        {} if token is None else {"token": token}
    )
    assert browser.client.post(f"/jobs/{job}/{path}", data=data).status_code == 403


ANYWHERE = ("/searches", "/searches/drop", "/names")


@pytest.mark.parametrize("path", ANYWHERE)
@pytest.mark.parametrize("token", [None, "", "wrong"])
def test_no_write_without_the_token_anywhere(
    browser: Browser, home: Path, path: str, token: str | None
) -> None:
    data = {"name": "mine", "said": "strap", "names": "hidden", "back": "/search"}
    given = data | ({} if token is None else {"token": token})
    assert browser.client.post(path, data=given).status_code == 403
    assert not (home / "searches.json").exists()


def test_every_route_that_writes_is_among_those_tested(browser: Browser) -> None:
    from narrator.review.app import routes  # noqa: PLC0415

    posts = {r.path.split("}/", 1)[-1] for r in routes() if "POST" in (getattr(r, "methods", None) or ())}
    posts = {p.replace("{line:number}", "2").replace("{number:number}", "1") for p in posts}
    assert posts == {*WRITES, *ANYWHERE, "/login"}


@pytest.mark.parametrize("kind", ["application/json", "multipart/form-data; boundary=x", "text/plain", ""])
def test_only_forms_are_read(browser: Browser, job: str, kind: str) -> None:
    answer = browser.client.post(f"/jobs/{job}/lines/2", content=b"{}", headers={"content-type": kind})
    assert answer.status_code == 415


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"])
def test_other_methods_are_refused(browser: Browser, method: str) -> None:
    assert browser.client.request(method, "/").status_code == 405


@pytest.mark.parametrize(
    "path",
    ["/static/../app.py", "/static/%2e%2e/app.py", "/static/..%2f..%2ferrors.py", "/static//etc/passwd",
     "/jobs/../narrator.db", "/jobs/%2e%2e%2f%2e%2e/export/sheet.md", "/jobs/{job}/sound/../../narrator.db",
     "/jobs/{job}/sound/..%2f..%2fnarrator.db", "/jobs/{job}/sound/-1", "/jobs/{job}/sound/0x0",
     "/jobs/{job}/export/..%2f..%2fsettings.toml", "/jobs/{job}/lines/1e9", "/jobs/UPPERCASE123"],
)  # fmt: skip
def test_paths_do_not_climb(browser: Browser, job: str, path: str) -> None:
    assert browser.get(path.replace("{job}", job)).status_code == 404


@pytest.mark.parametrize("name", ["../../narrator.db", "/etc/passwd", "..", ".", "../sound.flac", "a/b.flac"])
def test_sound_is_served_from_its_own_folder_only(browser: Browser, home: Path, job: str, name: str) -> None:
    (home / "sound" / "sound.flac").write_bytes(b"secret")
    with Writer(home) as writer:
        writer.add_sound(job, Sound(name, 60.0, "0" * 64))
    assert browser.get(f"/jobs/{job}/sound/1").status_code == 404


def test_a_link_out_of_the_folder_is_not_followed(browser: Browser, home: Path, job: str) -> None:
    (home / "sound" / job / "link.flac").symlink_to(home / "narrator.db")
    with Writer(home) as writer:
        writer.add_sound(job, Sound("link.flac", 60.0, "0" * 64))
    assert browser.get(f"/jobs/{job}/sound/1").status_code == 404


def test_script_in_dictated_text_names_and_searches_stays_text(browser: Browser, home: Path) -> None:
    bad = put_job(
        home, (NASTY, f"the battery is {NASTY} flat"), source=f"{NASTY}.wav", vehicle=NASTY, sound=False
    )
    browser.send(f"/jobs/{bad}/lines/1", who=NASTY[:70], seen=0, text=NASTY, reason=NASTY)
    pages = ["/", f"/?q={NASTY}", *(f"/jobs/{bad}{end}" for end in
             ("", "/looks", "/lines/1", "/approval", "/revisions", "/export/sheet.html"))]  # fmt: skip
    for path in pages:
        text = browser.get(path).text
        assert not re.search(r"<script>alert|<img src=x|>49<", text), path
        assert "&lt;script&gt;" in text or path.endswith(("/revisions", "/approval", ".html")), path


def test_headers_of_every_answer(browser: Browser, job: str) -> None:
    for path in ("/", f"/jobs/{job}", "/static/desk.css", "/nothing", f"/jobs/{job}/sound/0"):
        headers = browser.get(path).headers
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy and "unsafe" not in policy and "http" not in policy
        assert headers["x-content-type-options"] == "nosniff" and headers["x-frame-options"] == "DENY"
        assert "server" not in headers and "access-control-allow-origin" not in headers
    text = browser.get(f"/jobs/{job}").text
    assert not re.search(r"(?:src|href|action)=\"(?:https?:)?//", text), "nothing from outside"
    assert not re.search(r"\son\w+=|style=", text.split("<body", 1)[1]), "no inline script or style"


def test_huge_bodies_and_addresses_are_refused(browser: Browser, job: str) -> None:
    path = f"/jobs/{job}/lines/2"
    assert browser.client.post(path, content=b"a" * (guard.BODY_BYTES + 1), headers=FORM).status_code == 413

    def stream() -> Iterator[bytes]:
        for _ in range(10):
            yield b"a" * 16_384

    assert browser.client.post(path, content=stream(), headers=FORM).status_code == 413
    assert browser.client.post(path, content="a=1&" * 100, headers=FORM).status_code == 400
    assert browser.client.post(path, content=b"text=%ff%fe", headers=FORM).status_code == 400
    assert browser.get("/?q=" + "a" * 5000).status_code == 414
    assert browser.send(path, who="Ana", seen=0, text="a" * 2001).status_code == 413
    assert browser.send(path, who="", seen=0, text="x").status_code == 400


def test_another_address_asks_for_the_password(home: Path, job: str) -> None:
    access = Access("192.0.2.7", 8765, new_password())
    client, _ = client_for(home, access)
    with client:
        for path in ("/", f"/jobs/{job}", f"/jobs/{job}/sound/0", "/news"):
            answer = client.get(path, follow_redirects=False)
            assert answer.status_code == 303 and answer.headers["location"] == "/login", path
        assert client.get("/", headers={"host": "127.0.0.1:8765"}).status_code == 421
        assert client.post(f"/jobs/{job}/looks", data={"token": access.token}).status_code == 401
        page = client.get("/login").text
        assert access.token not in page and access.password and access.password not in page
        wrong = client.post("/login", data={"token": token_in(page), "password": "guess"})
        assert wrong.status_code == 401
        right = client.post(
            "/login", data={"token": token_in(page), "password": access.password}, follow_redirects=False
        )
        assert right.status_code == 303 and "HttpOnly" in right.headers["set-cookie"]
        assert "samesite=strict" in right.headers["set-cookie"].lower()
        assert client.get("/").status_code == 200


def test_guessing_passwords_is_slowed(home: Path, job: str) -> None:
    access = Access("192.0.2.7", 8765, new_password())
    client, _ = client_for(home, access)
    with client:
        data = {"token": access.login_token, "password": "guess"}
        assert [client.post("/login", data=data).status_code for _ in range(6)] == [401] * 4 + [429] * 2
        good = {"token": access.login_token, "password": access.password}
        assert client.post("/login", data=good).status_code == 429


@pytest.fixture
def served(home: Path, job: str, monkeypatch: pytest.MonkeyPatch) -> Iterator[Access]:
    """A real server on a free port, impatient enough for a test."""
    monkeypatch.setattr(serve, "HEAD_SECONDS", 0.5)
    monkeypatch.setattr(guard, "BODY_SECONDS", 0.5)
    with serving(home) as access:
        yield access


def _say(access: Access, *parts: bytes, pause: float = 0.0) -> bytes:
    """What comes back; a server that hangs up with something unread resets the line: that ends it as well."""
    with socket.create_connection(("127.0.0.1", access.port), timeout=10) as line:
        found = b""
        with suppress(ConnectionResetError, BrokenPipeError):
            for part in parts:
                line.sendall(part)
                time.sleep(pause)
            while part := line.recv(65536):
                found += part
        return found


def test_a_slow_head_is_cut_off(served: Access) -> None:
    began = time.monotonic()
    assert _say(served, b"GET / HTTP/1.1\r\nHost: ") == b""
    assert time.monotonic() - began < 5


def test_a_slow_body_is_cut_off(served: Access) -> None:
    host = f"127.0.0.1:{served.port}".encode()
    head = b"POST /login HTTP/1.1\r\nHost: " + host + b"\r\nContent-Length: 50\r\nConnection: close\r\n"
    answer = _say(served, head + b"Content-Type: application/x-www-form-urlencoded\r\n\r\n", b"a=")
    assert answer.startswith(b"HTTP/1.1 408")


def test_a_huge_head_is_cut_off(served: Access) -> None:
    answer = _say(served, b"GET / HTTP/1.1\r\nX: " + b"a" * 100_000)
    assert not answer or answer.startswith(b"HTTP/1.1 400")


def test_only_loopback_listens(served: Access) -> None:
    assert served.local and served.address == "127.0.0.1"
    ordinary = _say(
        served, f"GET /keys HTTP/1.1\r\nHost: 127.0.0.1:{served.port}\r\nConnection: close\r\n\r\n".encode()
    )
    assert ordinary.startswith(b"HTTP/1.1 200") and b"uvicorn" not in ordinary.lower()
