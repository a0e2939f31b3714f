"""Write what the network is trained from into one file, so that a machine with a GPU needs nothing else.

    python -m models.understanding.network.prepare --out FILE

Talks are read by the pipeline, since the network sees words after slips are repaired. Every talk gets a fold
by the file it stands in, so that no job is on both sides when the network is judged.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

from models.understanding.corpus import Talk, excerpts, narrations, stories, strips, unmarked
from models.understanding.folds import fold_of
from models.understanding.narrations.proofread import is_brand
from models.understanding.network.labels import amounts, kinds, moves, roles, subjects, tags
from models.understanding.train_acts import read_notes
from models.understanding.words import common_words, encoder_folder, vocabulary_words, words_of
from narrator.language.act_network import AMOUNTS, KINDS, MOVES, QUESTION, ROLES, TAGS
from narrator.language.meaning import said
from narrator.language.pipeline import pipeline
from narrator.language.tokens import Notes
from narrator.values import ACTS
from narrator.word_network import NUMBER

SWAPPED = ("component", "tool", "material", "position")
"""Entities whose names are exchanged when talk is varied."""


def rows(talks: Iterable[Talk]) -> Iterator[dict[str, Any]]:
    """Each talk: words of its lines, where its names stand (kind, first and last token), accepted acts."""
    for talk in talks:
        notes = read_notes(talk)
        yield {
            **spoken(talk.name, notes),
            "whole": talk.whole,
            "tags": list(tags(talk, notes)),
            "subjects": list(subjects(talk, notes)),
            "moves": list(moves(talk, notes)),
            "amounts": list(amounts(talk, notes)),
            "roles": list(roles(talk, notes)),
            "kinds": list(kinds(talk, notes)),
            "acts": [[[ACTS.index(act) for act in acts] for acts in line.acts] for line in talk.lines],
        }


def spoken(name: str, notes: Sequence[Notes]) -> dict[str, Any]:
    """What was said in a talk, and where the names in it stand."""
    return {
        "name": name,
        "lines": [said(one) for one in notes],
        "names": [[(e.type, *e.at) for e in one.entities if e.type in SWAPPED] for one in notes],
    }


def unmarked_rows() -> Iterator[dict[str, Any]]:
    """Talk without annotation."""
    for name, lines in unmarked():
        yield spoken(name, [doc._.notes for doc in pipeline().pipe(lines)])


def listed_words(talks: Iterable[dict[str, Any]]) -> list[str]:
    """Words that get a vector: common ones, those of the trade, and those of the talks; no brand."""
    spoken = {w for talk in talks for line in talk["lines"] for word in line for w in words_of(word)}
    every = {*common_words(encoder_folder()), *vocabulary_words(), *spoken}
    return [NUMBER, QUESTION, *sorted(word for word in every if not is_brand(word))]


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, required=True)
    options = parser.parse_args()
    talks = list(rows((*narrations(), *excerpts(), *stories(), *strips())))
    for talk in talks:
        talk["fold"] = fold_of(talk["name"])
    data = {"acts": list(ACTS), "tags": list(TAGS), "moves": list(MOVES), "amounts": list(AMOUNTS)}
    data |= {"roles": list(ROLES), "kinds": list(KINDS)}
    more = list(unmarked_rows())
    data |= {"words": listed_words([*talks, *more]), "talks": talks, "unmarked": more}
    options.out.write_text(json.dumps(data), encoding="utf-8")
    for kind, some in (("annotated", talks), ("unmarked", more)):
        print(f"{len(some)} {kind} talks, {sum(len(talk['lines']) for talk in some)} lines")
    print(f"{len(data['words'])} words")


if __name__ == "__main__":
    main()
