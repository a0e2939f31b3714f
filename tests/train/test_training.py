"""The second ear's recipe: loss and gradients, export against the network, graphs and phrases."""

from __future__ import annotations

import random
from pathlib import Path

import numpy as np
import pytest

from models.train.ngrams import KneserNey, Mixture, Model, Trigrams
from models.train.phrases import sentences
from models.train.voices import written_out
from narrator.hearing.language_model import LanguageModel

torch = pytest.importorskip("torch")
from models.train.clips import Clip, plan, strangers  # noqa: E402
from models.train.lfmmi import NEVER, Lfmmi, denominator, numerator  # noqa: E402
from models.train.network import Network  # noqa: E402
from models.train.phone_graphs import Phones, batched, check_bigram  # noqa: E402
from models.train.train import RENEWED, drawn_in  # noqa: E402

PHONES = 5
LEXICON = {"ten": [[2, 3]], "bolt": [[3, 4], [4, 2]], "a": [[2]]}


@pytest.fixture
def phones() -> Phones:
    made = Phones(LEXICON, PHONES)
    made.learn(["ten bolt", "a bolt ten"], random.Random(1))
    return made


def brute(scores: torch.Tensor, length: int, bigram: tuple[torch.Tensor, ...]) -> torch.Tensor:
    """The denominator with autograd through every step."""
    first, follow, last = bigram
    enter = scores[:, : PHONES**2].unflatten(1, (PHONES, PHONES))
    stay = scores[:, PHONES**2 :].unflatten(1, (PHONES, PHONES))
    alpha = torch.full((PHONES, PHONES), NEVER)
    alpha[0] = first
    alpha = alpha + enter[0]
    for t in range(1, length):
        come = torch.logsumexp(alpha, 0)[:, None] + follow + enter[t]
        alpha = torch.logaddexp(come, alpha + stay[t])
    return torch.logsumexp((alpha + last[None]).flatten(), 0)


def test_denominator_and_gradient_equal_autograds(phones: Phones) -> None:
    torch.manual_seed(0)
    scores = torch.randn(2, 9, 2 * PHONES**2, requires_grad=True)
    lengths, bigram = torch.tensor([9, 6]), phones.tensors("cpu")
    total, occupancy = denominator(scores.detach(), lengths, bigram)
    slow = torch.stack([brute(scores[i], int(lengths[i]), bigram) for i in range(2)])
    slow.sum().backward()
    assert torch.allclose(total, slow, atol=1e-4)
    assert torch.allclose(occupancy, scores.grad, atol=1e-4)
    assert torch.allclose(occupancy.sum((1, 2)), lengths.float(), atol=1e-3)


def test_the_said_is_part_of_everything_and_training_on_it_helps(phones: Phones) -> None:
    torch.manual_seed(1)
    graph = batched([phones.graph(text, random.Random(3)) for text in ("ten bolt", "a")])
    graph["quiet"] = torch.zeros(2, 12)
    lengths, bigram = torch.tensor([12, 10]), phones.tensors("cpu")
    scores = torch.zeros(2, 12, 2 * PHONES**2, requires_grad=True)
    optimizer = torch.optim.SGD([scores], 0.5)
    losses = []
    for _ in range(30):
        loss, said, every, at = Lfmmi.apply(scores, lengths, graph, bigram)
        assert torch.allclose(at.sum((1, 2)), lengths.float(), atol=1e-2)
        assert bool((said <= every + 1e-4).all())
        optimizer.zero_grad()
        loss.backward()
        optimizer.step()
        losses.append(float(loss.detach()))
    assert losses[-1] < 0.5 * losses[0]
    _, occupancy = numerator(scores.detach(), lengths, graph)
    assert torch.allclose(occupancy.sum((1, 2)), lengths.float(), atol=1e-2)


def test_the_running_mean_follows_at_once_and_settles_later() -> None:
    mean, weights = torch.zeros(3), torch.ones(3)
    drawn_in([mean], [weights], 1)
    assert float(mean[0]) > 0.9
    mean.zero_()
    drawn_in([mean], [weights], 100_000)
    assert float(mean[0]) == pytest.approx(RENEWED)


def test_clips_of_values_come_twice_a_round() -> None:
    said = Clip(0, 16_000, "rubout e y f four", True), Clip(16_000, 16_000, "then the pump was out", True)
    batches = plan(list(said), 0.0, 60, random.Random(1))
    texts = [text for batch in batches for _, text in batch]
    assert texts.count(said[0].text) == 2 and texts.count(said[1].text) == 1


def test_synthetic_clips_take_the_paces_given_and_people_keep_theirs() -> None:
    clips = [Clip(n * 16_000, 16_000, "the pump was out", n < 40) for n in range(80)]
    cuts = [cut for batch in plan(clips, 1.0, 60, random.Random(2), paces=(1.25, 1.3)) for cut, _ in batch]
    people = [cut.pace for cut in cuts if cut.samples and cut.first < 40 * 16_000]
    others = [cut.pace for cut in cuts if cut.first >= 40 * 16_000]
    assert len(others) == 40 and all(1.25 <= pace <= 1.3 for pace in others)
    assert len(people) == 40 and max(people) < 1.2


