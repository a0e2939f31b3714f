"""Trains the acoustic network: ``python -m models.train.train PACK OUT [--minutes M --alone-minutes A
--device cuda]``.

PACK is what ``models.train.pack`` wrote. First phones alone (A minutes), then phones by their left
neighbour (M minutes), learning rate falling along half a cosine. OUT gets ``network.pt``. Runs on a CPU
too, only slower.
"""

from __future__ import annotations

import argparse
import json
import math
import multiprocessing
import queue
import random
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import torch
from torch import Tensor, nn
from torch.optim.swa_utils import AveragedModel

from models.train.augment import Cut, Spoiler
from models.train.clips import GRID, Batch, Clip, held_out, load, plan
from models.train.features import SHIFT, Cepstra
from models.train.lfmmi import Lfmmi
from models.train.network import CONTEXT, NECK, Affine, Network, start_from
from models.train.noises import bank
from models.train.phone_graphs import Graph, Phones, batched
from models.train.throats import Throats

PHONES = 41
GUESS = 0.1
"""Weight of the cross-entropy of a second head that guesses each frame's pdf; it is only there in training,
to keep the hidden layers from fitting the sequences alone."""
RENEWED = 0.003
"""Share of the running mean of the weights that each step's weights make up in the end; the mean is what is
saved."""
SYNTHETIC = 0.5
"""Share of the synthetic clips that each round takes, drawn anew, if none is given."""
VERSIONS = 2
"""Graphs kept of each text; they differ in which words count as unknown."""
_phones: Phones


def _graphs_of(text: str) -> tuple[str, list[Graph]]:
    rng = random.Random(text)
    return text, [_phones.graph(text, rng) for _ in range(VERSIONS)]


