"""What every request must pass before any page sees it, and the headers that every answer carries."""

from __future__ import annotations

import asyncio
from http.cookies import CookieError, SimpleCookie
from urllib.parse import parse_qsl

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from narrator.review.access import COOKIE, Access

BODY_BYTES = 64 * 1024
BODY_SECONDS = 10.0
TARGET_BYTES = 2048
FIELDS = 32
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; media-src 'self'; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'; "
    "require-trusted-types-for 'script'; trusted-types 'none'"
)
_HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=()",
    "cache-control": "no-store",
}
_FORM = "application/x-www-form-urlencoded"
_OPEN = ("/login", "/static/")


class Guard:
    """Refuses foreign hosts and origins, writes without a token, strangers, and bodies too large or too slow.

    The fields of a write are in ``scope["state"]["form"]``; a route never reads a body itself.
    """

    def __init__(self, app: ASGIApp, access: Access) -> None:
        self.app = app
        self.access = access

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass one request on, or answer it."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
        elif scope["type"] == "http":
            await self._http(scope, receive, send)

    async def _http(self, scope: Scope, receive: Receive, send: Send) -> None:
        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in _HEADERS.items():
                    headers.setdefault(name, value)
            await send(message)

        headers = Headers(scope=scope)
        refusal = self._refuse(scope, headers)
        if refusal is None and scope["method"] == "POST":
            refusal = await self._read_form(scope, headers, receive)
        await (refusal or self.app)(scope, receive, with_headers)

    def _refuse(self, scope: Scope, headers: Headers) -> Response | None:
        """Why a request is not answered, judged by its head alone."""
        if headers.get("host", "").lower() not in self.access.hosts:
            return _no(421, "This address is not served here.")
        if scope["method"] not in ("GET", "HEAD", "POST"):
            return _no(405, "This page is read with GET and changed with POST.")
        if len(scope["raw_path"]) + len(scope["query_string"]) > TARGET_BYTES:
            return _no(414, "The address is too long.")
        origin, site = headers.get("origin"), headers.get("sec-fetch-site", "none")
        if origin is not None and origin not in {f"http://{host}" for host in self.access.hosts}:
            return _no(403, "Another site may not use this page.")
        visit = headers.get("sec-fetch-mode") == "navigate" and scope["method"] == "GET"
        if site not in ("none", "same-origin") and not visit:
            return _no(403, "Another site may not use this page.")
        if not scope["path"].startswith(_OPEN) and not self.access.may_enter(_cookie(headers)):
            if scope["method"] == "GET":
                return RedirectResponse("/login", 303)
            return _no(401, "Give the password first.")
        return None

    async def _read_form(self, scope: Scope, headers: Headers, receive: Receive) -> Response | None:
        """Put the fields into the scope, or say why not."""
        if headers.get("content-type", "").split(";")[0].strip().lower() != _FORM:
            return _no(415, "Only forms are read.")
        if (length := headers.get("content-length", "0")).isdigit() and int(length) > BODY_BYTES:
            return _no(413, "That is too much at once.")
        try:
            async with asyncio.timeout(BODY_SECONDS):
                body = await _body(receive)
        except TimeoutError:
            return _no(408, "That came too slowly.")
        if body is None:
            return _no(413, "That is too much at once.")
        try:
            fields = parse_qsl(
                body.decode("utf-8"), keep_blank_values=True, max_num_fields=FIELDS, errors="strict"
            )
        except ValueError:
            return _no(400, "That is not a form.")
        form = dict(fields)
        if not self.access.right_token(form.pop("token", headers.get("x-narrator-token", "")), scope["path"]):
            return _no(403, "The page is from an earlier start of the program: load it again, then save.")
        scope.setdefault("state", {})["form"] = form
        return None


async def _body(receive: Receive) -> bytes | None:
    """The whole body; None when it grows too large or the sender has gone."""
    body = b""
    while True:
        message = await receive()
        if message["type"] == "http.disconnect":
            return None
        body += bytes(message.get("body", b""))
        if len(body) > BODY_BYTES:
            return None
        if not message.get("more_body"):
            return body


def _cookie(headers: Headers) -> str | None:
    try:
        found = SimpleCookie(headers.get("cookie", "")).get(COOKIE)
    except CookieError:
        return None
    return found.value if found else None


def _no(status: int, why: str) -> Response:
    return PlainTextResponse(why + "\n", status, headers={"connection": "close"})
