from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.review.helpers import Browser, client_for, put_job


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("NARRATOR_HOME", str(tmp_path / "home"))
    return tmp_path / "home"


@pytest.fixture
def job(home: Path) -> str:
    return put_job(home)


@pytest.fixture
def browser(home: Path, job: str) -> Iterator[Browser]:
    client, access = client_for(home)
    with client:
        yield Browser(client, access)
