"""Tuning the dictation's encoder: the network beside the bundled model's, its files, its texts."""

from __future__ import annotations

import dataclasses
import json
import tarfile
from pathlib import Path

import numpy as np
import pytest
import soundfile

from narrator.hearing.moonshine_engine import END, START, model_folder
from narrator.hearing.moonshine_model import DECODER, ENCODER, TUNED, TUNED_DECODER, MoonshineModel

torch = pytest.importorskip("torch")
from models.train.clips import Clip  # noqa: E402
from models.train.dictation_net import Decoder, Encoder, frames  # noqa: E402
from models.train.dictation_text import Tokenizer, sentence, targets  # noqa: E402


def test_words_become_a_written_sentence() -> None:
    assert sentence("code p a one i think it's a c v joint") == "Code P A one I think it's A C V joint."
    assert sentence("i don't say i'm sure of a bolt") == "I don't say I'm sure of a bolt."
    assert sentence("") == ""


def test_the_model_s_own_words_are_wanted_where_they_are_right_and_no_figures() -> None:
    clips = [Clip(n * 9, 9, text, n < 4) for n, text in enumerate(
        ("yes he said", "ten bolts", "two nuts", "it rained", "yes he said")
    )]  # fmt: skip
    wanted = targets(clips, ["Yes, he said.", "10 bolts.", "Too nuts!", ""])
    assert list(wanted.values()) == ["Yes, he said.", "Ten bolts.", "Two nuts.", "It rained.", "Yes he said."]


def test_a_short_clip_in_a_long_batch_gives_what_it_gives_alone() -> None:
    torch.manual_seed(0)
    encoder, decoder = Encoder().eval(), Decoder().eval()
    sound = 0.1 * torch.randn(2, 24_000)
    samples = torch.tensor([9_000, 24_000])
    with torch.no_grad():
        both, there = encoder(sound, samples)
        alone, whole = encoder(sound[:1, :9_000], samples[:1])
        assert there.sum(1).tolist() == frames(samples).tolist()
        assert bool(whole.all())
        count = int(whole.sum())
        assert torch.allclose(both[:1, :count], alone, atol=1e-4)
        ids = torch.tensor([[START, 300, 301]])
        apart = decoder(ids, alone, whole)
        assert torch.allclose(decoder(ids, both[:1], there[:1]), apart, atol=1e-4)
        assert torch.allclose(decoder(ids[:, :2], alone, whole), apart[:, :2], atol=1e-4)


def test_several_tunings_are_averaged_and_mixed_with_the_weights_as_they_were() -> None:
    pytest.importorskip("onnx")
    from models.train.dictation_files import mixed  # noqa: PLC0415

    was, *tuned = ({"w": np.full(2, value, np.float32)} for value in (1.0, 2.0, 4.0))
    assert mixed(was, tuned, 0.5)["w"].tolist() == [2.0, 2.0]
    assert mixed(was, tuned[:1], 0.25)["w"].tolist() == [1.25, 1.25]


@pytest.mark.engine
def test_the_network_in_floats_is_the_bundled_one_and_takes_weights_back(tmp_path: Path) -> None:
    pytest.importorskip("onnx")
    from models.train.dictation_files import both, graph_of, tensors  # noqa: PLC0415

    folder = model_folder()
    assert folder is not None
    model = MoonshineModel(folder)
    first, last = both(folder)
    networks = Encoder().eval(), Decoder().eval()
    for network, arrays in zip(networks, (first, last), strict=True):
        network.load_state_dict({name: torch.tensor(arrays[name]) for name in network.state_dict()})
    sound = np.random.default_rng(0).normal(0, 0.05, 20_000).astype(np.float32)
    state = model.encode(sound)
    with torch.no_grad():
        heard, there = networks[0](torch.tensor(sound)[None], torch.tensor([len(sound)]))
        scores = networks[1](torch.tensor([[START]]), heard, there)[0, 0].log_softmax(0).numpy()
    assert np.abs(heard.numpy() - state.hidden).mean() < 0.1 * np.abs(state.hidden).mean()
    likely = np.argsort(scores)[-5:]
    assert np.abs(model.step(state, START) - scores)[likely].max() < 1.0
    doubled = first | {"layer_norm.weight": first["layer_norm.weight"] * 2}
    graph = graph_of(folder / ENCODER)
    for name, arrays in zip(TUNED, (first, doubled), strict=True):
        np.savez(tmp_path / name, **tensors(graph, arrays))
    halved = {"norm.weight": last["norm.weight"] / 2}
    np.savez(tmp_path / TUNED_DECODER, **tensors(graph_of(folder / DECODER), halved))
    tuned = MoonshineModel(folder, tmp_path)
    clear = np.concatenate([np.zeros(8_000, np.float32), sound])
    same = model.encode(clear).hidden
    assert np.abs(tuned.encode(clear).hidden - same).mean() < 0.15 * np.abs(same).mean()
    assert np.abs(tuned.encode(sound).hidden - 2 * state.hidden).mean() < 0.3 * np.abs(state.hidden).mean()
    sharp, soft = model.step(model.encode(clear), START), tuned.step(model.encode(clear), START)
    assert np.ptp(soft) == pytest.approx(np.ptp(sharp) / 2, rel=0.05), "half the scores: half as far apart"


