"""Train the model that tells what a number without a unit measures, and say how well it does.

    python -m models.understanding.train_units st abcefgkmpqr            train, write models/units/unsaid.json
    python -m models.understanding.train_units st abcefgkmpqr --check    cross-validate by jobs; write nothing

The first letters say which of the annotated narrations to learn from, the second which more that the act
network has learned: what it makes of their numbers is surer than of a new voice's, so that its features get
weights of their own there, which are thrown away. How usual a value is was counted in the second alone. The
weights shipped were learned with a network that had not learned s and t. Jobs kept for measuring (q19 to
q24, r36 to r42) are left out. Takes a minute on one core.
"""

from __future__ import annotations

import argparse
import json
import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from models.understanding.corpus import HERE, narrations
from models.understanding.logistic import choose
from models.understanding.narrations import build
from models.understanding.train_acts import folds
from models.understanding.unseen import Unseen
from narrator.language import supply
from narrator.language.guesses import SCALED, Guess
from narrator.language.leftover import Unsaid
from narrator.language.likeliest import (
    BINS,
    FIRST,
    FOLDER,
    PER_TEN,
    ROAD,
    Found,
    Meaning,
    choices,
    score,
)
from narrator.language.plausible import convert
from narrator.language.reader import Reader
from narrator.language.readings import Guesser
from narrator.values import Utterance

FOLDS = 5
PENALTY = 3.0
NETWORK = ("nothing", "own", "own share", "top")
"""What the network makes of a number."""
_KEPT = frozenset((*(f"q{n}" for n in range(19, 25)), *(f"r{n}" for n in range(36, 43))))
_SPREAD, _SMOOTH = 1.2, 0.5
Usual = dict[str, list[float]]


@dataclass(slots=True)
class Example:
    """A number, what is looked at of each of its meanings, which are right, and whether it must be read."""

    job: str
    looked_at: list[Found]
    right: list[bool]
    wanted: list[bool]
    nothing: bool
    rules: int | None
    """Which meaning the rules alone would take."""


class Watch:
    """Stands in for the deciding of ``narrator.language.supply`` and keeps what it was asked."""

    def __init__(self, usual: Usual) -> None:
        self.usual, self.turns = usual, 0
        self.seen: list[tuple[int, Unsaid, list[Meaning], list[Found], Guess | None]] = []

    def __call__(self, guesser: Guesser, one: Unsaid) -> Guess | None:
        """What the rules make of a number, as if there were no model."""
        choice, best = choices(guesser, one, self.usual), guesser.best(one)
        self.seen.append((guesser.memory.turn, one, choice.meanings, choice.looked_at, best))
        return best


def examples(name: str, usual: Usual) -> Iterator[Example]:
    """The numbers without a unit of one narration."""
    rows, gold = build.build(HERE / "narrations" / f"{name}.toml")
    watch = Watch(usual)
    deciding, supply.meant = supply.meant, watch
    try:
        list(Reader().read(Utterance(r["id"], r["start"], r["end"], r["text"]) for r in rows))
    finally:
        supply.meant = deciding
    for turn, one, meanings, looked_at, best in watch.seen:
        entities = gold["utterances"][str(rows[turn - 1]["id"])]["entities"]
        marked = [e for e in entities if e["type"] == "measurement"]
        needed = [e for e in marked if not e.get("optional")]
        right = [any(_same(m, e) for e in marked) for m in meanings]
        wanted = [any(_same(m, e) for e in needed) for m in meanings]
        nothing = not any(wanted) and not any(_is(one, e) for e in needed)
        rules = next((n for n, m in enumerate(meanings) if best and _chosen(m, best)), None)
        yield Example(name, looked_at, right, wanted, nothing, rules)


def _chosen(meaning: Meaning, guess: Guess) -> bool:
    return (meaning.quantity, meaning.unit, meaning.scale) == (guess.quantity, guess.unit, guess.scale)


def _same(meaning: Meaning, row: dict[str, Any]) -> bool:
    """Whether a meaning is what an annotation gives, in any unit that it accepts."""
    value, unit = meaning.value, meaning.unit
    if unit in SCALED:
        value, unit = value / 1000, SCALED[unit]
    for other in row.get("unit_ok", [row["unit"]]):
        told = convert(value, unit, other)
        fits = told is not None and (unit == other or "Cel" not in (unit, other))
        if fits and math.isclose(told or 0.0, float(row["value"]), rel_tol=1e-4, abs_tol=1e-9):
            return True
    return False


def _is(one: Unsaid, row: dict[str, Any]) -> bool:
    """Whether a number may be the one that an annotation is about, whatever its unit."""
    values = [abs(v) for v in (one.value, one.decimal) if v is not None]
    return any(math.isclose(v * k, abs(row["value"])) for v in values for k in (1, 100, 1000, 0.001))


