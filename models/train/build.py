"""From the trained network to the installed model: ``python -m models.train.build OUT [--network NETWORK]``.

Writes OUT (``models/shop``): ``graph/``, ``conf/``, the language model as ``language.arpa.gz`` and, given a
network, ``am/final.mdl``; without one the network that is there stays.
"""

from __future__ import annotations

import argparse
import gzip
from pathlib import Path

from models.train.graphs import GraphBuilder, plain_of
from models.train.ngrams import KneserNey, Mixture, Trigrams
from models.train.pack import BASE
from models.train.texts import made, names, told, unlike
from narrator.hearing.pronounce import DICTIONARY, known, pronunciations
from narrator.paths import GRAMMARS

TOLD = 0.7
"""Share of what people told in the language model; chosen on narrations left out
(docs/measurements/hearing.md)."""
_CONF = {
    "mfcc.conf": "--use-energy=false --num-mel-bins=40 --num-ceps=40 --low-freq=20 --high-freq=7600 "
    "--allow-upsample=true --allow-downsample=true --dither=0",
    "model.conf": "--min-active=200 --max-active=1500 --beam=11.0 --lattice-beam=3.0 --acoustic-scale=1.0 "
    "--frame-subsampling-factor=3 --endpoint.silence-phones=1 --endpoint.rule2.min-trailing-silence=0.5 "
    "--endpoint.rule3.min-trailing-silence=1.0 --endpoint.rule4.min-trailing-silence=2.0",
}


def lexicon(sentences: list[str]) -> dict[str, list[list[str]]]:
    """Words of the trade's texts and common English ones, each with its pronunciations."""
    common = (GRAMMARS / "vocabulary" / "english" / "common.txt").read_text(encoding="utf-8").splitlines()
    words = {word for line in (*sentences, *names()) for word in line.split()}
    words |= {word for word in common if not word.startswith("#") and word.isascii() and known(word)}
    words |= set("abcdefghijklmnopqrstuvwxyz")
    said = {word: [list(way) for way in pronunciations(word)] for word in sorted(words)}
    return {word: ways for word, ways in said.items() if ways}


def main() -> None:
    """See the module."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("out", type=Path)
    parser.add_argument("--network", type=Path)
    parser.add_argument(
        "--without", type=Path, help="leave out sentences near to those of a folder of narrations"
    )
    given = parser.parse_args()
    if given.network:
        _write_network(given.network, given.out)
    said, other = told(), made(seed=1)
    if given.without:
        said, other = unlike(said, given.without), unlike(other, given.without)
    words = lexicon([*said, *other])
    model = Mixture(KneserNey(said, words), Trigrams(other, words), TOLD)
    GraphBuilder(BASE, words).write(given.out, model)
    (given.out / "language.arpa.gz").write_bytes(gzip.compress(model.arpa().encode(), mtime=0))
    (given.out / "conf").mkdir(exist_ok=True)
    for name, options in _CONF.items():
        (given.out / "conf" / name).write_text(options.replace(" ", "\n") + "\n")
    if given.out != DICTIONARY.parent:
        (given.out / DICTIONARY.name).write_bytes(DICTIONARY.read_bytes())
    size = sum(path.stat().st_size for path in given.out.rglob("*") if path.is_file())
    print(f"{len(words)} words, {len(model.states())} histories, {size / 1e6:.1f} MB")


def _write_network(file: Path, out: Path) -> None:
    """The network as Vosk reads it."""
    import torch  # noqa: PLC0415  (slow to load, and only needed for a new network)

    from models.train.export import write_model  # noqa: PLC0415
    from models.train.network import Network  # noqa: PLC0415

    network = Network(2 * len(BASE) ** 2)
    network.load_state_dict(torch.load(file, map_location="cpu"))
    (out / "am").mkdir(parents=True, exist_ok=True)
    write_model(network, plain_of(BASE), len(BASE), out / "am" / "final.mdl")


if __name__ == "__main__":
    main()
