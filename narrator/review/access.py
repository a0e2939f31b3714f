"""Who may use the page: the addresses it answers to, the token of every write, the password if one is set."""

from __future__ import annotations

import hmac
import ipaddress
import secrets
import time
from dataclasses import dataclass, field

LOOPBACK = "127.0.0.1"
COOKIE = "narrator_pass"
WHO_COOKIE = "narrator_who"
_WORDS = "0123456789abcdefghjkmnpqrstvwxyz"
_TRIES, _MINUTE = 5, 60.0


def new_password() -> str:
    """Sixteen letters and digits (80 bits) in groups of four, to be typed on a tablet."""
    picked = [secrets.choice(_WORDS) for _ in range(16)]
    return "-".join("".join(picked[i : i + 4]) for i in range(0, 16, 4))


@dataclass(slots=True)
class Access:
    """Address and port that are served; ``password`` is None where only this machine can reach the page."""

    address: str = LOOPBACK
    port: int = 8765
    password: str | None = None
    token: str = field(default_factory=lambda: secrets.token_urlsafe(32))
    login_token: str = field(default_factory=lambda: secrets.token_urlsafe(32))
    _session: str = field(default_factory=lambda: secrets.token_urlsafe(32))
    _wrong: list[float] = field(default_factory=list)

    @property
    def hosts(self) -> frozenset[str]:
        """Values of the Host header that are answered: a foreign name that leads here is not."""
        names = {_bracketed(self.address)}
        if self.local:
            names |= {LOOPBACK, "localhost", "[::1]"}
        return frozenset({f"{name}:{self.port}" for name in names} | (names if self.port == 80 else set()))

    @property
    def local(self) -> bool:
        """Whether only this machine can reach the page."""
        return ipaddress.ip_address(self.address).is_loopback

    def right_token(self, given: str, path: str) -> bool:
        """Whether a write carries the token of its page."""
        wanted = self.login_token if path == "/login" else self.token
        return hmac.compare_digest(given.encode(), wanted.encode())

    def may_enter(self, cookie: str | None) -> bool:
        """Whether a request shows that the password was given, or none is needed."""
        if self.password is None:
            return True
        return cookie is not None and hmac.compare_digest(cookie.encode(), self._session.encode())

    def log_in(self, given: str) -> str | None:
        """The cookie's value for the right password, else None; too many wrong ones close it for a minute."""
        if self.password is None or self.too_many():
            return None
        spoken = given.strip().lower().replace(" ", "-")
        if hmac.compare_digest(spoken.encode(), self.password.encode()):
            return self._session
        self._wrong.append(time.monotonic())
        return None

    def too_many(self) -> bool:
        """Whether wrong passwords came too fast."""
        now = time.monotonic()
        self._wrong[:] = [at for at in self._wrong if now - at < _MINUTE]
        return len(self._wrong) >= _TRIES


def _bracketed(address: str) -> str:
    return f"[{address}]" if ":" in address else address