@pytest.mark.engine
def test_tuning_goes_on_from_weights_that_are_given() -> None:
    pytest.importorskip("onnx")
    from models.train.dictation_files import graph_of, tensors, weights  # noqa: PLC0415

    folder = model_folder()
    assert folder is not None
    graph = graph_of(folder / ENCODER)
    own = weights(graph)
    given = weights(graph, tensors(graph, own | {"layer_norm.weight": own["layer_norm.weight"] * 2}))
    assert np.allclose(given["layer_norm.weight"], 2 * own["layer_norm.weight"], rtol=1e-2)
    assert np.abs(given["conv1.weight"] - own["conv1.weight"]).max() < 1e-2


@pytest.mark.engine
def test_tunings_are_mixed_with_the_wheel_s_weights_or_with_those_that_lie_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pytest.importorskip("onnx")
    from models.train import dictation_files  # noqa: PLC0415

    folder = model_folder()
    assert folder is not None
    graph = dictation_files.graph_of(folder / ENCODER)
    own = dictation_files.weights(graph)["layer_norm.weight"]
    np.savez(tmp_path / "tuned.npz", **{"layer_norm.weight": own * 3})
    called = ["", str(tmp_path), "--noisy", str(tmp_path / "tuned.npz"), "--shares", "0", "0.5", "0"]
    for more, expected in (([], 2.0), (["--onto"], 2.5)):
        monkeypatch.setattr("sys.argv", called + more)
        dictation_files.main()
        there = dictation_files.weights(graph, dict(np.load(tmp_path / TUNED[1])))["layer_norm.weight"]
        assert np.allclose(there, own * expected, rtol=1e-2)
    assert not (tmp_path / TUNED[0]).exists(), "what none is given for is left alone"


def write_pack(folder: Path) -> None:
    """A PACK of hisses, said to be four words each, and of networks that have learned nothing."""
    hiss = np.random.default_rng(1).normal(0, 0.1, 20_000)
    real = [{"file": f"{n}.flac", "text": "two ten mil bolts"} for n in range(8)]
    with tarfile.open(folder / "real.tar", "w") as tar:
        for row in real:
            soundfile.write(folder / row["file"], hiss, 16_000)
            tar.add(folder / row["file"], row["file"])
    soundfile.write(folder / "synthetic.wav", np.tile(hiss, 2), 16_000)
    (folder / "synthetic.wav").rename(folder / "synthetic.opus")
    made = [{"first": 20_000 * n, "samples": 20_000, "text": "five volts"} for n in range(2)]
    (folder / "clips.json").write_text(json.dumps({"real": real, "synthetic": made}))
    (folder / "written.json").write_text(json.dumps([""] * len(real)))
    (folder / "tokens.json").write_text(json.dumps([f"<0x{byte:02X}>" for byte in range(256)]))
    arrays = {
        part + name: array.numpy().astype(np.float16)
        for part, network in (("e/", Encoder()), ("d/", Decoder()))
        for name, array in network.state_dict().items()
    }
    np.savez(folder / "weights.npz", **arrays)


def test_only_the_decoder_s_layers_are_tuned_and_only_where_that_is_asked(tmp_path: Path) -> None:
    from models.train.dictation_tune import Course, Tuner  # noqa: PLC0415

    write_pack(tmp_path)
    tuner = Tuner(tmp_path, "cpu", 1, 4.0)
    before = {name: part.clone() for name, part in tuner.decoder.state_dict().items()}
    for share, changed in ((0.0, set()), (0.5, {"layers", "norm"})):
        tuner.fit(Course(0.02, share=1.0, decoder=share), tmp_path)
        after = tuner.decoder.state_dict()
        assert {
            name.split(".")[0] for name in before if not torch.equal(before[name], after[name])
        } == changed
    with np.load(tmp_path / "decoder.npz") as kept:
        assert kept.files
        assert not [name for name in kept.files if name.startswith("embed")]


