"""Train the act model's categorizer from our own narrations, and say how well acts are told on unseen jobs.

    python -m models.understanding.train_acts                   train, write models/acts/bag
    python -m models.understanding.train_acts --check SCORES    cross-validate; write the card's figures

``SCORES`` is what ``models.understanding.network.train --check`` wrote: the other half's scores of the same
talks, by the same folds. Seeded; the same data and library versions give the same model. Takes a few minutes
on one core.
"""

from __future__ import annotations

import argparse
import json
import random
import shutil
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import spacy
from spacy.language import Language
from spacy.tokens import Doc
from spacy.training import Example

from models.understanding.card import write_figures
from models.understanding.corpus import Talk, excerpts, narrations, stories
from narrator.language.act_model import FOLDER, ActModel, Pass, blend
from narrator.language.acts import by_model, by_rules
from narrator.language.features import Story, features
from narrator.language.pipeline import pipeline
from narrator.language.tokens import Notes
from narrator.values import ACTS

SEED = 7
MEMBERS = 4
"""So many passes, each from its own shuffle of the examples, are averaged into one."""
FOLDS = 4
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


def feature_rows(talk: Talk, notes: Sequence[Notes]) -> Rows:
    """Features of each line; an excerpt starts in the phase it was taken from."""
    before: tuple[str, ...] = ()
    story, rows = _story(talk), []
    for one in notes:
        row, before = features(one, story, before)
        rows.append(row.names())
    return rows


def _story(talk: Talk) -> Story:
    if talk.whole or talk.phase == "start":
        return Story()
    return Story(turns=9, taken_off=2, put_on=3 if talk.phase in ("after", "end") else 0)


def cats(talk: Talk) -> list[Cats]:
    """Targets of each line: one for each accepted annotation, the first choice twice (spaCy takes 0 or 1)."""
    return [
        [{act: float(act in acts) for act in ACTS} for acts in (line.acts[0], *line.acts)]
        for line in talk.lines
    ]


def fit(rows: Rows, targets: Sequence[Cats]) -> Pass:
    """Train the categorizer: the mean of several, whose scores vary less from one training to the next.

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


class Trainer:
    """Keeps the features of every talk, so that folds do not read the text again."""

    def __init__(self, talks: Iterable[Talk]) -> None:
        self.talks = {talk.name: talk for talk in talks}
        self.notes = {name: read_notes(talk) for name, talk in self.talks.items()}
        self.rows = {name: feature_rows(talk, self.notes[name]) for name, talk in self.talks.items()}
        self.cats = {name: cats(talk) for name, talk in self.talks.items()}

    def fit(self, names: Iterable[str]) -> ActModel:
        """The categorizer on these talks, without a network."""
        chosen = list(names)
        bag = fit([r for n in chosen for r in self.rows[n]], [c for n in chosen for c in self.cats[n]])
        return ActModel(bag)


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


def check(trainer: Trainer, network: Mapping[str, Sequence[Sequence[Sequence[float]]]]) -> None:
    """Cross-validated figures of rules alone, each half of the model, and all together.

    Of what the network says of a talk the scores of its acts come first.
    """
    names = list(trainer.talks)
    counts: dict[str, Counter[tuple[str, str]]] = defaultdict(Counter)
    for held in folds(names, FOLDS):
        bag = trainer.fit([n for n in names if n not in held]).bag
        for name in held:
            talk, notes = trainer.talks[name], trainer.notes[name]
            alone, told = bag.score(trainer.rows[name]), np.array(network[name][0], np.float32)
            score_acts(talk, (by_rules(n).acts for n in notes), counts["rules alone"])
            for kind, table in (("categorizer", alone), ("network", told), ("together", blend(alone, told))):
                acts = [by_model(n, s).acts for n, s in zip(notes, table, strict=True)]
                score_acts(talk, acts, counts[kind])
                if kind == "together" and talk.whole:
                    score_acts(talk, acts, counts["together, jobs"])
    for kind, found in counts.items():
        each = "  ".join(f"{act} {f1(found, act):.2f}" for act in ACTS)
        print(f"{kind:16} F1 {f1(found):.3f}   {each}")
    lines = sum(len(talk.lines) for talk in trainer.talks.values())
    figures = {kind: [f1(found), *(f1(found, act) for act in ACTS)] for kind, found in counts.items()}
    write_figures(f"{FOLDS} folds by job, {len(trainer.talks)} talks, {lines} lines", figures)


def write(trainer: Trainer, folder: Path = FOLDER / "bag") -> None:
    """Train on everything and write the categorizer."""
    bag = trainer.fit(trainer.talks).bag
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    bag.nlp.to_disk(folder / "model", exclude=["vocab"])
    (folder / "features.txt").write_text("\n".join(sorted(bag.known)) + "\n", encoding="utf-8")


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--check", type=Path, metavar="SCORES")
    parser.add_argument("--leave-out", nargs="*", default=[], metavar="NAME", help="narrations kept aside")
    options = parser.parse_args()
    talks = (*narrations(), *excerpts(), *stories())
    trainer = Trainer(talk for talk in talks if talk.name not in options.leave_out)
    print(f"{len(trainer.talks)} talks, {sum(len(t.lines) for t in trainer.talks.values())} lines")
    if options.check:
        check(trainer, json.loads(options.check.read_text(encoding="utf-8")))
    else:
        write(trainer)


if __name__ == "__main__":
    main()
