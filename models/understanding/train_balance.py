"""Train the model that settles the ledger's totals, and say how well it does.

    python -m models.understanding.train_balance            train, write models/fasteners/balance.npz
    python -m models.understanding.train_balance --check    cross-validate by jobs; write nothing

Learned from the annotated narrations and strips as the program understands them: for each kind and size that
the ledger heard of, which of its possible totals the annotation has. Needs ``lightgbm`` for this alone.
Jobs whose words the rules were not written on tell more, so that they count more (``WEIGHTS``).
"""

from __future__ import annotations

import argparse
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from models.understanding.corpus import HERE, Talk, narrations, strips
from models.understanding.narrations import build
from models.understanding.train_acts import folds
from models.understanding.unseen import Unseen
from narrator.job.balance import FOLDER, Totals, is_done, outcomes
from narrator.job.balance_mentions import Key
from narrator.job.fasteners import FastenerLedger
from narrator.job.line import Line
from narrator.language.reader import Reader
from narrator.values import Utterance

if TYPE_CHECKING:
    import lightgbm

FOLDS = 6
MARGIN = 0.08
WEIGHTS = {"s": 2.0, "t": 2.0, "u": 2.0, "v": 2.0, "w": 2.0, "y": 1.5}
REST = 1.0
TREES = {
    "n_estimators": 150, "num_leaves": 24, "learning_rate": 0.05, "min_child_samples": 25, "subsample": 0.8,
    "subsample_freq": 1, "colsample_bytree": 0.5, "reg_lambda": 5, "n_jobs": 1, "verbose": -1,
}  # fmt: skip
SEEDS = 2


@dataclass(frozen=True, slots=True)
class Case:
    """One kind and size of one job: what its totals may be, and which of them are right."""

    job: str
    key: Key
    found: list[Totals]
    right: list[bool]


@dataclass(frozen=True, slots=True)
class Job:
    """One narration: its cases, and the annotated totals that none of them may be about."""

    name: str
    cases: list[Case]
    gold: dict[Key, set[tuple[int, int]]]
    done: bool
    """Whether the program takes it for finished, so that it settles anything."""


def read_job(name: str) -> Job:
    """The cases of one narration, told to its end."""
    rows, gold = build.build(HERE / "narrations" / f"{name}.toml")
    return _job(name, rows, gold["fasteners"])


def read_strip(talk: Talk) -> Job:
    """The cases of one strip, taken for finished: nothing in it says whether the repair was checked."""
    lines = list(talk.lines)
    job = _job(talk.name, build.utterances(talk.name, lines), build.fasteners(lines).values())
    return replace(job, done=True)


def read_all(unseen: Unseen) -> Iterator[Job]:
    """All narrations and strips, each read with a network that has not learned it, where there are such."""
    yield from unseen.each([talk.name for talk in narrations()], lambda name: [read_job(name)])
    for talk in strips():
        with unseen.reading(talk.name):
            yield read_strip(talk)


def _job(name: str, rows: Sequence[dict[str, Any]], wanted: Iterable[dict[str, Any]]) -> Job:
    wanted = list(wanted)
    right = dict(_wanted(row for row in wanted if not row.get("optional")))
    free = {_key(row) for row in wanted if row.get("optional")}
    lines = _read(rows)
    ledger = FastenerLedger()
    for line in lines:
        ledger.read(line)
    cases = [c for c in _cases(name, ledger, lines, right) if c.key not in free]
    return Job(name, cases, right, is_done(ledger, lines))


def _read(rows: Sequence[dict[str, Any]]) -> list[Line]:
    told = (Utterance(r["id"], r["start"], r["end"], r["text"]) for r in rows)
    return [Line(one) for one in Reader().read(told)]


def _wanted(rows: Iterable[dict[str, Any]]) -> Iterator[tuple[Key, set[tuple[int, int]]]]:
    for row in rows:
        others = {(o["removed"], o["installed"]) for o in row.get("ok", [])}
        yield _key(row), {(row["removed"], row["installed"]), *others}


def _key(row: dict[str, Any]) -> Key:
    size = row["size"]
    return (row["kind"], (round(float(size["value"]), 4), str(size["unit"])) if size else None)


def _cases(
    name: str, ledger: FastenerLedger, lines: Sequence[Line], wanted: dict[Key, set[tuple[int, int]]]
) -> Iterator[Case]:
    for (kind, size), found in outcomes(ledger, lines):
        key = (kind, (round(size[0], 4), size[1]) if size else None)
        accepted = wanted.get(key, {(0, 0)})
        yield Case(name, key, found, [(t.removed, t.installed) in accepted for t in found])