def usual_values(names: Iterable[str]) -> Usual:
    """How much more usual a value is in each unit than among all values, in log odds by its size."""
    counts: dict[str, np.ndarray[Any, np.dtype[np.float64]]] = defaultdict(lambda: np.zeros(BINS))
    for name in names:
        _, gold = build.build(HERE / "narrations" / f"{name}.toml")
        for utterance in gold["utterances"].values():
            for e in utterance["entities"]:
                if e["type"] == "measurement" and e["value"]:
                    kind = "road" if e["unit"] in ROAD else "ratio" if e["unit"] == "%" else e["quantity"]
                    middle = (math.log10(abs(e["value"])) - FIRST) * PER_TEN
                    away = (np.arange(BINS) - middle) / _SPREAD
                    counts[f"{kind} {e['unit']}"] += np.exp(-0.5 * away**2) / 3.0
    every = np.sum(list(counts.values()), axis=0)
    total, out = every.sum(), {}
    for name, row in sorted(counts.items()):
        own = (row + _SMOOTH * every / total + 0.02) / (row.sum() + _SMOOTH)
        odds = np.clip(np.log(own / ((every + 0.2) / total)), -3.0, 3.0)
        out[name] = [round(float(x), 2) for x in odds]
    return out


def groups_of(found: Sequence[Example], learned: bool) -> list[tuple[list[Found], list[bool], bool]]:
    """Examples as ``choose`` takes them; what the network makes of learned jobs is named apart."""
    out = []
    for e in found:
        rows = [{_apart(n) if learned else n: x for n, x in f.items()} for f in e.looked_at]
        out.append((rows, e.right, e.nothing and not any(e.wanted)))
    return out


def _apart(name: str) -> str:
    return f"learned {name}" if name in NETWORK else name


def trained(own: Sequence[Example], more: Sequence[Example]) -> Found:
    """The weights that examples teach, without those of the network's features on learned jobs."""
    groups = groups_of(own, False) + groups_of(more, True)
    names = sorted({name for rows, *_ in groups for f in rows for name in f})
    weights = choose(groups, names, PENALTY)
    return {name: w for name, w in weights.items() if not name.startswith("learned ")}


def judge(found: Sequence[Example], chosen: Sequence[int | None]) -> str:
    """How many numbers were read right, read wrong and missed."""
    count: Counter[str] = Counter()
    for e, n in zip(found, chosen, strict=True):
        count["right"] += n is not None and e.wanted[n]
        count["wrong"] += n is not None and not e.right[n]
        count["missed"] += (not e.nothing) and (n is None or not e.right[n])
    both = 2 * count["right"] + count["wrong"] + count["missed"]
    return f"{dict(count)}, F1 {2 * count['right'] / max(1, both):.3f}"


def decided(e: Example, weights: Found, least: float, agreed: float) -> int | None:
    """Which meaning a model takes; ``agreed``: how sure it must be of what the rules take too."""
    if not e.looked_at:
        return None
    odds = [score(weights, f) for f in e.looked_at]
    best = max(range(len(odds)), key=odds.__getitem__)
    share = math.exp(odds[best]) / (1.0 + sum(map(math.exp, odds)))
    return best if share >= (agreed if best == e.rules else least) else None


def check(own: Sequence[Example], more: Sequence[Example]) -> None:
    """Print how the rules do, and models that have not seen the job."""
    jobs = sorted({e.job for e in own})
    print("rules:", judge(own, [e.rules for e in own]))
    parts = [(held, trained([e for e in own if e.job not in held], more)) for held in folds(jobs, FOLDS)]
    for agreed, least in ((0.2, 0.4), (0.2, 0.45), (0.3, 0.45), (0.45, 0.45), (0.2, 0.6)):
        chosen = [decided(e, next(w for held, w in parts if e.job in held), least, agreed) for e in own]
        print(f"model from {least}, with the rules from {agreed}:", judge(own, chosen))


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("letters")
    parser.add_argument("learned")
    parser.add_argument("--check", action="store_true")
    parser.add_argument("--networks", type=Path, help="folder of networks that each have not learned a fold")
    options = parser.parse_args()
    names = [talk.name for talk in narrations() if talk.name not in _KEPT]
    first = [name for name in names if name[0] in options.letters]
    second = [name for name in names if name[0] in options.learned]
    usual = usual_values(second)
    unseen, of_job = Unseen(options.networks), partial(examples, usual=usual)
    own, more = list(unseen.each(first, of_job)), list(unseen.each(second, of_job))
    print(
        f"{len(own)} numbers without a unit of {len(first)} jobs, {len(more)} of {len(second)} learned ones"
    )
    if options.check:
        check(own, more)
        return
    FOLDER.mkdir(parents=True, exist_ok=True)
    table = {"weights": trained(own, more), "usual": usual}
    text = json.dumps(table, separators=(",", ":")).replace('],"', '],\n"').replace(',"usual"', ',\n"usual"')
    (FOLDER / "unsaid.json").write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
