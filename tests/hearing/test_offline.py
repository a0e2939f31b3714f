"""Loading the recognizer leaves nothing in the user's home and tries to reach nobody."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

_LOAD = """
import socket, sys
def refuse(*args, **kwargs): sys.exit("the network was asked for")
socket.socket.connect = refuse
from narrator.hearing.moonshine_engine import open_decoder
from narrator.settings import load_settings
open_decoder(load_settings())
"""


@pytest.mark.engine
def test_loading_the_bundled_recognizer_writes_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("ORT_DISABLE_TELEMETRY", raising=False)
    for name in ("HOME", "XDG_CACHE_HOME", "XDG_DATA_HOME", "NARRATOR_HOME"):
        monkeypatch.setenv(name, str(tmp_path / "home"))
    (tmp_path / "home").mkdir()
    done = subprocess.run([sys.executable, "-c", _LOAD], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert list((tmp_path / "home").rglob("*")) == []
