"""Train the act model from our own narrations and excerpts, and say how well it does on unseen jobs.

    python -m models.understanding.train_acts            train, write models/acts
    python -m models.understanding.train_acts --check    cross-validate by jobs; write the card's figures

Seeded; the same data and library versions give the same model. Takes a few minutes on one core.
"""

from __future__ import annotations

import argparse
import random
import shutil
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import spacy
from spacy.language import Language
from spacy.tokens import Doc
from spacy.training import Example

from models.understanding.card import write_figures
from models.understanding.corpus import Talk, excerpts, narrations, stories
from narrator.language.act_model import FOLDER, ActModel, Pass, Scores, blend
from narrator.language.act_words import Vectors, WordPass, stacked, word_table
from narrator.language.acts import by_model, by_rules
from narrator.language.features import Story, first_pass, second_pass
from narrator.language.pipeline import pipeline
from narrator.language.tokens import Notes
from narrator.values import ACTS

SEED = 7
MEMBERS = 4
"""So many passes, each from its own shuffle of the examples, are averaged into one."""
FOLDS = 5
EPOCHS = 14
LENGTH = 16384
_TEXTCAT = {
    "model": {
        "@architectures": "spacy.TextCatBOW.v3",
        "exclusive_classes": False,
        "ngram_size": 1,
        "no_output_layer": False,
        "length": LENGTH,
    }
}

Rows = list[list[str]]
Cats = list[dict[str, float]]


OTHER_CUSTOM = [f"f{n:02d}" for n in range(1, 11)]
"""Narrations for rules alone: their writer gives a line more acts than the others do, and with them in the
training acts of twelve unseen jobs fell from .890 to .872 (25 November 2026)."""


def read_notes(talk: Talk) -> list[Notes]:
    """Every line of a talk as the pipeline sees it."""
    return [doc._.notes for doc in pipeline().pipe(line.said for line in talk.lines)]


def first_features(talk: Talk, notes: Sequence[Notes]) -> Rows:
    """Features of the first pass; an excerpt starts in the phase it was taken from."""
    story, before, rows = _story(talk), (), []
    for one in notes:
        features, before = first_pass(one, story, before)
        rows.append(features)
    return rows


def _story(talk: Talk) -> Story:
    if talk.whole or talk.phase == "start":
        return Story()
    late = talk.phase in ("after", "end")
    return Story(
        turns=9,
        taken_off=2,
        put_on=3 if late else 0,
        settled=float(late),
        mended=2 * late,
        steps=3 if late else 1,
    )


def second_features(talk: Talk, rows: Rows, scores: Sequence[Sequence[float]]) -> Rows:
    """Features of the second pass from the first pass's scores."""
    story = _story(talk)
    return [second_pass(row, scores, i, story) for i, row in enumerate(rows)]


def cats(talk: Talk) -> list[Cats]:
    """Targets of each line: one for each accepted annotation, the first choice twice (spaCy takes 0 or 1)."""
    return [
        [{act: float(act in acts) for act in ACTS} for acts in (line.acts[0], *line.acts)]
        for line in talk.lines
    ]


def fit(rows: Rows, targets: Sequence[Cats]) -> Pass:
    """Train one pass: the mean of several, whose scores vary less from one training to the next.

    The categorizer is linear under its last squashing, so that the mean of the weights is the mean of what
    the members say before it. Features met once are left out: they teach nothing that another job could use.
    """
    counts = Counter(f for row in rows for f in set(row))
    known = frozenset(f for f, n in counts.items() if n > 1)
    kept = [[f for f in row if f in known] or ["none"] for row in rows]
    members = [_fit_member(kept, targets, SEED + n) for n in range(MEMBERS)]
    first = members[0]
    nodes = [list(_model(member).walk()) for member in members]
    for same in zip(*nodes, strict=True):
        for name in same[0].param_names:
            if same[0].has_param(name):
                same[0].set_param(name, sum(node.get_param(name) for node in same) / MEMBERS)
    return Pass(first, known)


def _model(nlp: Language) -> Any:
    return nlp.get_pipe("textcat_multilabel").model  # type: ignore[attr-defined]


