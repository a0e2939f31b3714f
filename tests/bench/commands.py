"""How well spoken commands are heard: ``python -m tests.bench.commands [VOICE...]``.

Speaks one way of each command in each voice (sample_sessions/voices.py, and voices of flite and espeak-ng
where they are installed), in a quiet room and over workshop noise, lets the bundled recognizer hear it, and
counts how many are taken for the command that was said. Then counts false triggers in narrations' texts.
"""

from __future__ import annotations

import re
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path

import numpy as np
import soundfile
import soxr

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "sample_sessions"))

import noise  # noqa: E402
import voices  # noqa: E402

from narrator.hearing.recognizer import SegmentRecognizer, open_decoder  # noqa: E402
from narrator.live.commands import TextControl  # noqa: E402
from narrator.live.grammar import read_commands  # noqa: E402
from narrator.paths import GRAMMARS  # noqa: E402
from narrator.settings import Settings, default_home  # noqa: E402
from narrator.values import SAMPLE_RATE, AudioChunk, Utterance  # noqa: E402

SAID = {
    "begin_job": "begin job two thousand nine Ardenna Volo", "end_job": "end the job",
    "pause": "pause listening",
    "go_on": "continue listening", "strike_last": "strike that",
    "correct": "correct that to twelve point four volts",
    "mark": "mark this moment", "last_reading": "read back the last reading",
    "last_torque": "what was the last torque", "summary": "give me a summary",
    "still_open": "what is still open",
    "open_fasteners": "which bolts are still off", "help": "help",
}  # fmt: skip
OTHERS = {
    "slt": ["flite", "-voice", "slt"],
    "awb": ["flite", "-voice", "awb"],
    "en-gb": ["espeak-ng", "-v", "en-gb"],
}


def speak(text: str, voice: str) -> np.ndarray:
    """At 24 kHz and 0.07 rms."""
    if voice in voices.VOICES:
        return voices.speak(text, voice, 1.0)
    with tempfile.TemporaryDirectory() as folder:
        wave = Path(folder) / "line.wav"
        out = ["-o", str(wave)] if OTHERS[voice][0] == "flite" else ["-w", str(wave)]
        given = ["-t", text] if OTHERS[voice][0] == "flite" else [text]
        subprocess.run([*OTHERS[voice], *given, *out], check=True, capture_output=True)
        sound, rate = soundfile.read(wave, dtype="float32")
    sound = soxr.resample(sound, rate, voices.RATE).astype(np.float32)
    return sound * (0.07 / float(np.sqrt(np.mean(sound[np.abs(sound) > 0.02 * np.abs(sound).max()] ** 2))))


def hear(sound: np.ndarray, behind: str, seed: int, decoder: object) -> list[Utterance]:
    """What the recognizer makes of it; four seconds of room before, so that it knows the background."""
    padded = np.concatenate([np.zeros(4 * voices.RATE), sound, np.zeros(2 * voices.RATE)]).astype(np.float32)
    padded = padded + getattr(noise, behind)(len(padded), seed)
    at16 = soxr.resample(padded, voices.RATE, SAMPLE_RATE).astype(np.float32)
    recognizer = SegmentRecognizer(decoder)  # type: ignore[arg-type]
    heard = recognizer.accept(AudioChunk(at16, 0)) + recognizer.finish()
    return [one for one in heard if isinstance(one, Utterance)]


def narrated() -> list[str]:
    """The lines of the invented narrations, without their markings."""
    lines = []
    for path in sorted((ROOT / "models/understanding/narrations").glob("*.toml")):
        for line in tomllib.loads(path.read_text(encoding="utf-8"))["text"].splitlines():
            parts = line.split(" | ")
            if len(parts) > 1:
                lines.append(re.sub(r"\[([^\]]*)\]\{[^}]*\}", r"\1", parts[1]))
    return lines


def main() -> None:
    chosen = sys.argv[1:] or [*voices.VOICES, *OTHERS]
    commands = read_commands(GRAMMARS / "commands.jsgf")
    decoder = open_decoder(Settings(home=default_home()))
    print("| voice | quiet | workshop |\n|---|---|---|")
    for voice in chosen:
        row = []
        for behind in ("none", "workshop"):
            good = 0
            for seed, (name, words) in enumerate(SAID.items()):
                control = TextControl(commands)
                heard = hear(speak(f"{commands.attention[0]}, {words}", voice), behind, seed, decoder)
                found = [c.name for one in heard if (c := control.take(one)) and c.name != "attention"]
                good += found == [name]
                if found != [name]:
                    print(
                        f"  {voice} {behind}: {words!r} heard {[u.text for u in heard]} as {found}",
                        file=sys.stderr,
                    )
            row.append(f"{good} of {len(SAID)}")
        print(f"| {voice} | {row[0]} | {row[1]} |", flush=True)
    control = TextControl(commands)
    texts = narrated()
    false = [text for i, text in enumerate(texts) if control.take(Utterance(i, i * 7.0, i * 7 + 5, text))]
    print(f"false triggers in {len(texts)} narrated lines: {len(false)} {false[:5]}")


if __name__ == "__main__":
    main()
