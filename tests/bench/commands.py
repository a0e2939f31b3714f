"""How well spoken commands are heard: ``python -m tests.bench.commands [--voices V] [--false SOUND]``.

Speaks two ways of each command in each voice, quiet and over noise at 10 dB, and takes it the way of
``narrator listen`` (voice detector, dictation with both ears, text and ear of commands). Counted: the command
that was said, by the text alone and with the ear. The thresholds were chosen on the voices ``TUNED`` of
models/train/voices.py; ``REPORTED`` are those that nothing was chosen on.

With ``--false``, sound files or folders of them are heard the same way instead (``--noisy``: over noise at
10 dB), and every command is a false one. ``--quick`` dictates with both ears only pieces in which the ear of
commands, which hears all, tells a command that may be taken, or a greedy reading with one ear has words
somewhat like the attention phrase; ``--ear-first`` leaves out that greedy reading, and with it what the text
alone would take.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray

from models.train.voices import REPORTED
from narrator.hearing import moonshine_engine
from narrator.hearing.calls import CallEar
from narrator.hearing.control import AROUND_S, SURE_SECONDED
from narrator.hearing.live import LiveRecognizer
from narrator.hearing.recognizer import Decoder, open_decoder
from narrator.hearing.segmenter import Segment
from narrator.hearing.voice import FRAME
from narrator.live.commands import TextControl, plain_words
from narrator.live.grammar import read_commands
from narrator.paths import GRAMMARS
from narrator.phonetics import likeness
from narrator.settings import Settings, default_home
from narrator.values import SAMPLE_RATE, AudioChunk, Utterance, Word
from tests.bench.spoken import noisy, own_noises, spoken

SAID = {
    "begin_job": ("begin job two thousand nine Ardenna Volo", "start a new job brown farm trailer"),
    "end_job": ("end the job", "close the ticket"),
    "pause": ("pause listening", "take a break"),
    "go_on": ("continue listening", "carry on"),
    "strike_last": ("strike that", "delete the last remark"),
    "correct": ("correct that to twelve point four volts", "make that eight bolts"),
    "mark": ("mark this moment", "flag that"),
    "last_reading": ("read back the last reading", "what was the last reading"),
    "last_torque": ("what was the last torque", "repeat the last torque"),
    "summary": ("give me a summary", "sum up"),
    "still_open": ("what is still open", "what's left"),
    "open_fasteners": ("which bolts are still off", "name the open fasteners"),
    "help": ("help", "list commands"),
}
Sound = NDArray[np.float32]
NOTHING = "nothing"
"""What ``Quick`` writes for what it left out."""
_NEAR = 0.7
"""A quick reading as like the attention phrase as this is dictated with care."""


def heard(
    sound: Sound, decoder: object, ear: object, whole: Callable[[str], bool]
) -> Iterator[tuple[Utterance, Sound]]:
    """Utterances of a sound, each with its own and a little around it, as ``narrator listen`` has them."""
    recognizer = LiveRecognizer(decoder, calls=ear, whole=whole, busy=lambda: True)  # type: ignore[arg-type]
    for one in recognizer.accept(AudioChunk(sound, 0)) + recognizer.finish():
        if isinstance(one, Utterance):
            first, last = max(0.0, one.start - AROUND_S), one.end + AROUND_S
            yield one, sound[round(first * SAMPLE_RATE) : round(last * SAMPLE_RATE)]


def right(control: TextControl, name: str, pieces: list[tuple[Utterance, Sound]]) -> bool:
    """Whether the command and no other was taken."""
    found = [c.name for one, own in pieces if (c := control.take(one, lambda own=own: own))]  # type: ignore[misc]
    return [n for n in found if n != "attention"] == [name]


def recognition(voices: list[str], cache: Path, noises: list[Sound]) -> None:
    commands = read_commands(GRAMMARS / "commands.jsgf")
    ear, decoder = CallEar(commands.calls()), open_decoder(Settings(home=default_home()))
    print("| voice | quiet, text | quiet, with ear | 10 dB, text | 10 dB, with ear |\n|---|---|---|---|---|")
    sums = np.zeros(4, int)
    said = [(name, way) for name, ways in SAID.items() for way in ways]
    for voice in voices:
        counts = np.zeros(4, int)
        for number, (name, way) in enumerate(said):
            line = spoken(f"{commands.attention[0]}, {way}", voice, cache)
            line = np.concatenate([np.zeros(3 * SAMPLE_RATE), line, np.zeros(SAMPLE_RATE)]).astype(np.float32)
            for column, ratio in ((0, None), (2, 10.0)):
                sound = noisy(line, ratio, noises, number)
                pieces = list(heard(sound, decoder, ear, TextControl(commands).may_call))
                both = right(TextControl(commands, ear), name, pieces)
                by_text = [piece for piece in pieces if piece[0].engine != ear.name]
                counts[column] += right(TextControl(commands), name, by_text)
                counts[column + 1] += both
                if not both:
                    print(
                        f"  {voice} {ratio or 'quiet'}: {way!r} heard {[u.text for u, _ in pieces]}",
                        flush=True,
                    )
        sums += counts
        print(f"| {voice} | " + " | ".join(f"{n} of {len(said)}" for n in counts) + " |", flush=True)
    print("| together | " + " | ".join(f"{100 * n / len(said) / len(voices):.1f} %" for n in sums) + " |")


class Quick:
    """Dictates with both ears only where a quick reading has words like the attention phrase (``reads``), or
    when asked ``again``; elsewhere it gives a word that is no command. ``left`` keeps what it left out by
    its start in seconds, to be emptied before another sound."""

    name, timing = "quick", "estimated"

    def __init__(self, decoder: object, attention: tuple[str, ...], *, reads: bool) -> None:
        self._decoder, self._attention = decoder, attention
        self._quick = (
            moonshine_engine.open_decoder(Settings(home=default_home()), steered=False) if reads else None
        )
        self.left: dict[float, Segment] = {}

    def decode(self, segment: Segment) -> list[Word]:
        if not self._near(segment):
            start, end = segment.spoken()
            self.left[start] = segment
            return [Word(NOTHING, start, end)]
        return self._carefully(segment)

    def again(self, one: Utterance) -> Utterance:
        """The utterance as both ears dictate it."""
        words = self._carefully(self.left[one.start])
        return Utterance(one.id, one.start, one.end, " ".join(word.word for word in words), tuple(words))

    def _carefully(self, segment: Segment) -> list[Word]:
        words: list[Word] = self._decoder.decode(segment)  # type: ignore[attr-defined]
        return words

    def _near(self, segment: Segment) -> bool:
        if self._quick is None:
            return False
        words = plain_words(" ".join(word.word for word in self._quick.decode(segment)))
        rows = ["".join(words[at : at + n]) for at in range(len(words)) for n in (1, 2, 3)]
        return any(likeness(row, way.replace(" ", "")) > _NEAR for row in rows for way in self._attention)


def sure(ear: Decoder, sound: Sound) -> bool:
    """Whether the ear of commands tells one that may be taken, whatever is written."""
    heard = ear.decode(Segment(0, sound, np.ones(len(sound) // FRAME, np.bool_)))
    return any((word.conf or 0.0) >= SURE_SECONDED for word in heard)


def false_ones(
    paths: list[Path], every: tuple[int, int], noises: list[Sound], *, quick: bool, reads: bool
) -> None:
    commands = read_commands(GRAMMARS / "commands.jsgf")
    ear = CallEar(commands.calls())
    both = open_decoder(Settings(home=default_home()))
    hasty = Quick(both, commands.attention, reads=reads) if quick else None
    control = TextControl(commands, ear)
    files = [f for path in paths for f in (sorted(path.rglob("*.*")) if path.is_dir() else [path])]
    seconds, pieces, near, found, began = 0.0, 0, 0, 0, time.monotonic()
    for number, path in enumerate(files[every[0] :: every[1]]):
        if path.suffix not in (".flac", ".wav", ".ogg", ".opus", ".mp3"):
            continue
        sound, rate = soundfile.read(path, dtype="float32", always_2d=True)
        sound = np.asarray(soxr.resample(sound.mean(1), rate, SAMPLE_RATE), np.float32)
        quiet = np.zeros(SAMPLE_RATE, np.float32)
        seconds += len(sound) / SAMPLE_RATE
        sound = np.concatenate([quiet, sound, quiet])
        if noises:  # another one for the same voice each time round
            sound = noisy(sound, 10.0, noises, number + number // len(noises))
        if hasty:
            hasty.left.clear()
        for first, own in heard(sound, hasty or both, ear, control.may_call):
            pieces += 1
            one = first
            if hasty and one.text == NOTHING:
                if not sure(ear, own):
                    continue
                near += 1
                one = hasty.again(first)
                print(f"  {path.name} {one.start:.1f}: the ear told one, dictated {one.text!r}", flush=True)
            if command := control.take(one, lambda own=own: own):  # type: ignore[misc]
                found += 1
                print(f"  {path.name}: {one.text!r} taken for {command}", flush=True)
        if number % 10 == 9:
            print(
                f"  {number + 1} files, {seconds / 3600:.2f} h, {time.monotonic() - began:.0f} s", flush=True
            )
    print(f"{found} false commands in {pieces} utterances, {seconds / 3600:.2f} h of sound")
    if hasty:
        print(f"in {near} of the utterances the ear of commands told one that might be taken")


def main() -> None:
    """See the module."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--voices", nargs="+", default=list(REPORTED))
    parser.add_argument("--cache", type=Path, default=Path("out/spoken"))
    parser.add_argument("--false", nargs="+", type=Path)
    parser.add_argument("--part", nargs=2, type=int, default=(0, 1), metavar=("N", "OF"))
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--ear-first", action="store_true")
    parser.add_argument("--noisy", action="store_true")
    parser.add_argument("--noises", type=Path, help="folder of 16 kHz noises; the project's own by default")
    given = parser.parse_args()
    files = sorted(given.noises.glob("*.flac")) if given.noises else []
    noises = [soundfile.read(file, dtype="float32")[0] for file in files] or own_noises()
    if given.false:
        quick, reads = given.quick or given.ear_first, given.quick and not given.ear_first
        false_ones(given.false, tuple(given.part), noises if given.noisy else [], quick=quick, reads=reads)
    else:
        recognition(given.voices, given.cache, noises)


if __name__ == "__main__":
    main()