def fit(jobs: Sequence[Job], seed: int) -> lightgbm.Booster:
    """Boosted trees over every outcome of these jobs."""
    import lightgbm  # noqa: PLC0415 - the cases are read, and tested, without it

    cases = [case for job in jobs for case in job.cases]
    x = np.array([t.row for case in cases for t in case.found])
    y = np.array([right for case in cases for right in case.right])
    counted = np.array([WEIGHTS.get(case.job[0], REST) for case in cases for _ in case.found])
    model = lightgbm.LGBMClassifier(**TREES, random_state=seed)
    return model.fit(x, y, sample_weight=counted).booster_


def check(jobs: Sequence[Job]) -> None:
    """Print F1 of ledger lines as heard and as settled, each job by trees that have not seen it.

    Strips are read beside narrations by their first letter too.
    """
    counts: dict[str, NDArray[np.int64]] = {}
    for held in folds([job.name for job in jobs], FOLDS):
        others = [job for job in jobs if job.name not in held]
        models = [fit(others, seed) for seed in range(SEEDS)]
        for job in (job for job in jobs if job.name in held):
            row = counts.setdefault(job.name[0], np.zeros(4, np.int64))
            row += _judged(job, models)
    for letter, (heard, chosen, all_heard, all_chosen) in sorted(counts.items()):
        print(f"{letter}: as heard {2 * heard / all_heard:.3f}, settled {2 * chosen / all_chosen:.3f}")


def _judged(job: Job, models: Sequence[lightgbm.Booster]) -> NDArray[np.int64]:
    """Lines right as heard and as settled, and lines in all (of the annotation and of the ledger)."""
    out = np.array([0, 0, len(job.gold), len(job.gold)])
    for case in job.cases:
        shares = np.mean([m.predict(np.array([t.row for t in case.found])) for m in models], axis=0)
        shares[0] += MARGIN
        for n, best in enumerate((0, int(shares.argmax()) if job.done else 0)):
            totals = case.found[best]
            there = bool(totals.removed or totals.installed)
            out[n] += there and case.right[best]
            out[n + 2] += there
    return out


def save(boosters: Sequence[lightgbm.Booster], path: Path) -> None:
    """Write trees as arrays, the mean of several boosters as one."""
    trees = [t["tree_structure"] for b in boosters for t in b.dump_model()["tree_info"]]
    laid = [_laid(tree) for tree in trees]
    width, deep = max(len(rows) for rows, _ in laid), max(d for _, d in laid)
    table = np.zeros((len(laid), width, 5))
    for n, (rows, _) in enumerate(laid):
        table[n, : len(rows)] = rows
    path.parent.mkdir(parents=True, exist_ok=True)
    np.savez_compressed(
        path,
        feature=table[..., 0].astype(np.int16),
        threshold=table[..., 1],
        low=table[..., 2].astype(np.int16),
        high=table[..., 3].astype(np.int16),
        value=(table[..., 4] / len(boosters)).astype(np.float32),
        deep=deep,
    )


def _laid(tree: dict[str, Any]) -> tuple[list[list[float]], int]:
    """Nodes of one tree in a row (feature, threshold, low, high, value), and how deep it goes."""
    rows: list[list[float]] = []

    def lay(node: dict[str, Any]) -> tuple[int, int]:
        at = len(rows)
        rows.append([0.0, 0.0, at, at, float(node.get("leaf_value", 0.0))])
        if "split_feature" not in node:
            return at, 0
        (low, a), (high, b) = lay(node["left_child"]), lay(node["right_child"])
        rows[at] = [float(node["split_feature"]), float(node["threshold"]), low, high, 0.0]
        return at, max(a, b) + 1

    return rows, lay(tree)[1]


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--check", action="store_true")
    parser.add_argument("--networks", type=Path, help="folder of networks that each have not learned a fold")
    options = parser.parse_args()
    jobs = list(read_all(Unseen(options.networks)))
    cases = sum(len(job.cases) for job in jobs)
    print(f"{cases} kinds and sizes of {len(jobs)} jobs")
    if options.check:
        check(jobs)
        return
    save([fit(jobs, seed) for seed in range(SEEDS)], FOLDER / "balance.npz")


if __name__ == "__main__":
    main()
