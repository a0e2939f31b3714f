"""Packs everything that training needs into one folder that can travel: ``python -m models.train.pack
SPEECH SYNTH OUT``.

SPEECH is a folder of real recordings with ``manifest.jsonl`` (``file``, ``text`` or ``raw_text``), SYNTH what
``models.train.speech`` wrote. OUT gets ``real.tar`` (the recordings as they are), ``synthetic.opus`` (all
synthetic clips in a row), ``clips.json`` (source, place and words of every clip), ``lexicon.json`` (phone
numbers of every word), and ``trunk.npz`` (the hidden layers that training starts from, of the small Korean
Vosk model).
"""

from __future__ import annotations

import argparse
import json
import random
import subprocess
import tarfile
from pathlib import Path
from typing import Any

import numpy as np
import soundfile

from models.train.texts import in_words, unlike
from narrator.hearing.kaldi_model import read_network
from narrator.hearing.pronounce import PHONES, pronunciations
from narrator.values import SAMPLE_RATE

BASE = ("SIL", "SPN", *PHONES)
"""Names of the phones by number."""
LONGEST_S = 17.0
_SPELLINGS = {"mr": "mister", "mrs": "missus", "dr": "doctor", "st": "saint"}


def real_clips(folder: Path) -> list[dict[str, Any]]:
    """Rows of the recordings: file, words, seconds, speaker; over-long ones left out."""
    rows = []
    for line in (folder / "manifest.jsonl").read_text(encoding="utf-8").splitlines():
        row = json.loads(line)
        words = [_SPELLINGS.get(word, word) for word in in_words(row.get("raw_text") or row["text"]).split()]
        if words and row["seconds"] <= LONGEST_S:
            rows.append({"file": row["file"], "text": " ".join(words), "voice": row["speaker"]})
    return rows


def synthetic_clips(
    folder: Path, out: Path, kilobits: int, without: Path | None, fewer: dict[str, float]
) -> list[dict[str, Any]]:
    """Join and compress the synthetic clips; rows of first sample, samples, words, voice.

    Left out are those near to the narrations in ``without`` and all but a share of the tools in ``fewer``.
    """
    rows, at = [], 0
    rng = random.Random(7)
    joined = out / "synthetic.wav"
    with soundfile.SoundFile(joined, "w", SAMPLE_RATE, 1, "PCM_16") as file:
        for listing in sorted(folder.glob("speech-*.json")):
            sound, _ = soundfile.read(listing.with_suffix(".wav"), dtype="int16")
            spoken = json.loads(listing.read_text(encoding="utf-8"))
            wanted = {text for _, _, text, _ in spoken}
            if without:
                wanted = set(unlike(sorted(wanted), without))
            for first, samples, text, voice in spoken:
                if text in wanted and rng.random() < fewer.get(voice.split(":")[0], 1.0):
                    rows.append({"first": at, "samples": samples, "text": text, "voice": voice})
                    file.write(sound[first : first + samples])
                    at += samples
    target = out / "synthetic.opus"
    subprocess.run(
        ["opusenc", "--quiet", "--bitrate", str(kilobits), "--framesize", "60", joined, target], check=True
    )
    joined.unlink()
    return rows


def main() -> None:
    """See the module."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("speech", type=Path)
    parser.add_argument("synthetic", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--trunk", type=Path, required=True, help="am/final.mdl of the small Korean model")
    parser.add_argument("--kilobits", type=int, default=13)
    parser.add_argument("--without", type=Path, help="leave out clips near to a folder of narrations")
    parser.add_argument("--fewer", nargs="*", default=[], help="take a share of a tool's clips: espeak=0.5")
    given = parser.parse_args()
    given.out.mkdir(parents=True, exist_ok=True)
    fewer = {tool: float(share) for tool, _, share in (one.partition("=") for one in given.fewer)}
    real = real_clips(given.speech)
    with tarfile.open(given.out / "real.tar", "w") as tar:
        for row in real:
            tar.add(given.speech / row["file"], row["file"])
    synthetic = synthetic_clips(given.synthetic, given.out, given.kilobits, given.without, fewer)
    words = sorted({word for row in (*real, *synthetic) for word in row["text"].split()})
    number = {name: i for i, name in enumerate(BASE)}
    lexicon = {word: [[number[p] for p in said] for said in pronunciations(word)] for word in words}
    clips = {"real": real, "synthetic": synthetic}
    (given.out / "clips.json").write_text(json.dumps(clips), encoding="utf-8")
    (given.out / "lexicon.json").write_text(json.dumps(lexicon), encoding="utf-8")
    _, parts = read_network(given.trunk.read_bytes())
    arrays = {
        f"{name}/{key}": value.astype(np.float16) if value.size > 1000 else value
        for name, fields in parts.items()
        for key, value in fields.items()
        if isinstance(value, np.ndarray)
        and value.dtype == np.float32
        and "Deriv" not in key
        and "ValueAvg" not in key
    }
    np.savez_compressed(given.out / "trunk.npz", **arrays)
    print(f"{len(real)} recordings, {len(synthetic)} synthetic clips, {len(words)} words")


if __name__ == "__main__":
    main()
