"""An invented job in a home of its own, and a client that speaks to the page as a browser would."""

from __future__ import annotations

import hashlib
import re
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import soundfile
from starlette.testclient import TestClient

from narrator.review import serve
from narrator.review.access import Access
from narrator.review.app import make_app
from narrator.session import derive
from narrator.settings import Settings
from narrator.store import Writer
from narrator.store.erase import sound_folder
from narrator.store.rows import NewSession, Sound
from narrator.values import SAMPLE_RATE, Gap, Utterance, Word

SECONDS = 60
SAID = (
    "twenty eleven torvane linnet ninety thousand miles",
    "customer says it will not crank when it is hot",
    "could be the battery or the ground strap",
    "load test on the battery it holds ten point five volts so that rules out the battery",
    "two ten mil bolts come off the ground strap",
    "the gronkle valve looks tired as well",
    "voltage drop across the ground strap is one point nine volts",
    "that is it the ground strap is corroded that is the cause",
    "new ground strap on with one ten mil bolt",
    "it cranks every time now hot and cold",
)  # fmt: skip


def spoken(texts: tuple[str, ...] = SAID) -> list[Utterance]:
    """The texts as utterances of five seconds each, with words spread evenly."""
    found = []
    for n, text in enumerate(texts):
        start, words = n * 6.0 + 0.5, text.split()
        step = 5.0 / max(1, len(words))
        timed = tuple(Word(w, start + i * step, start + (i + 1) * step, 0.9) for i, w in enumerate(words))
        found.append(Utterance(n + 1, start, start + 5.0, text, timed, None, "hand", "aligned"))
    return found


def put_job(
    home: Path, texts: tuple[str, ...] = SAID, *, source: str = "bench.flac", ended: bool = True,
    vehicle: str | None = None, started: str = "2031-03-04T09:00:00+01:00", sound: bool = True,
) -> str:  # fmt: skip
    """Keep a job with sound (a tone that rises) and give its id."""
    with Writer(home) as writer:
        ident = writer.start_session(NewSession(started, source, "hand", vehicle))
        writer.add_utterances(ident, spoken(texts))
        writer.add_gaps(ident, [Gap(30.0, 33.0, "microphone unplugged")])
        if sound:
            path = sound_folder(home, ident) / "sound.flac"
            path.parent.mkdir(parents=True)
            at = np.arange(SECONDS * SAMPLE_RATE) / SAMPLE_RATE
            soundfile.write(path, (0.1 * np.sin(2 * np.pi * (200 + at) * at)).astype(np.float32), SAMPLE_RATE)
            digest = hashlib.sha256(path.read_bytes()).hexdigest()
            writer.add_sound(ident, Sound(path.name, 0.0, digest))
        if ended:
            writer.end_session(ident, started, float(SECONDS))
        derive(writer, ident)
    return ident


def settings_of(home: Path) -> Settings:
    """Settings of a home."""
    return Settings(home=home, shop="Invented Shop")


class Browser:
    """A test client with the page's token; ``send`` posts a form as the page would."""

    def __init__(self, client: TestClient, access: Access) -> None:
        self.client, self.access = client, access

    def get(self, path: str, **more):  # type: ignore[no-untyped-def]
        return self.client.get(path, **more)

    def send(self, path: str, **fields: object):  # type: ignore[no-untyped-def]
        return self.client.post(path, data={"token": self.access.token, **fields}, follow_redirects=False)


def token_in(html: str) -> str:
    """The token that a page carries."""
    found = re.search(r'name="token" value="([^"]+)"', html)
    assert found
    return found.group(1)


def client_for(home: Path, access: Access | None = None) -> tuple[TestClient, Access]:
    """A client on a new application; use it as a context manager so that the writer is closed."""
    access = access or Access()
    address = f"[{access.address}]" if ":" in access.address else access.address
    return TestClient(make_app(settings_of(home), access), base_url=f"http://{address}:{access.port}"), access


@contextmanager
def serving(home: Path) -> Iterator[Access]:
    """A real server on the home, on any free port; it must stop although pages are open."""
    access = Access(port=0)
    listening = serve.open_socket(access)
    up = threading.Event()
    server = serve.make_server(make_app(settings_of(home), access), up.set)
    thread = threading.Thread(target=server.run, args=([listening],))
    thread.start()
    assert up.wait(20)
    yield access
    server.should_exit = True
    thread.join(20)
    assert not thread.is_alive(), "the server stops although pages are open"