def _fit_member(rows: Rows, targets: Sequence[Cats], seed: int) -> Language:
    random.seed(seed)
    nlp = spacy.blank("en")
    nlp.add_pipe("textcat_multilabel", config=_TEXTCAT)
    examples = [
        Example.from_dict(Doc(nlp.vocab, words=row), {"cats": target})
        for row, accepted in zip(rows, targets, strict=True)
        for target in accepted
    ]
    optimizer = nlp.initialize(lambda: examples)
    shuffle = random.Random(seed)
    for epoch in range(EPOCHS):
        optimizer.learn_rate = 0.004 * (1 - epoch / EPOCHS) + 0.0002
        shuffle.shuffle(examples)
        for batch in spacy.util.minibatch(examples, 32):
            nlp.update(batch, sgd=optimizer, drop=0.0)
    return nlp


def fit_layer(inputs: Vectors, targets: Vectors, steps: int = 200) -> tuple[Vectors, Vectors]:
    """Logistic regression for every act at once: weights and bias.

    Minimizes the summed cross-entropy and half the squared weights by Nesterov's accelerated gradient, whose
    step is one over the largest curvature.
    """
    x = np.hstack([inputs, np.ones((len(inputs), 1), np.float32)])
    direction = np.ones(x.shape[1], np.float32)
    for _ in range(20):  # power iteration for the largest eigenvalue of x'x
        direction = x.T @ (x @ direction)
        direction /= np.linalg.norm(direction)
    step = 1 / (0.25 * float(np.linalg.norm(x.T @ (x @ direction))) + 1)
    weights = np.zeros((x.shape[1], targets.shape[1]), np.float32)
    ahead = weights
    for n in range(steps):
        slope = x.T @ (1 / (1 + np.exp(-(x @ ahead))) - targets)
        slope[:-1] += ahead[:-1]
        moved = ahead - step * slope
        ahead = moved + n / (n + 3) * (moved - weights)
        weights = moved
    return weights[:-1], weights[-1]


class Trainer:
    """Keeps the features of every talk, so that folds do not read the text again."""

    def __init__(self, talks: Iterable[Talk]) -> None:
        table = word_table()
        if table is None:
            raise SystemExit("make the word table first: python -m models.understanding.word_vectors")
        self.table = table
        self.talks = {talk.name: talk for talk in talks}
        self.notes = {name: read_notes(talk) for name, talk in self.talks.items()}
        self.rows = {name: first_features(talk, self.notes[name]) for name, talk in self.talks.items()}
        self.cats = {name: cats(talk) for name, talk in self.talks.items()}
        self.inputs = {name: self._inputs(notes) for name, notes in self.notes.items()}

    def _inputs(self, notes: Sequence[Notes]) -> Vectors:
        lines = np.stack([self.table.line(one.words) for one in notes])
        return stacked(lines, np.zeros(self.table.width, np.float32))

    def fit_words(self, names: Iterable[str]) -> WordPass:
        """The layer over word meanings on these talks."""
        chosen = list(names)
        targets = [
            [np.mean([accepted[act] for accepted in line]) for act in ACTS]
            for n in chosen
            for line in self.cats[n]
        ]
        inputs = np.concatenate([self.inputs[n] for n in chosen])
        return WordPass(self.table, *fit_layer(inputs, np.array(targets, np.float32)))

    def fit_first(self, names: Iterable[str]) -> Pass:
        """The first pass on these talks."""
        chosen = list(names)
        return fit([r for n in chosen for r in self.rows[n]], [c for n in chosen for c in self.cats[n]])

    def fit_all(self, names: Sequence[str]) -> ActModel:
        """Both passes and the layer; the second learns from scores of talks that the first did not see."""
        rows: dict[str, Rows] = {}
        for held in folds(names, 4):
            rest = [n for n in names if n not in held]
            first, words = self.fit_first(rest), self.fit_words(rest)
            for name in held:
                rows[name] = self.second_rows(first, words, name)
        second = fit([r for n in names for r in rows[n]], [c for n in names for c in self.cats[n]])
        return ActModel(self.fit_first(names), second, self.fit_words(names))

    def meaning(self, words: WordPass, name: str) -> Scores:
        """Scores of the layer for one talk."""
        lines = self.inputs[name][:, : self.table.width]
        return words.score(lines, np.zeros(self.table.width, np.float32))

    def first_scores(self, first: Pass, words: WordPass, name: str) -> Scores:
        """What the second pass is told of one talk."""
        return blend(first.score(self.rows[name]), self.meaning(words, name))

    def second_rows(self, first: Pass, words: WordPass, name: str) -> Rows:
        """Second-pass features of one talk."""
        return second_features(
            self.talks[name], self.rows[name], self.first_scores(first, words, name).tolist()
        )

    def scores(self, model: ActModel, name: str) -> tuple[Scores, Scores]:
        """First-pass and final scores of one talk."""
        if model.words is None:
            raise ValueError("a trained model has its layer")
        rows = self.second_rows(model.first, model.words, name)
        final = blend(model.second.score(rows), self.meaning(model.words, name))
        return self.first_scores(model.first, model.words, name), final


