"""The figures in the act model's card, written by ``train_acts --check``."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime

from narrator.language.act_model import FOLDER
from narrator.values import ACTS

CARD = FOLDER / "card.md"
_BLOCK = re.compile(r"(<!-- begin figures -->\n).*(<!-- end figures -->)", re.DOTALL)


def write_figures(data: str, figures: Mapping[str, Sequence[float]]) -> None:
    """Put a table of F1 (all acts, then each act, for each way of deciding) between the card's marks."""
    kinds = list(figures)
    rows = [f"| act | {' | '.join(kinds)} |", "| --- |" + " --- |" * len(kinds)]
    for n, act in enumerate(("all", *ACTS)):
        rows.append(f"| {act} | {' | '.join(f'{figures[kind][n]:.3f}' for kind in kinds)} |")
    head = f"{datetime.now(UTC):%Y-%m-%d}, `python -m models.understanding.train_acts --check`: {data}."
    block = "\n".join(["", head, "", *rows, "", ""])
    text = CARD.read_text(encoding="utf-8")
    CARD.write_text(_BLOCK.sub(lambda found: found[1] + block + found[2], text), encoding="utf-8")
