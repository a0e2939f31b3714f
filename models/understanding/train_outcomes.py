"""Train the outcome model from our own results and narrations, and say how well it does on unseen jobs.

    python -m models.understanding.train_outcomes SCORES            train, write models/outcomes/weights.json
    python -m models.understanding.train_outcomes SCORES --check    cross-validate by jobs; write nothing

SCORES: what networks that never saw the job say of each line, acts first (``network.train --check SCORES``).
The words model learns from ``outcomes/*.toml`` and from the tests and verifications annotated in the
narrations; the context model from the latter alone, with acts and tones from models that never saw the job.
Takes some minutes on one core.
"""

from __future__ import annotations

import argparse
import json
import tomllib
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal, cast

import numpy as np
from numpy.typing import NDArray

from models.understanding.corpus import HERE, narrations
from models.understanding.logistic import descend
from models.understanding.narrations import build
from models.understanding.train_acts import folds
from narrator.job.line import Line
from narrator.job.outcome import FOLDER, Weights, context_features, word_features
from narrator.language.act_model import ActModel, Scores
from narrator.language.reader import Reader
from narrator.values import Utterance

FOLDS = 5
AFTER = 3
Kind = Literal["tests", "verifications"]
KINDS: tuple[Kind, ...] = ("tests", "verifications")
Row = tuple[Mapping[str, float], float, float]
"""Features, the answer (1 good, 0 bad), and how much it counts."""


@dataclass(slots=True)
class Check:
    """An annotated test or verification: its lines, the next ones, and what it found."""

    job: str
    kind: Kind
    good: bool
    accepted: frozenset[str]
    lines: list[Line]
    after: list[Line]

    def rows(self) -> Iterator[Row]:
        """Its last two lines as rows for the words model; the last one tells most."""
        for line in self.lines[-2:]:
            yield word_features(line), float(self.good), 1.0 if line is self.lines[-1] else 0.6


def results(folder: Path = HERE / "outcomes") -> Iterator[Row]:
    """Rows of the single results."""
    said: list[tuple[str, float]] = []
    for path in sorted(folder.glob("*.toml")):
        table = tomllib.loads(path.read_text(encoding="utf-8"))
        said += [
            (text, y) for key, y in (("good", 1.0), ("bad", 0.0)) for text in table[key].split("\n") if text
        ]
    told = (Utterance(n, n, n + 1.0, text) for n, (text, _) in enumerate(said))
    for one, (_, good) in zip(Reader(use_model=False).read(told), said, strict=True):
        yield word_features(Line(one)), good, 1.0


@dataclass(slots=True)
class Told:
    """Stands for the categorizer: the scores of one job's lines as another model gave them."""

    table: Scores

    def score(self, rows: Sequence[Sequence[str]]) -> Scores:
        """The scores of every line, in order."""
        assert len(rows) == len(self.table), "scores of another version of this narration"
        return self.table


def read_job(name: str, scores: Sequence[Sequence[float]]) -> list[Check]:
    """The annotated checks of one narration, its acts by these scores (utterances × ``ACTS``)."""
    rows, gold = build.build(HERE / "narrations" / f"{name}.toml")
    reader = Reader()
    reader._acts._model = ActModel(cast(Any, Told(np.array(scores, np.float32))))
    told = (Utterance(r["id"], r["start"], r["end"], r["text"]) for r in rows)
    lines = [Line(one) for one in reader.read(told)]
    place = {line.id: n for n, line in enumerate(lines)}
    return [_check(name, kind, row, lines, place) for kind in KINDS for row in gold[kind] if _settled(row)]


def _settled(row: Mapping[str, Any]) -> bool:
    return row["outcome"] != "inconclusive" and not row.get("optional")


def _check(
    name: str, kind: Kind, row: Mapping[str, Any], lines: list[Line], place: Mapping[int, int]
) -> Check:
    at = sorted(place[i] for i in row["utterances"])
    accepted = frozenset(row.get("outcome_ok", [row["outcome"]]))
    after = lines[at[-1] + 1 : at[-1] + 1 + AFTER]
    return Check(name, kind, row["outcome"] == "pass", accepted, [lines[i] for i in at], after)


