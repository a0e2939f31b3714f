"""Write into one file what the outcome network is trained from; a machine with a GPU needs nothing else.

    python -m models.understanding.outcome_network.prepare --out FILE

Checks (tests and verifications) as annotated in our narrations, with the words as the pipeline leaves them,
the words of every line, the single results of ``outcomes/*.toml``, and the act network's word vectors.
"""

from __future__ import annotations

import argparse
import json
import tomllib
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from models.understanding.corpus import HERE, narrations
from models.understanding.narrations import build
from narrator.job.outcome import FOLDER
from narrator.language.act_network import FOLDER as ACTS
from narrator.language.reader import Reader
from narrator.values import Utterance


def spoken(rows: Sequence[dict[str, Any]]) -> list[list[str]]:
    """The words of each utterance, slips repaired."""
    told = (Utterance(r["id"], r["start"], r["end"], r["text"]) for r in rows)
    return [list(one.tokens) for one in Reader(use_model=False).read(told)]


def talks(folder: Path = HERE / "narrations") -> Iterator[dict[str, Any]]:
    """Each job: its lines, what they do, and its checks (kind, outcomes, places of lines)."""
    for talk in narrations(folder):
        rows, gold = build.build(folder / f"{talk.name}.toml")
        place = {row["id"]: n for n, row in enumerate(rows)}
        checks = [
            {
                "kind": kind,
                "good": row["outcome"] == "pass",
                "accepted": row.get("outcome_ok", [row["outcome"]]),
                "at": sorted(place[i] for i in row["utterances"]),
            }
            for kind in ("tests", "verifications")
            for row in gold.get(kind, ())
            if row["outcome"] != "inconclusive"
        ]
        acts = [gold["utterances"][str(row["id"])]["acts"] for row in rows]
        yield {"name": talk.name, "lines": spoken(rows), "acts": acts, "checks": checks}


def single() -> list[tuple[list[str], bool]]:
    """The single results: their words, and whether they are good."""
    told: list[tuple[str, bool]] = []
    for path in sorted((HERE / "outcomes").glob("*.toml")):
        table = tomllib.loads(path.read_text(encoding="utf-8"))
        told += [(text, key == "good") for key in ("good", "bad") for text in table[key].splitlines() if text]
    rows = [{"id": n, "start": n, "end": n + 1.0, "text": text} for n, (text, _) in enumerate(told)]
    return [(words, good) for words, (_, good) in zip(spoken(rows), told, strict=True)]


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, required=True)
    options = parser.parse_args()
    data: dict[str, Any] = {"talks": list(talks()), "single": single()}
    with np.load(ACTS / "network.npz") as kept:
        data["words"] = str(kept["words"]).split("\n")
        vectors = kept["rows"].astype(np.float32) * kept["scale"].astype(np.float32)[:, None]
    data["vectors"] = np.round(vectors, 4).tolist()
    options.out.write_text(json.dumps(data), encoding="utf-8")
    count = sum(len(talk["checks"]) for talk in data["talks"])
    print(f"{len(data['talks'])} jobs, {count} checks, {len(data['single'])} single results, for {FOLDER}")


if __name__ == "__main__":
    main()
