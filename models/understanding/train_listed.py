"""Train the model that tells which things that a line names belong on the record, and say how well it does.

    python -m models.understanding.train_listed pqst            train, write models/names/listed.json
    python -m models.understanding.train_listed pqst --check    cross-validate by jobs; write nothing

The letters say which of the annotated narrations to learn from. The model goes by what the network makes of
the words: the weights shipped were learned with one (``models/acts/network.npz``) that had not learned s and
t, since jobs that it has learned make it seem surer than it is. Things that an annotator left optional count
neither way. Takes two minutes on one core.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from models.understanding.corpus import HERE, narrations
from models.understanding.logistic import fit, shares
from models.understanding.narrations import build
from models.understanding.train_acts import folds
from models.understanding.unseen import Unseen
from narrator.language import reader
from narrator.language.acts import Decision
from narrator.language.listed import FOLDER, KINDS, LEAST, NAMES, Line, Named, features, things_of
from narrator.language.meaning import read_of
from narrator.language.tokens import Notes
from narrator.values import Component, Entity, Understood, Utterance

FOLDS = 8
PENALTY = 3.0
_TYPES = frozenset(kind.type for kind in KINDS)
_OWNED = frozenset(("hypothesis", "ruled_out", "confirmed"))


@dataclass(frozen=True, slots=True)
class Example:
    """One thing that a line names: its features, and whether it is annotated."""

    job: str
    kind: str
    row: list[float]
    right: bool


class Watch(reader.Reader):
    """A reader that keeps the workspace beside what was understood of it."""

    def __init__(self) -> None:
        super().__init__()
        self.seen: list[tuple[Notes, Understood]] = []

    def _understood(self, utterance: Utterance, notes: Notes, decision: Decision, named: Named) -> Understood:
        found = super()._understood(utterance, notes, decision, named)
        self.seen.append((notes, found))
        return found


def examples(name: str) -> Iterator[Example]:
    """The things of one narration, without those that an annotator left optional."""
    rows, gold = build.build(HERE / "narrations" / f"{name}.toml")
    watch = Watch()
    list(watch.read(Utterance(r["id"], r["start"], r["end"], r["text"]) for r in rows))
    named = Named()
    for notes, line in watch.seen:
        things, read = things_of(line.entities), read_of(notes)
        marked = [e for e in gold["utterances"][str(line.utterance.id)]["entities"] if e["type"] in _TYPES]
        for thing, right in zip(things, _judged(things, marked), strict=True):
            owned = isinstance(thing, Component) and thing.owner and _OWNED.isdisjoint(line.acts)
            if right is not None and read is not None and not owned:
                found = features(notes, read, Line.of(notes, things, line.acts), thing, named)
                row = [found.get(name, 0.0) for name in NAMES]
                yield Example(name, thing.type, row, right)
        named.add(things)


def _judged(things: Sequence[Any], marked: Sequence[dict[str, Any]]) -> list[bool | None]:
    """Whether each thing is annotated; None where it is optional, or named again within its line."""
    judged: dict[int, bool | None] = {}
    for optional in (False, True):
        for row in marked:
            if bool(row.get("optional")) == optional:
                free = (i for i, t in enumerate(things) if i not in judged and _same(t, row))
                if (i := next(free, None)) is not None:
                    judged[i] = None if optional else True
    again = (i for i, t in enumerate(things) if i not in judged and t.type == "component")
    judged |= {i: None for i in again if any(_same(things[i], row) for row in marked)}
    return [judged.get(i, False) for i in range(len(things))]


def _same(thing: Any, row: dict[str, Any]) -> bool:
    """Whether a thing is what an annotation names: the same words, for a part also some of them."""
    if thing.type != row["type"]:
        return False
    said, meant = set(_words(thing)), set(_words(row))
    return said == meant or (thing.type == "component" and (said <= meant or meant <= said))


def _words(thing: Entity | dict[str, Any]) -> list[str]:
    name = thing["name"] if isinstance(thing, dict) else getattr(thing, "name", "")
    return [w[:-1] if len(w) > 3 and w.endswith("s") and w[-2] not in "sui" else w for w in name.split()]


def learned(found: Sequence[Example]) -> dict[str, float]:
    """The weights that some things teach."""
    return fit([e.row for e in found], [e.right for e in found], NAMES, PENALTY)


def check(found: Sequence[Example], names: Sequence[str]) -> None:
    """Print what is left off rightly and wrongly, each job judged by a model that has not seen it."""
    counts: dict[str, list[int]] = {}
    for held in folds(list(names), FOLDS):
        weights = learned([e for e in found if e.job not in held])
        own = [e for e in found if e.job in held]
        for e, share in zip(own, shares([e.row for e in own], NAMES, weights), strict=True):
            row = counts.setdefault(e.kind, [0, 0, 0, 0])
            off = share < LEAST[e.kind]
            row[2 * e.right + off] += 1
    for kind, (kept_wrong, off_right, kept_right, off_wrong) in sorted(counts.items()):
        print(f"{kind}: left off {off_right} rightly, {off_wrong} wrongly; kept {kept_right}, {kept_wrong}")


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("letters")
    parser.add_argument("--check", action="store_true")
    parser.add_argument("--networks", type=Path, help="folder of networks that each have not learned a fold")
    options = parser.parse_args()
    names = [talk.name for talk in narrations() if talk.name[0] in options.letters]
    found = list(Unseen(options.networks).each(names, examples))
    print(f"{len(found)} things of {len(names)} jobs, {sum(e.right for e in found)} of them annotated")
    if options.check:
        check(found, names)
        return
    FOLDER.mkdir(parents=True, exist_ok=True)
    text = json.dumps(learned(found), indent=0, ensure_ascii=False)
    (FOLDER / "listed.json").write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