class Trainer:
    """One network in training over one store of clips."""

    def __init__(
        self,
        folder: Path,
        device: str,
        workers: int,
        seconds: float,
        *,
        share: float = SYNTHETIC,
        throats: Throats | None = None,
    ) -> None:
        global _phones  # noqa: PLW0603  (read by the worker processes that this forks)
        self.device, self.seconds, self.rng = device, seconds, random.Random(3)
        self.share = share
        samples, clips = load(folder, workers)
        self.clips, self.watched = held_out(clips, 100, 1)
        lexicon = json.loads((folder / "lexicon.json").read_text(encoding="utf-8"))
        _phones = Phones(lexicon, PHONES)
        _phones.learn([clip.text for clip in self.clips], random.Random(2))
        texts = sorted({clip.text for clip in clips} | {""})
        with multiprocessing.Pool(workers) as pool:
            self.graphs = dict(pool.imap_unordered(_graphs_of, texts, chunksize=16))
            self.bigram = _phones.tensors(device)
            self.store = torch.from_numpy(samples).to(device)
            noises = bank(folder, self.store, self.clips, workers, pool)
        self.spoiler = Spoiler(self.store, noises, throats=throats)
        self.cepstra = Cepstra(device)
        self.network = Network(2 * PHONES).to(device)
        self.head = Affine(2 * PHONES**2, NECK).to(device)
        self.mean = self._mean()
        self._normalize()

    def _mean(self) -> AveragedModel:
        return AveragedModel(self.network, multi_avg_fn=drawn_in, use_buffers=True)

    def _normalize(self) -> None:
        """Mean and deviation of the input over some clips as they will be heard."""
        frames = []
        for batch in plan(self.clips, 0.3, 60, random.Random(9))[:8]:
            cepstra = self.cepstra(
                self.spoiler.spoiled([cut for cut, _ in batch], _samples(batch) + 400)
            ).flatten(0, 1)
            frames.append(torch.cat([cepstra[:-2], cepstra[1:-1], cepstra[2:]], 1))
        whole = torch.cat(frames)
        self.network.mean.copy_(whole.mean(0))
        self.network.deviation.copy_(whole.std(0))

    def with_neighbours(self) -> None:
        """From phones alone to phones by their left neighbour, all alike at first."""
        alone = self.network.output
        wide = Network(2 * PHONES * PHONES).to(self.device).output
        for name in ("weight", "bias"):
            enter, stay = getattr(alone, name).data.split(PHONES)
            getattr(wide, name).data = torch.cat([enter] * PHONES + [stay] * PHONES)
        self.network.output = wide
        self.mean = self._mean()

    def scores(self, x: Tensor) -> tuple[Tensor, Tensor | None]:
        """Scores of all pdfs, and log posteriors of the second head; while phones are alone every left
        neighbour shares theirs, and the second head rests."""
        with torch.autocast(self.device, torch.bfloat16, enabled=self.device != "cpu"):
            hidden = self.network.hidden(x)
            out = self.network.output(hidden)
            if out.shape[2] > 2 * PHONES:
                return out.float(), self.head(hidden).float().log_softmax(2)
        enter, stay = out.float().split(PHONES, 2)
        return torch.cat([enter.repeat(1, 1, PHONES), stay.repeat(1, 1, PHONES)], 2), None

    def batch(self, batch: Batch, graph: dict[str, Tensor], *, clean: bool = False) -> tuple[Tensor, ...]:
        """Loss per frame with its penalties, log weight of the said and of everything, frames."""
        samples = _samples(batch)
        cuts = [cut for cut, _ in batch]
        sound = (self.spoiler.plain if clean else self.spoiler.spoiled)(cuts, samples + 400)
        cepstra = self.cepstra(sound, None if clean else self._masked)
        frames = torch.tensor([max(3, 1 + (cut.length - 400) // SHIFT) for cut in cuts], device=self.device)
        outputs = samples // (3 * SHIFT)
        place = torch.arange(self.network.pad(outputs), device=self.device)[None] - CONTEXT
        place = torch.minimum(place.clamp(min=0), frames[:, None] - 1)
        x = cepstra.gather(1, place[:, :, None].expand(-1, -1, cepstra.shape[2]))
        out, guess = self.scores(x)
        lengths = (frames + 2) // 3
        graph = {name: part.to(self.device, non_blocking=True) for name, part in graph.items()}
        graph["quiet"] = _quiet(cuts, outputs).to(self.device)
        loss, said, every, at = Lfmmi.apply(out, lengths, graph, self.bigram)
        total = loss / lengths.sum() + 5e-4 * out.square().mean()
        if guess is not None:
            total = total - GUESS * (guess * at).sum() / lengths.sum()
        return total, said.detach(), every.detach(), lengths.sum()

    def _masked(self, bands: Tensor) -> Tensor:
        """Log mel bands of other throats; with a stripe of frequencies and some stretches of time at their
        mean, in half the batches."""
        bands = warped(bands)
        if self.rng.random() < 0.5:
            return bands
        bands, mean = bands.clone(), bands.mean((1, 2), keepdim=True)
        count, frames, width = bands.shape
        wide, low = self.rng.randint(0, 6), self.rng.randint(0, width - 7)
        bands[:, :, low : low + wide] = mean
        for _ in range(1 + frames // 300):
            long = self.rng.randint(0, 17)
            start = torch.randint(max(1, frames - long), (count, 1), device=bands.device)
            at = torch.arange(frames, device=bands.device)[None]
            bands = torch.where(((at >= start) & (at < start + long))[:, :, None], mean, bands)
        return bands

    def prepared(self, stop: threading.Event) -> Iterator[tuple[Batch, dict[str, Tensor]]]:
        """Batches round after round, their graphs put together by a thread of its own."""
        ready: queue.Queue[tuple[Batch, dict[str, Tensor]]] = queue.Queue(8)

        def fill() -> None:
            rng = random.Random(11)
            while not stop.is_set():
                for batch in plan(self.clips, self.share, self.seconds, rng):
                    if stop.is_set():
                        return
                    ready.put((batch, batched([rng.choice(self.graphs[text]) for _, text in batch])))

        threading.Thread(target=fill, daemon=True).start()
        while True:
            yield ready.get()

    def fit(self, seconds: float, rates: tuple[float, float], save: Callable[[], None]) -> None:
        """Train for so long; ``rates`` are the highest of the hidden layers and of the last."""
        last = [*self.network.output.parameters(), *self.head.parameters()]
        hidden = [p for n, p in self.network.named_parameters() if not n.startswith("output")]
        groups = [{"params": hidden, "top": rates[0]}, {"params": last, "top": rates[1]}]
        optimizer = torch.optim.AdamW(groups, lr=rates[0], weight_decay=1e-3, betas=(0.9, 0.98))
        began, shown, step = time.time(), time.time(), 0
        sums = torch.zeros(2, device=self.device)
        stop = threading.Event()
        self.network.train()
        for batch, graph in self.prepared(stop):
            share = (time.time() - began) / seconds
            if share >= 1:
                break
            for group in optimizer.param_groups:
                group["lr"] = (
                    group["top"] * min(1, (step + 1) / 150) * (0.02 + 0.49 * (1 + math.cos(math.pi * share)))
                )
            loss, said, every, frames = self.batch(batch, graph)
            optimizer.zero_grad()
            loss.backward()
            nn.utils.clip_grad_norm_(self.network.parameters(), 2.0)
            optimizer.step()
            self.mean.update_parameters(self.network)
            step += 1
            sums += torch.stack([said - every, frames])
            if time.time() - shown > 30 or step == 3:
                shown = time.time()
                rounds = step * self.seconds / 3600
                gain = float(sums[0] / sums[1])
                print(f"{shown - began:.0f} s, step {step} (about {rounds:.1f} h): {gain:.4f}, "
                      f"watched {self.watch():.4f}", flush=True)  # fmt: skip
                sums.zero_()
                save()
        stop.set()
        print(f"end after {step} steps: watched {self.watch():.4f}", flush=True)

    def watch(self) -> float:
        """The objective per frame of the mean network on clean clips that were not trained on."""
        trained, self.network = self.network, self.mean.module  # type: ignore[assignment]
        self.network.eval()
        total = frames = 0.0
        with torch.no_grad():
            for at in range(0, len(self.watched), 25):
                batch = [(_whole(clip), clip.text) for clip in self.watched[at : at + 25]]
                graph = batched([self.graphs[text][0] for _, text in batch])
                _, said, every, count = self.batch(batch, graph, clean=True)
                total += float(said - every)
                frames += float(count)
        self.network = trained
        return total / frames


def drawn_in(mean: Any, weights: Any, steps: Any) -> None:
    """Draw weights into their running mean: at first nearly whole, later as ``RENEWED`` says."""
    torch._foreach_lerp_(mean, weights, max(RENEWED, 10 / (10 + int(steps))))


def warped(bands: Tensor, most: float = 0.1) -> Tensor:
    """Log mel bands (batch, frames, bands), stretched along the bands by a factor of its own for each clip,
    as by a longer or shorter throat."""
    count, _, width = bands.shape
    factor = 1 + (torch.rand(count, device=bands.device) * 2 - 1) * most
    place = (torch.arange(width, device=bands.device)[None] * factor[:, None]).clamp(max=width - 1.001)
    left = place.floor().long()
    share = (place - left)[:, None, :]
    low, high = (bands.gather(2, at[:, None, :].expand_as(bands)) for at in (left, left + 1))
    return low * (1 - share) + high * share


def _whole(clip: Clip) -> Cut:
    return Cut(clip.first, clip.samples, 1.0, 0, 0)


def _samples(batch: Batch) -> int:
    return -(-max(cut.length for cut, _ in batch) // GRID) * GRID


def _quiet(cuts: list[Cut], outputs: int) -> Tensor:
    """1 where a clip is surely silent, at its added edges, (batch, outputs)."""
    at = torch.arange(outputs)[None] * 0.03
    before = torch.tensor([cut.before / 16_000 for cut in cuts])[:, None]
    after = torch.tensor([cut.after / 16_000 for cut in cuts])[:, None]
    end = torch.tensor([cut.length / 16_000 for cut in cuts])[:, None]
    return ((at < before - 0.08) | ((at > end - after + 0.12) & (at < end - 0.08))).float()


def main() -> None:
    """See the module."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("pack", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--minutes", type=float, default=30)
    parser.add_argument("--alone-minutes", type=float, default=25)
    parser.add_argument("--device", default="cpu")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--seconds", type=float, default=110, help="sound in a batch")
    parser.add_argument("--share", type=float, default=SYNTHETIC, help="of synthetic clips in a round")
    parser.add_argument("--throats", type=float, default=0, help="share of the clips given another throat")
    parser.add_argument("--resume", type=Path, help="a network.pt to go on from")
    given = parser.parse_args()
    torch.manual_seed(0)
    began = time.time()
    throats = Throats(given.throats) if given.throats else None
    trainer = Trainer(
        given.pack, given.device, given.workers, given.seconds, share=given.share, throats=throats
    )
    human = sum(clip.samples for clip in trainer.clips if clip.human) / 57.6e6
    every = sum(clip.samples for clip in trainer.clips) / 57.6e6
    print(
        f"ready after {time.time() - began:.0f} s: {human:.2f} h of people, {every - human:.2f} h of voices",
        flush=True,
    )

    def save() -> None:
        torch.save(trainer.mean.module.state_dict(), given.out / "network.pt")

    if given.resume:
        trainer.with_neighbours()
        trainer.network.load_state_dict(torch.load(given.resume, map_location=given.device))
        trainer.fit(given.minutes * 60, (3e-4, 1e-3), save)
    else:
        start_from(trainer.network.cpu(), given.pack / "trunk.npz")
        trainer.network.to(given.device)
        trainer.fit(given.alone_minutes * 60, (5e-4, 2e-3), save)
        trainer.with_neighbours()
        trainer.fit(given.minutes * 60, (4e-4, 1.5e-3), save)
    save()


if __name__ == "__main__":
    main()