def test_keeping_to_the_model_as_it_was_costs_nothing_until_it_changes(tmp_path: Path) -> None:
    from models.train.augment import Cut, Spoiler  # noqa: PLC0415
    from models.train.dictation_tune import Course, Tuner  # noqa: PLC0415

    write_pack(tmp_path)
    tuner = Tuner(tmp_path, "cpu", 1, 4.0)
    cuts = [Cut(clip.first, clip.samples, 1.0, 4000, 4000) for clip in tuner.clips if clip.human][:3]
    tuner.known = {cut.first for cut in cuts}
    tuner.spoiler = Spoiler(tuner.store, tuner.bank, noisy_share=0.0)

    def cost(keep: float) -> float:
        with torch.no_grad():
            heard = tuner.heard(cuts, tuner.encoder, tuner.decoder, tuner.spoiler)
            return float(tuner.away(cuts, heard, Course(1.0, clean=0.0, keep=keep)))

    same = cost(1.0)
    assert cost(0.0) == 0.0
    with torch.no_grad():
        tuner.decoder.norm.weight.neg_()
    assert same < 0.05 * cost(1.0)


def test_only_what_the_model_as_it_was_hears_rightly_is_to_be_kept(tmp_path: Path) -> None:
    from models.train.augment import Cut  # noqa: PLC0415
    from models.train.dictation_tune import Tuner  # noqa: PLC0415

    write_pack(tmp_path)
    tuner = Tuner(tmp_path, "cpu", 1, 4.0)
    cuts = [Cut(clip.first, clip.samples, 1.0, 4000, 4000) for clip in tuner.clips if clip.human][:3]
    with torch.no_grad():
        heard = tuner.heard(cuts, tuner.encoder, tuner.decoder, tuner.spoiler)
    likeliest = heard.scores.argmax(2)
    for following, counts in ((likeliest, True), ((likeliest + 1) % 1000, False)):
        asked = dataclasses.replace(heard, following=following)
        changed = dataclasses.replace(asked, scores=-asked.scores)
        assert abs(float(tuner.lost(cuts, asked))) < 1e-3
        assert (float(tuner.lost(cuts, changed)) > 0.1) == counts


def test_synthetic_speech_may_lie_bare(tmp_path: Path) -> None:
    from models.train.clips import load  # noqa: PLC0415

    write_pack(tmp_path)
    packed, clips = load(tmp_path, 1)
    sound, _ = soundfile.read(tmp_path / "synthetic.opus", dtype="int16")
    (tmp_path / "synthetic.opus").unlink()
    sound.astype("<i2").tofile(tmp_path / "synthetic.raw")
    bare, same = load(tmp_path, 1)
    assert np.array_equal(bare, packed) and same == clips


def test_tuning_starts_from_the_decoder_that_is_given_with_its_tokens_own(tmp_path: Path) -> None:
    from models.train.dictation_tune import Tuner  # noqa: PLC0415

    write_pack(tmp_path)
    with np.load(tmp_path / "weights.npz") as file:
        arrays = dict(file)
    tuned = {f"t/{name[2:]}": array * 2 for name, array in arrays.items() if name.startswith("d/")}
    del tuned["t/embed_tokens.weight"]
    np.savez(tmp_path / "weights.npz", **arrays, **tuned)
    tuner = Tuner(tmp_path, "cpu", 1, 4.0)
    assert torch.allclose(tuner.decoder.norm.weight, 2 * tuner.first_decoder.norm.weight)
    assert torch.equal(tuner.decoder.embed_tokens.weight, tuner.first_decoder.embed_tokens.weight)


@pytest.mark.engine
def test_text_goes_into_the_model_s_own_tokens() -> None:
    folder = model_folder()
    assert folder is not None
    tokens = MoonshineModel(folder).tokens
    ids = Tokenizer(tokens).ids("Two ten mil bolts, don't lose é.")
    assert b"".join(tokens[i] for i in ids).startswith("\u2581Two\u2581ten\u2581mil".encode())
    assert END not in ids and ids[-1] == len(tokens) - 1 - tokens[::-1].index(b".")
