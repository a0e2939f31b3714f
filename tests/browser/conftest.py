"""A real Chromium on a real server, each test on a home of its own."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Error, Page, sync_playwright

from tests.review.conftest import home, job, job_as_made  # noqa: F401  fixtures of these tests too
from tests.review.helpers import serving

ARGUMENTS = ["--no-sandbox", "--autoplay-policy=no-user-gesture-required"]


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """The system's Chromium, else Playwright's own; without one the tests are skipped, but not in CI."""
    path = shutil.which("chromium") or shutil.which("google-chrome")
    with sync_playwright() as playwright:
        try:
            browser = playwright.chromium.launch(executable_path=path, args=ARGUMENTS)
        except Error as error:
            if os.environ.get("CI"):
                raise
            pytest.skip(f"no Chromium could be started (install chromium to run this): {error.message[:100]}")
        yield browser
        browser.close()


@pytest.fixture
def url(home: Path, job: str) -> Iterator[str]:  # noqa: F811  the fixtures above
    """Address of a server on the home, on any free port."""
    with serving(home) as access:
        yield f"http://127.0.0.1:{access.port}"


@pytest.fixture
def page(chromium: Browser, url: str) -> Iterator[Page]:
    """A page in a fresh profile that fails the test on any script error or refused asset."""
    context = chromium.new_context(base_url=url, viewport={"width": 1280, "height": 800})
    context.set_default_timeout(10_000)
    made = context.new_page()
    wrong: list[str] = []
    made.on("pageerror", lambda error: wrong.append(str(error)))
    made.on("console", lambda said: wrong.append(said.text) if "Content Security" in said.text else None)
    yield made
    context.close()
    assert not wrong