def test_a_share_of_the_people_is_drawn_anew_each_round() -> None:
    clips = [Clip(n * 16_000, 16_000, "the pump was out", True) for n in range(400)]
    rounds = [
        {cut.first for batch in plan(clips, 0.0, 60, random.Random(k), human_share=0.25) for cut, _ in batch}
        for k in (1, 2)
    ]
    assert all(60 < len(found) < 140 for found in rounds)
    assert rounds[0] != rounds[1]


def test_progress_is_watched_on_strangers_who_read_what_nobody_else_did() -> None:
    clips = [Clip(n * 9, 9, f"sentence of that name number {n}", True, f"one-{n % 40}") for n in range(200)]
    clips += [
        Clip(9000 + n * 9, 9, f"many read sentence number {n % 5}", True, f"one-{n % 40}") for n in range(40)
    ]
    clips += [Clip(19_000 + n * 9, 9, f"a crowd reads sentence {n}", True, "crowd") for n in range(300)]
    clips += [Clip(29_000, 9, clips[0].text, False, "espeak:en-us")]
    kept, watched = strangers(clips, 30, 1)
    assert 30 <= len(watched) <= 36
    voices, texts = {clip.voice for clip in watched}, {clip.text for clip in watched}
    assert "crowd" not in voices, "too much of what there is"
    assert not any(clip.human and (clip.voice in voices or clip.text in texts) for clip in kept)
    assert clips[-1] in kept, "a synthetic voice may say the same"
    assert not any(text.startswith("many") for text in texts)
    assert strangers(clips, 30, 1) == (kept, watched)


def test_the_phone_bigram_sums_to_one(phones: Phones) -> None:
    assert check_bigram(phones) < 1e-6


def test_an_exported_network_computes_what_it_did(tmp_path: Path) -> None:
    pytest.importorskip("kaldifst")
    from models.train.export import write_model  # noqa: PLC0415
    from models.train.features import Cepstra  # noqa: PLC0415
    from narrator.hearing.acoustics import AcousticModel  # noqa: PLC0415

    torch.manual_seed(2)
    network = Network(2 * PHONES**2).eval()
    for name, buffer in network.named_buffers():
        buffer.copy_(torch.rand_like(buffer) + 0.5 if "mean" not in name else torch.randn_like(buffer) * 0.1)
    (tmp_path / "am").mkdir()
    write_model(network, {i: i - 1 for i in range(1, PHONES + 1)}, PHONES, tmp_path / "am" / "final.mdl")
    sound = np.random.default_rng(0).normal(0, 0.1, 8_000).astype(np.float32)
    scores = AcousticModel(tmp_path).scores(sound)
    cepstra = Cepstra()(torch.tensor(sound * 32768)[None])
    place = torch.arange(network.pad(len(scores))) - 34
    with torch.no_grad():
        expected = network(cepstra[:, place.clamp(0, cepstra.shape[1] - 1)])[0]
    assert np.abs(scores - expected.numpy()).max() < 2e-3 * float(expected.abs().max())


@pytest.mark.parametrize("kind", ["counted", "told", "mixed"])
def test_a_language_model_read_back_gives_the_same_numbers(kind: str, tmp_path: Path) -> None:
    texts, other = sentences(300, 1), sentences(200, 2)
    words = sorted({word for text in (*texts, *other) for word in text.split()})
    counted, told = Trigrams(texts, words), KneserNey(other, words)
    models: dict[str, Model] = {"counted": counted, "told": told, "mixed": Mixture(told, counted, 0.7)}
    made = models[kind]
    (tmp_path / "m.arpa").write_text(made.arpa())
    read = LanguageModel(tmp_path / "m.arpa")
    for history in ((), ("two",), ("point", "four")):
        state = made.shortened(history)
        for word in words[:50] if kind != "mixed" else made.words_after(state):
            assert np.exp(read.after(state, word)) == pytest.approx(made.probability(state, word), rel=0.02)
    assert sum(made.probability(("two",), word) for word in [*words, "</s>"]) == pytest.approx(1, abs=1e-6)
    total = sum(np.exp(read.after(("two",), word)) for word in [*words, "</s>"])
    assert total == pytest.approx(1, abs=0.01)


def test_what_was_told_once_outweighs_what_was_made_often_where_both_go_on_from_the_same_words() -> None:
    words = "two ten mil bolts nuts out".split()
    told, made = ["two ten mil nuts out"], ["mil bolts"] * 50
    mixed = Mixture(KneserNey(told, words), Trigrams(made, words), 0.7)
    together = Trigrams([*told, *made], words)
    assert mixed.probability(("ten", "mil"), "nuts") > together.probability(("ten", "mil"), "nuts")
    assert mixed.probability(("mil",), "bolts") > mixed.probability(("mil",), "out")


def test_a_line_is_written_out_so_that_no_voice_misreads_it() -> None:
    line = "Stored P0299 on the e-bike, three 13s and 4 T20 screws, EB-1140, 3.2 volts"
    assert written_out(line) == (
        "Stored P zero two nine nine on the e bike, three thirteens and 4 T20 screws, "
        "E B one one four zero, 3.2 volts"
    )


def test_phrases_are_repeatable_and_all_in_words() -> None:
    assert sentences(50, 4) == sentences(50, 4)
    assert all(word.replace("'", "").isalpha() for text in sentences(500, 5) for word in text.split())
