"""Tunes the bundled dictation to trade speech in noise: ``python -m models.train.dictation_tune PACK OUT
[--minutes M --device cuda --share S --paces LOW HIGH --clean W --decoder R --throats T --keep K
--steady W --seed N]``.

PACK is what ``models.train.pack`` and ``models.train.dictation_pack`` wrote. The encoder learns to give the
decoder what makes it write what was said; where ``--decoder`` is given, so do the decoder's layers, at so
large a share of the encoder's pace (its tokens' vectors stay as they are). Where the model as it was hears a
recording rightly, its frames of the clean sound are what the tuned ones of the spoiled sound are drawn to,
and with ``--keep`` its probabilities too, so that the decoder does not learn the recordings by heart. With
``--steady`` its probabilities of the spoiled sound are kept wherever its likeliest token is the right one, so
that what it heard rightly is not lost (after Yan et al., "Positive-Congruent Training: Towards
Regression-Free Model Updates", CVPR 2021; the title from memory).
OUT gets ``encoder.npz`` and ``decoder.npz``, the running mean of the weights.
"""

from __future__ import annotations

import argparse
import copy
import json
import math
import multiprocessing
import random
import time
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import torch
from torch import Tensor, nn
from torch.nn.functional import cross_entropy

from models.train.augment import RATE, Cut, Spoiler
from models.train.clips import GRID, Batch, Clip, load, plan, strangers
from models.train.dictation_net import Decoder, Encoder
from models.train.dictation_text import Tokenizer, targets
from models.train.noises import bank
from models.train.throats import Throats

START, END = 1, 2
PACE = 2.5e-4
"""Highest learning rate, if none is given."""
CLEAN = 1.5
"""Weight of the distance to the frames of the clean sound, if none is given."""
RENEWED = 0.004
"""Share of the running mean of the weights that each step's make up."""
SYNTHETIC = 0.35
"""Share of the synthetic clips that each round takes, drawn anew, if none is given."""
KNOWN = 0.5
"""Cross-entropy a token below which the model as it was has heard a recording rightly."""
EDGE = RATE // 4
"""Silence around a clip that is not spoiled."""
_NONE = -100


@dataclass(frozen=True, slots=True)
class Course:
    """How to tune: minutes, share of the synthetic clips a round, paces they are given beside their own,
    weight of keeping to the clean sound's frames, pace of the decoder's layers beside the encoder's (0: they
    stay as they are), highest learning rate, weight of keeping to the probabilities of the model as it
    was, share of the people's clips a round, weight of keeping to its probabilities of the spoiled sound
    where it is right."""

    minutes: float
    share: float = SYNTHETIC
    paces: tuple[float, float] | None = None
    clean: float = CLEAN
    decoder: float = 0.0
    pace: float = PACE
    keep: float = 0.0
    people: float = 1.0
    steady: float = 0.0


@dataclass(frozen=True, slots=True)
class Heard:
    """A batch heard: the sound in [-1, 1], which tokens were said before each, which follow (-100 where none
    does), the scores of what may follow, the frames and which of them there are."""

    sound: Tensor
    said: Tensor
    following: Tensor
    scores: Tensor
    frames: Tensor
    there: Tensor

    def loss(self) -> Tensor:
        """Cross-entropy summed over the tokens."""
        scores = self.scores.flatten(0, 1)
        return cross_entropy(scores, self.following.flatten(), reduction="sum", ignore_index=_NONE)

    def tokens(self) -> Tensor:
        """How many tokens there are."""
        return (self.following != _NONE).sum()


