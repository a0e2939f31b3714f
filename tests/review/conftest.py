from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.review.helpers import Browser, client_for, put_job


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("NARRATOR_HOME", str(tmp_path / "home"))
    return tmp_path / "home"


@pytest.fixture(scope="session")
def job_as_made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """A home with the job in it and the job's id, made once: a test gets a copy, for it costs a tenth."""
    folder = tmp_path_factory.mktemp("review") / "home"
    return folder, put_job(folder)


@pytest.fixture
def job(home: Path, job_as_made: tuple[Path, str]) -> str:
    shutil.copytree(job_as_made[0], home, dirs_exist_ok=True)
    return job_as_made[1]


@pytest.fixture
def browser(home: Path, job: str) -> Iterator[Browser]:
    client, access = client_for(home)
    with client:
        yield Browser(client, access)