def fit(rows: Sequence[Row], penalty: float, least: int = 1) -> dict[str, float]:
    """Logistic regression with an L2 penalty; features met fewer than ``least`` times are left out."""
    counts = Counter(f for features, _, _ in rows for f in features)
    names = sorted(f for f, n in counts.items() if n >= least)
    column = {f: i for i, f in enumerate(names)}
    x: NDArray[np.float64] = np.zeros((len(rows), len(names) + 1))
    x[:, -1] = 1.0
    for i, (features, _, _) in enumerate(rows):
        for f, value in features.items():
            if f in column:
                x[i, column[f]] = value
    y = np.array([good for _, good, _ in rows])
    counted = np.array([count for _, _, count in rows])
    solved = descend(x, y, counted, penalty)
    return {f: round(float(w), 3) for f, w in zip([*names, "bias"], solved, strict=True) if abs(w) >= 0.002}


def words_model(single: Sequence[Row], checks: Iterable[Check]) -> dict[str, float]:
    """The words model from single results and annotated checks."""
    return fit([*single, *(row for check in checks for row in check.rows())], penalty=2.0)


def tell(checks: Iterable[Check], words: Mapping[str, float]) -> None:
    """Set the tone of every line of these checks."""
    for check in checks:
        for line in (*check.lines, *check.after):
            line.tone = Weights.margin(words, word_features(line))


def context_model(checks: Iterable[Check], kind: Kind) -> dict[str, float]:
    """The context model of one kind from checks whose lines have tones."""
    rows: list[Row] = [
        (context_features(c.lines, c.after), float(c.good), 1.0) for c in checks if c.kind == kind
    ]
    return fit(rows, penalty=1.0)


def accuracy(checks: Sequence[Check], models: Mapping[Kind, Mapping[str, float]]) -> dict[str, list[int]]:
    """Right and all, for each kind, by context and by tone alone."""
    out: dict[str, list[int]] = defaultdict(lambda: [0, 0])
    for check in checks:
        features = context_features(check.lines, check.after)
        for how, good in (
            ("", Weights.margin(models[check.kind], features) > 0),
            (" by words alone", features["sum"] > 0),
        ):
            count = out[check.kind + how]
            count[0] += ("pass" if good else "fail") in check.accepted
            count[1] += 1
    return out


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("scores", type=Path, metavar="SCORES")
    parser.add_argument("--check", action="store_true")
    options = parser.parse_args()
    single = list(results())
    scores = json.loads(options.scores.read_text(encoding="utf-8"))
    names = [talk.name for talk in narrations() if talk.name in scores]
    dealt = [[c for n in held for c in read_job(n, scores[n][0])] for held in folds(names, FOLDS)]
    for n, own in enumerate(dealt):
        tell(own, words_model(single, (c for m, d in enumerate(dealt) if m != n for c in d)))
    every = [c for own in dealt for c in own]
    print(f"{len(single)} single results, {len(every)} tests and verifications of {len(names)} jobs")
    if options.check:
        counts: Counter[tuple[str, int]] = Counter()
        for n, own in enumerate(dealt):
            others = [c for m, d in enumerate(dealt) if m != n for c in d]
            for how, two in accuracy(own, {k: context_model(others, k) for k in KINDS}).items():
                counts[how, 0] += two[0]
                counts[how, 1] += two[1]
        for how in sorted({how for how, _ in counts}):
            print(f"{how:28} {counts[how, 0]} of {counts[how, 1]}: {counts[how, 0] / counts[how, 1]:.3f}")
        return
    table = {
        "test": context_model(every, "tests"),
        "verification": context_model(every, "verifications"),
        "words": words_model(single, every),
    }
    FOLDER.mkdir(parents=True, exist_ok=True)
    text = json.dumps(table, indent=0, sort_keys=True, ensure_ascii=False)
    (FOLDER / "weights.json").write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