class Tuner:
    """The networks and the store of clips."""

    def __init__(
        self,
        pack: Path,
        device: str,
        workers: int,
        seconds: float,
        *,
        throats: Throats | None = None,
        seed: int = 0,
    ) -> None:
        self.device, self.seconds, self.seed = device, seconds, seed
        samples, clips = load(pack, workers)
        self.target = targets(clips, json.loads((pack / "written.json").read_text(encoding="utf-8")))
        tokens = json.loads((pack / "tokens.json").read_text(encoding="utf-8"))
        self.tokens = Tokenizer([token.encode("latin-1") for token in tokens])
        self.clips, self.watched = strangers(clips, 100, 1)
        with multiprocessing.Pool(workers) as pool:
            self.store = torch.from_numpy(samples).to(device)
            self.bank = bank(pack, self.store, self.clips, workers, pool)
        self.spoiler = Spoiler(self.store, self.bank, seed=seed, throats=throats)
        arrays = np.load(pack / "weights.npz")
        self.encoder, self.decoder = Encoder().to(device), Decoder().to(device)
        _fill(self.encoder, arrays, "e/")
        _fill(self.decoder, arrays, "d/")
        self.decoder.requires_grad_(False)
        self.first = copy.deepcopy(self.encoder).requires_grad_(False)
        self.first_decoder = copy.deepcopy(self.decoder)
        self.known = self._known()
        if "s/conv1.weight" in arrays:
            _fill(self.encoder, arrays, "s/")
        if "t/norm.weight" in arrays:
            _fill(self.decoder, arrays, "t/")
        self.mean = copy.deepcopy(self.encoder).requires_grad_(False)
        self.mean_decoder = copy.deepcopy(self.decoder)

    def _autocast(self) -> torch.autocast:
        return torch.autocast(self.device, torch.bfloat16, enabled=self.device != "cpu")

    @torch.no_grad()
    def _known(self) -> set[int]:
        """First samples of the recordings of people that the model as it was hears rightly."""
        human = sorted((clip for clip in self.clips if clip.human), key=lambda clip: clip.samples)
        found: set[int] = set()
        while human:
            many = max(1, int(self.seconds * RATE / (human[-1].samples + 2 * EDGE)))
            cuts, human = [_whole(clip) for clip in human[-many:]], human[:-many]
            frames, there = self._clean(cuts, _size(cuts))
            with self._autocast():
                said, following = self._texts(cuts)
                scores = self.decoder(said, frames, there).float().transpose(1, 2)
            losses = cross_entropy(scores, following, reduction="none", ignore_index=_NONE).sum(1)
            mean = losses / (following != _NONE).sum(1)
            found |= {cut.first for cut, loss in zip(cuts, mean.tolist(), strict=True) if loss < KNOWN}
        return found

    def _clean(self, cuts: list[Cut], size: int) -> tuple[Tensor, Tensor]:
        """Frames that the model as it was makes of clips as they are."""
        sound = self.spoiler.plain(cuts, size)
        sound = 0.5 * sound / sound.abs().amax(1, keepdim=True).clamp(min=1)
        with self._autocast():
            frames, there = self.first(sound, self._samples(cuts))
        return frames, there

    def _samples(self, cuts: list[Cut]) -> Tensor:
        return torch.tensor([cut.length for cut in cuts], device=self.device)

    def _texts(self, cuts: list[Cut]) -> tuple[Tensor, Tensor]:
        """Tokens of what is to be written of each clip, and what follows each of them."""
        ids = [[START, *self.tokens.ids(self.target[cut.first] if cut.samples else "")] for cut in cuts]
        said = torch.full((len(ids), max(map(len, ids))), END)
        following = torch.full_like(said, _NONE)
        for i, row in enumerate(ids):
            said[i, : len(row)] = torch.tensor(row)
            following[i, : len(row)] = torch.tensor([*row[1:], END])
        return said.to(self.device), following.to(self.device)

    def heard(self, cuts: list[Cut], encoder: nn.Module, decoder: nn.Module, spoiler: Spoiler) -> Heard:
        """A batch of clips, spoiled, heard by these networks."""
        said, following = self._texts(cuts)
        sound = spoiler.spoiled(cuts, _size(cuts)) / 32768
        with self._autocast():
            frames, there = encoder(sound, self._samples(cuts))
            scores = decoder(said, frames, there).float()
        return Heard(sound, said, following, scores, frames, there)

    def away(self, cuts: list[Cut], heard: Heard, course: Course) -> Tensor:
        """How far what was heard is from what the model as it was makes of the clean sound, where it hears
        that rightly: of the frames, and of the tokens' probabilities."""
        good = [i for i, cut in enumerate(cuts) if cut.samples and cut.first in self.known]
        if not good:
            return torch.zeros((), device=self.device)
        with torch.no_grad():
            aim, _ = self._clean([cuts[i] for i in good], _size(cuts))
        there = heard.there[good]
        moved = (heard.frames[good].float() - aim.float()).square().mean(2) * there
        loss = course.clean * moved.sum() / heard.there.sum()
        if not course.keep:
            return loss
        with torch.no_grad(), self._autocast():
            old = self.first_decoder(heard.said[good], aim, there).float().log_softmax(2)
        differ = apart(old, heard.scores[good]) * (heard.following[good] != _NONE)
        return loss + course.keep * differ.sum() / heard.tokens()

    def lost(self, cuts: list[Cut], heard: Heard) -> Tensor:
        """How far the probabilities are from those of the model as it was, of the same spoiled sound, summed
        over the tokens of which its likeliest is right."""
        with torch.no_grad(), self._autocast():
            frames, there = self.first(heard.sound, self._samples(cuts))
            old = self.first_decoder(heard.said, frames, there).float().log_softmax(2)
        right = old.argmax(2) == heard.following
        return (apart(old, heard.scores) * right).sum()

    def fit(self, course: Course, out: Path) -> None:
        """Tune so, each round on a share of the synthetic clips drawn anew."""
        paced = [(self.encoder.parameters(), 1.0)]
        if course.decoder:
            layers = [*self.decoder.layers.parameters(), *self.decoder.norm.parameters()]
            for one in layers:
                one.requires_grad_(True)
            paced.append((layers, course.decoder))
        groups = [{"params": list(of), "share": share} for of, share in paced]
        tuned = [one for group in groups for one in group["params"]]
        optimizer = torch.optim.AdamW(groups, lr=course.pace, weight_decay=1e-3, betas=(0.9, 0.98))
        began = shown = time.time()
        rng, step, sums = random.Random(11 + self.seed), 0, torch.zeros(2, device=self.device)
        batches: list[Batch] = []
        while (share := (time.time() - began) / (60 * course.minutes)) < 1:
            batches = batches or plan(
                self.clips, course.share, self.seconds, rng, paces=course.paces, human_share=course.people
            )
            cuts = [cut for cut, _ in batches.pop()]
            pace = course.pace * min(1, (step + 1) / 200) * (0.02 + 0.49 * (1 + math.cos(math.pi * share)))
            for group in optimizer.param_groups:
                group["lr"] = pace * group["share"]
            heard = self.heard(cuts, self.encoder, self.decoder, self.spoiler)
            loss, count = heard.loss(), heard.tokens()
            extra = self.away(cuts, heard, course)
            if course.steady:
                extra = extra + course.steady * self.lost(cuts, heard) / count
            optimizer.zero_grad()
            (loss / count + extra).backward()
            nn.utils.clip_grad_norm_(tuned, 1.0)
            optimizer.step()
            step += 1
            self._draw_in(max(RENEWED, 10 / (10 + step)))
            sums += torch.stack([loss.detach(), count])
            if time.time() - shown > 40:
                shown = time.time()
                print(f"{shown - began:.0f} s, step {step}: {float(sums[0] / sums[1]):.4f}", self.watch())
                sums.zero_()
                self.save(out)
        print(f"end after {step} steps:", self.watch())
        self.save(out)

    @torch.no_grad()
    def _draw_in(self, new: float) -> None:
        for mean, network in ((self.mean, self.encoder), (self.mean_decoder, self.decoder)):
            torch._foreach_lerp_(list(mean.parameters()), list(network.parameters()), new)

    @torch.no_grad()
    def watch(self) -> str:
        """Cross-entropy a token on people whom training does not hear, always alike: quiet, noisy."""
        if not self.watched:
            return "no strangers to watch"
        found = []
        for noisy in (0.0, 1.0):
            spoiler = Spoiler(self.store, self.bank, noisy, seed=5)
            total = count = 0.0
            for at in range(0, len(self.watched), 25):
                cuts = [_whole(clip) for clip in self.watched[at : at + 25]]
                heard = self.heard(cuts, self.mean, self.mean_decoder, spoiler)
                total, count = total + float(heard.loss()), count + float(heard.tokens())
            found.append(f"{total / count:.4f}")
        return "watched " + " ".join(found)

    def save(self, out: Path) -> None:
        """Write the running means; of the decoder all but the tokens' vectors."""
        for name, network in (("encoder", self.mean), ("decoder", self.mean_decoder)):
            rows = network.state_dict().items()
            arrays = {key: part.half().cpu().numpy() for key, part in rows if not key.startswith("embed")}
            np.savez(out / f"{name}.npz", **arrays)


