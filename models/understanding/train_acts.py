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

import spacy
from spacy.tokens import Doc
from spacy.training import Example

from models.understanding.card import write_figures
from models.understanding.corpus import Talk, excerpts, narrations, stories
from narrator.language.act_model import FOLDER, Pass
from narrator.language.acts import by_model, by_rules
from narrator.language.features import Story, first_pass, second_pass
from narrator.language.pipeline import pipeline
from narrator.language.tokens import Notes
from narrator.values import ACTS

SEED = 7
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
    """Train one pass. Features met once are left out: they teach nothing that another job could use."""
    counts = Counter(f for row in rows for f in set(row))
    known = frozenset(f for f, n in counts.items() if n > 1)
    random.seed(SEED)
    nlp = spacy.blank("en")
    nlp.add_pipe("textcat_multilabel", config=_TEXTCAT)
    examples = [
        Example.from_dict(Doc(nlp.vocab, words=[f for f in row if f in known] or ["none"]), {"cats": target})
        for row, accepted in zip(rows, targets, strict=True)
        for target in accepted
    ]
    optimizer = nlp.initialize(lambda: examples)
    shuffle = random.Random(SEED)
    for epoch in range(EPOCHS):
        optimizer.learn_rate = 0.004 * (1 - epoch / EPOCHS) + 0.0002
        shuffle.shuffle(examples)
        for batch in spacy.util.minibatch(examples, 32):
            nlp.update(batch, sgd=optimizer, drop=0.0)
    return Pass(nlp, known)


class Trainer:
    """Keeps the features of every talk, so that folds do not read the text again."""

    def __init__(self, talks: Iterable[Talk]) -> None:
        self.talks = {talk.name: talk for talk in talks}
        self.notes = {name: read_notes(talk) for name, talk in self.talks.items()}
        self.rows = {name: first_features(talk, self.notes[name]) for name, talk in self.talks.items()}
        self.cats = {name: cats(talk) for name, talk in self.talks.items()}

    def fit_first(self, names: Iterable[str]) -> Pass:
        """The first pass on these talks."""
        chosen = list(names)
        return fit([r for n in chosen for r in self.rows[n]], [c for n in chosen for c in self.cats[n]])

    def fit_both(self, names: Sequence[str]) -> tuple[Pass, Pass]:
        """Both passes; the second learns from first-pass scores of talks that pass did not train on."""
        groups = folds(names, 4)
        rows: dict[str, Rows] = {}
        for held in groups:
            model = self.fit_first(n for n in names if n not in held)
            for name in held:
                rows[name] = self.second_rows(model, name)
        second = fit([r for n in names for r in rows[n]], [c for n in names for c in self.cats[n]])
        return self.fit_first(names), second

    def second_rows(self, first: Pass, name: str) -> Rows:
        """Second-pass features of one talk."""
        scores = first.score(self.rows[name]).tolist()
        return second_features(self.talks[name], self.rows[name], scores)


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
        first, second = trainer.fit_both([n for n in names if n not in held])
        for name in held:
            talk, notes = trainer.talks[name], trainer.notes[name]
            table = second.score(trainer.second_rows(first, name))
            score_acts(talk, (by_rules(n).acts for n in notes), counts["rules alone"])
            ones = first.score(trainer.rows[name])
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
    for name, model in zip(("first", "second"), trainer.fit_both(list(trainer.talks)), strict=True):
        target = folder / name
        shutil.rmtree(target, ignore_errors=True)
        target.mkdir(parents=True)
        model.nlp.to_disk(target / "model", exclude=["vocab"])
        (target / "features.txt").write_text("\n".join(sorted(model.known)) + "\n", encoding="utf-8")


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--check", action="store_true")
    options = parser.parse_args()
    trainer = Trainer([*narrations(), *excerpts(), *stories()])
    lines = sum(len(t.lines) for t in trainer.talks.values())
    print(f"{len(trainer.talks)} talks, {lines} lines")
    check(trainer) if options.check else write(trainer)


if __name__ == "__main__":
    main()
