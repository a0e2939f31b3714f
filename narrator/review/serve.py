"""Serving the page: one thread of uvicorn, with connections closed that are slow to say what they want."""

from __future__ import annotations

import asyncio
import socket
from collections.abc import Callable

import uvicorn
from starlette.types import ASGIApp
from uvicorn.protocols.http.h11_impl import H11Protocol

from narrator.errors import NarratorError
from narrator.review.access import Access

HEAD_SECONDS = 10.0
"""How long a connection may take to send the head of its first request."""
_CONNECTIONS = 64


class ImpatientProtocol(H11Protocol):
    """HTTP/1.1 that closes a connection which has not asked for anything in time."""

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Start the clock."""
        super().connection_made(transport)
        self._patience = self.loop.call_later(HEAD_SECONDS, self._too_slow)

    def connection_lost(self, exc: Exception | None) -> None:
        """Stop the clock."""
        self._patience.cancel()
        super().connection_lost(exc)

    def _too_slow(self) -> None:
        if self.cycle is None and not self.transport.is_closing():
            self.transport.close()


def open_socket(access: Access) -> socket.socket:
    """A listening socket.

    Raises:
        NarratorError: E702 when address and port cannot be had, E703 when the address is not one of ours.
    """
    family = socket.AF_INET6 if ":" in access.address else socket.AF_INET
    made = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)  # named, else no TCP_NODELAY
    try:
        made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        made.bind((access.address, access.port))
        made.listen(_CONNECTIONS)
    except OSError as error:
        made.close()
        if error.errno == 99:  # EADDRNOTAVAIL
            raise NarratorError("E703", address=access.address) from error
        raise NarratorError(
            "E702", address=access.address, port=access.port, why=error.strerror or error
        ) from error
    access.port = made.getsockname()[1]
    return made


class Server(uvicorn.Server):
    """A server that calls ``ready`` once requests are taken."""

    def __init__(self, config: uvicorn.Config, ready: Callable[[], None]) -> None:
        super().__init__(config)
        self._ready = ready

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Start, then say so."""
        await super().startup(sockets)
        self._ready()


def make_server(app: ASGIApp, ready: Callable[[], None] = lambda: None) -> Server:
    """A server with limits; it prints nothing and tells nobody what it is."""
    config = uvicorn.Config(
        app,
        http=ImpatientProtocol,
        ws="none",
        lifespan="on",
        log_config=None,
        access_log=False,
        server_header=False,
        proxy_headers=False,
        timeout_keep_alive=30,
        timeout_graceful_shutdown=1,
        limit_concurrency=_CONNECTIONS,
        h11_max_incomplete_event_size=16 * 1024,
    )
    return Server(config, ready)
