"""Adds to a PACK of ``models.train.pack`` what tuning the dictation needs: ``python -m
models.train.dictation_pack PACK [--start WEIGHTS --start-decoder WEIGHTS]``.

``weights.npz`` (the bundled model's weights, ``e/`` of the encoder, ``d/`` of the decoder, and ``s/`` and
``t/`` of those that tuning starts from, if files as in ``models/dictation`` are given), ``tokens.json``
(its tokens, in Latin-1), ``written.json`` (what it writes of each recording of people, in their order).
"""

from __future__ import annotations

import argparse
import io
import json
import math
import tarfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import soundfile

from models.train.dictation_files import both, graph_of, weights
from narrator.hearing.moonshine_engine import END, START, TOKENS_A_SECOND, model_folder
from narrator.hearing.moonshine_model import DECODER, ENCODER, MoonshineModel
from narrator.values import SAMPLE_RATE

_EDGE = 4_000
"""Silence before and after, in samples."""


def written(network: MoonshineModel, pack: Path) -> Iterator[str]:
    """What the model writes of each recording."""
    rows = json.loads((pack / "clips.json").read_text(encoding="utf-8"))["real"]
    with tarfile.open(pack / "real.tar") as tar:
        for row in rows:
            file = tar.extractfile(row["file"])
            sound, _ = soundfile.read(
                io.BytesIO(file.read() if file else b""), dtype="float32", always_2d=True
            )
            yield _text(network, np.pad(sound[:, 0], (_EDGE, _EDGE)))


def _text(network: MoonshineModel, sound: np.ndarray) -> str:
    state, token, said = network.encode(sound), START, b""
    for _ in range(math.ceil(len(sound) / SAMPLE_RATE * TOKENS_A_SECOND)):
        token = int(network.step(state, token).argmax())
        if token == END:
            break
        said += network.tokens[token]
    return said.decode("utf-8", "ignore").replace("\u2581", " ").strip()


def main() -> None:
    """See the module."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("pack", type=Path)
    parser.add_argument("--start", type=Path, help="weights of the encoder to start from")
    parser.add_argument("--start-decoder", type=Path, help="weights of the decoder to start from")
    given = parser.parse_args()
    pack = given.pack
    folder = model_folder()
    if folder is None:
        raise SystemExit("moonshine-voice 0.0.49 is missing")
    encoder, decoder = both(folder)
    start, after = (
        weights(graph_of(folder / name), dict(np.load(file))) if file else {}
        for name, file in ((ENCODER, given.start), (DECODER, given.start_decoder))
    )
    arrays = {
        f"{part}/{name}": array
        for part, rows in (("e", encoder), ("d", decoder), ("s", start), ("t", after))
        for name, array in rows.items()
        if name != "proj_out.weight" and (part, name) != ("t", "embed_tokens.weight")  # stand there already
    }
    np.savez_compressed(
        pack / "weights.npz", **{name: array.astype(np.float16) for name, array in arrays.items()}
    )
    network = MoonshineModel(folder)
    (pack / "tokens.json").write_text(json.dumps([token.decode("latin-1") for token in network.tokens]))
    (pack / "written.json").write_text(json.dumps(list(written(network, pack))))


if __name__ == "__main__":
    main()
