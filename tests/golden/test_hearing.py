"""The bundled recognizer hears the sample sessions well enough to be understood."""

from __future__ import annotations

import pytest

from narrator import bench

pytestmark = pytest.mark.engine

MOST_ERRORS = {"brake_drag": 0.10, "genset_surge": 0.15}
"""Word error rates measured when this was written: 0.062 and 0.120 (the second with workshop noise)."""
IN_THE_README = "brake_drag"
"""Heard by the README's first command, and judged there (``tests/docs/test_readme.py``): once is enough."""


@pytest.mark.parametrize("name", sorted(MOST_ERRORS.keys() - {IN_THE_README}))
def test_a_sample_is_heard(name: str) -> None:
    (folder,) = (path for path in bench.samples() if path.name == name)
    found = bench.hear_sample(folder, "moonshine")
    assert found.utterances >= 20
    assert found.wer is not None
    assert found.wer <= MOST_ERRORS[name]