def apart(old: Tensor, scores: Tensor) -> Tensor:
    """Kullback-Leibler divergence of scores (batch, tokens, vocabulary) from log probabilities, in nats."""
    return (old.exp() * (old - scores.log_softmax(2))).sum(2)


def _fill(network: nn.Module, arrays: Mapping[str, np.ndarray], part: str) -> None:
    """Give a network the weights that stand in a file under a name that begins so; of others it keeps its
    own."""
    rows = ((name.removeprefix(part), array) for name, array in arrays.items() if name.startswith(part))
    given = {name: torch.from_numpy(array).float() for name, array in rows}
    network.load_state_dict(network.state_dict() | given)


def _whole(clip: Clip) -> Cut:
    return Cut(clip.first, clip.samples, 1.0, EDGE, EDGE)


def _size(cuts: list[Cut]) -> int:
    return -(-max(cut.length for cut in cuts) // GRID) * GRID


def main() -> None:
    """See the module."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("pack", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--minutes", type=float, default=6)
    parser.add_argument("--device", default="cpu")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--seconds", type=float, default=360, help="sound in a batch")
    parser.add_argument("--share", type=float, default=SYNTHETIC, help="of synthetic clips in a round")
    parser.add_argument("--paces", type=float, nargs=2, help="of synthetic clips, beside their own")
    parser.add_argument(
        "--clean", type=float, default=CLEAN, help="weight of keeping to the clean sound's frames"
    )
    parser.add_argument(
        "--decoder", type=float, default=0.0, help="pace of the decoder's layers beside the encoder's"
    )
    parser.add_argument("--pace", type=float, default=PACE, help="highest learning rate")
    parser.add_argument("--throats", type=float, default=0, help="share of the clips given another throat")
    parser.add_argument(
        "--keep", type=float, default=0, help="weight of keeping to the probabilities of the model as it was"
    )
    parser.add_argument("--people", type=float, default=1, help="share of the people's clips in a round")
    parser.add_argument(
        "--steady", type=float, default=0, help="weight of keeping what the model as it was heard rightly"
    )
    parser.add_argument("--seed", type=int, default=0, help="of the batches and how they are spoiled")
    given = parser.parse_args()
    torch.manual_seed(0)
    given.out.mkdir(parents=True, exist_ok=True)
    throats = Throats(given.throats) if given.throats else None
    tuner = Tuner(given.pack, given.device, given.workers, given.seconds, throats=throats, seed=given.seed)
    print(f"{len(tuner.clips)} clips, {len(tuner.known)} known, before: {tuner.watch()}", flush=True)
    paces = (given.paces[0], given.paces[1]) if given.paces else None
    course = Course(
        given.minutes, given.share, paces, given.clean, given.decoder, given.pace, given.keep, given.people,
        given.steady,
    )  # fmt: skip
    tuner.fit(course, given.out)


if __name__ == "__main__":
    main()