def folds(names: Sequence[str], count: int) -> list[list[str]]:
    """Names dealt to folds by their file, so that no job is on both sides."""
    by_file: dict[str, list[str]] = defaultdict(list)
    for name in names:
        by_file[name.split(".")[0]].append(name)
    files = sorted(by_file)
    random.Random(SEED).shuffle(files)
    return [[n for f in files[i::count] for n in by_file[f]] for i in range(count)]


def score_acts(talk: Talk, predicted: Iterable[Iterable[str]], counts: Counter[tuple[str, str]]) -> None:
    """Count hits and misses against the accepted annotation nearest to the prediction."""
    for line, acts in zip(talk.lines, predicted, strict=True):
        got = set(acts)
        best = max(
            (set(a) for a in line.acts),
            key=lambda a: 2 * len(a & got) / (len(a) + len(got)) if a or got else 1.0,
        )
        for act in best | got:
            counts[act, "hit" if act in best and act in got else "extra" if act in got else "missed"] += 1


def f1(counts: Counter[tuple[str, str]], act: str | None = None) -> float:
    """F1 over all acts, or of one."""
    total = {
        k: sum(n for (a, kind), n in counts.items() if kind == k and act in (None, a))
        for k in ("hit", "extra", "missed")
    }
    return 2 * total["hit"] / max(1, 2 * total["hit"] + total["extra"] + total["missed"])


def check(trainer: Trainer) -> None:
    """Cross-validated figures of rules alone, the model's two passes, and all together."""
    names = list(trainer.talks)
    counts: dict[str, Counter[tuple[str, str]]] = defaultdict(Counter)
    for held in folds(names, FOLDS):
        model = trainer.fit_all([n for n in names if n not in held])
        for name in held:
            talk, notes = trainer.talks[name], trainer.notes[name]
            ones, table = trainer.scores(model, name)
            score_acts(talk, (by_rules(n).acts for n in notes), counts["rules alone"])
            score_acts(
                talk, (by_model(n, s).acts for n, s in zip(notes, ones, strict=True)), counts["first pass"]
            )
            score_acts(
                talk, (by_model(n, s).acts for n, s in zip(notes, table, strict=True)), counts["together"]
            )
            if talk.whole:
                score_acts(
                    talk,
                    (by_model(n, s).acts for n, s in zip(notes, table, strict=True)),
                    counts["together, jobs"],
                )
    for kind, table in counts.items():
        each = "  ".join(f"{act} {f1(table, act):.2f}" for act in ACTS)
        print(f"{kind:16} F1 {f1(table):.3f}   {each}")
    lines = sum(len(talk.lines) for talk in trainer.talks.values())
    figures = {kind: [f1(table), *(f1(table, act) for act in ACTS)] for kind, table in counts.items()}
    write_figures(f"{FOLDS} folds by job, {len(trainer.talks)} talks, {lines} lines", figures)


def write(trainer: Trainer, folder: Path = FOLDER) -> None:
    """Train on everything and write both passes."""
    model = trainer.fit_all(list(trainer.talks))
    for name, one in (("first", model.first), ("second", model.second)):
        target = folder / name
        shutil.rmtree(target, ignore_errors=True)
        target.mkdir(parents=True)
        one.nlp.to_disk(target / "model", exclude=["vocab"])
        (target / "features.txt").write_text("\n".join(sorted(one.known)) + "\n", encoding="utf-8")
    if model.words is not None:
        np.savez(
            folder / "layer.npz",
            weights=model.words.weights.astype(np.float16),
            bias=model.words.bias.astype(np.float16),
        )


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--check", action="store_true")
    parser.add_argument(
        "--leave-out", nargs="*", default=OTHER_CUSTOM, metavar="NAME", help="narrations kept aside"
    )
    options = parser.parse_args()
    talks = (*narrations(), *excerpts(), *stories())
    trainer = Trainer(talk for talk in talks if talk.name not in options.leave_out)
    lines = sum(len(t.lines) for t in trainer.talks.values())
    print(f"{len(trainer.talks)} talks, {lines} lines")
    check(trainer) if options.check else write(trainer)


if __name__ == "__main__":
    main()
