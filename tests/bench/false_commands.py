"""How many commands are heard in talk without any: ``python -m tests.bench.false_commands TEXTS --out FILE``.

TEXTS are talks or folders of them (``*.txt``, a line an utterance, or ``*.jsonl`` with a ``text`` a line).
Each is read out in another voice, a second of pause between the lines, and taken the way of ``narrator
listen``: voice detector, dictation by both ears, text and ear of commands. Every second talk is quiet, the
others are over a recorded noise (``--noises``) and one made by the project in turn, at 10 dB. Every command
is a false one.

Each talk becomes a row of FILE as soon as it is heard, with all that the ear of commands told of it, so that
a stop at any time gives a figure (``--figure`` prints it from FILE alone) and the next call goes on.
``--again`` takes the utterances of FILE by the rules as they are now, from what was dictated and told then.
``--quick`` dictates with both ears only pieces in which the ear of commands, which hears all, tells a command
that may be taken, or a greedy reading by one ear has words somewhat like the attention phrase; with
``--ear-first`` only the former, which leaves out what the text alone would take.
"""

from __future__ import annotations

import argparse
import json
import random
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, Literal

import numpy as np
import soundfile

from models.train.voices import TRAINED
from narrator.hearing.calls import CallEar
from narrator.hearing.control import Command
from narrator.hearing.recognizer import open_decoder
from narrator.hearing.segmenter import Segment
from narrator.live.commands import TextControl
from narrator.live.grammar import Commands, read_commands
from narrator.paths import GRAMMARS
from narrator.settings import Settings, default_home
from narrator.values import SAMPLE_RATE, Utterance, Word
from tests.bench.commands import NOTHING, Quick, Sound, heard, sure
from tests.bench.narrated import narrated
from tests.bench.spoken import noisy, own_noises

SNR = 10.0
BOTH, QUICK, EAR_FIRST = "both ears", "quick", "ear first"
"""How talks are heard."""
NO_COMMAND = ("attention", "not_understood")
_OTHERS = (
    "flite:awb", "flite:kal", "pico:en-GB", "pico:en-US", "hibari:heart",
    *(f"rhvoice:{name}" for name in ("alan", "bdl", "clb", "evgeniy-eng", "lyubov", "slt")),
    *(f"espeak:{name}" for name in (
        "en-us+f2 en-us+anika en-us+Gene2 en-us+Henrique en-us+Storm en-us+antonio en-us+pedro "
        "en-us+iven2 en-us+steph3 en-us+iven4 en-us+klatt3 en-us+anikaRobot en-us+announcer "
        "en-us+RicishayMax en+Michael en+Diogo en+gustave en+iven3 en+kaukovalta "
        "en+steph2 en+RicishayMax2 en-gb-scotland+edward2 en-gb-x-rp+klatt4 en-029+serious"
    ).split()),
)  # fmt: skip
"""Voices on which the second ear was not trained."""
VOICES = (*_OTHERS, *dict.fromkeys(voice for voice in TRAINED if not voice.startswith("kokoro:")))
"""All but kokoro's, which speak slowly."""
Row = dict[str, Any]


class Noted:
    """The ear of commands, noting in ``told`` what it told of each sound that it was given."""

    name: str = CallEar.name
    timing: Literal["aligned", "estimated"] = CallEar.timing

    def __init__(self, ear: CallEar) -> None:
        self._ear = ear
        self.told: list[list[Any]] = []

    def decode(self, segment: Segment) -> list[Word]:
        """See ``Decoder``."""
        words = self._ear.decode(segment)
        if words:
            self.told.append([len(segment.samples), [word_row(word) for word in words]])
        return words


class Repeated:
    """Tells what ``Noted`` noted in ``told``, by the length of the sound."""

    name: str = CallEar.name
    timing: Literal["aligned", "estimated"] = CallEar.timing

    def __init__(self) -> None:
        self.told: list[list[Any]] = []

    def decode(self, segment: Segment) -> list[Word]:
        """See ``Decoder``."""
        told: list[Row] = next((rows for count, rows in self.told if count == len(segment.samples)), [])
        return [Word(**row) for row in told]


def word_row(word: Word) -> Row:
    """A word as it is kept, without what it does not have."""
    row = {name: getattr(word, name) for name in ("word", "start", "end", "conf", "other")}
    return {name: value for name, value in row.items() if value is not None}


def talks(paths: Sequence[Path]) -> list[Path]:
    """The files, in an order drawn at random, always the same."""
    found = [f for path in paths for f in (sorted(path.iterdir()) if path.is_dir() else [path])]
    found = [f for f in found if f.suffix in (".txt", ".jsonl")]
    random.Random(26).shuffle(found)
    return found


def lines_of(path: Path) -> list[str]:
    """What is said in a talk, line by line."""
    rows = [row for row in path.read_text(encoding="utf-8").splitlines() if row.strip()]
    return [json.loads(row)["text"] for row in rows] if path.suffix == ".jsonl" else rows


def levels(recorded: list[Sound]) -> Iterator[tuple[str, list[Sound]]]:
    """What is behind one talk after the other."""
    made = own_noises()
    while True:
        yield "quiet", []
        yield ("recorded", recorded) if recorded else ("made", made)
        yield "quiet", []
        yield "made", made


class Listener:
    """Hears talks as ``narrator listen`` does, or quickly."""

    def __init__(self, how: str) -> None:
        self._how = how
        self.commands = read_commands(GRAMMARS / "commands.jsgf")
        self._ear = Noted(CallEar(self.commands.calls()))
        self._both = open_decoder(Settings(home=default_home()))
        quick = Quick(self._both, self.commands.attention, reads=how == QUICK)
        self._quick = None if how == BOTH else quick

    def row(self, lines: list[str], voice: str, number: int, noises: list[Sound]) -> Row:
        """What was heard of a talk in a voice over one of the noises."""
        sound = narrated(lines, voice, number)
        if noises:
            sound = noisy(sound, SNR, noises, number // 4)
        control, utterances, found = TextControl(self.commands, self._ear), [], []
        command: Command | None = None
        for one, own in self._heard(sound):
            self._ear.told = []
            called = command is not None and command.name == "attention"
            command = None
            if (dictated := self._with_care(one, own, called=called)) is not None:
                command = control.take(dictated, lambda own=own: own)  # type: ignore[misc]
            words = dictated.words if dictated else ()
            utterances.append([[word_row(word) for word in words], one.engine, len(own), self._ear.told])
            if command and dictated:
                found.append([command.name, dictated.text])
        seconds = len(sound) / SAMPLE_RATE
        return {"how": self._how, "seconds": seconds, "utterances": utterances, "found": found}

    def _heard(self, sound: Sound) -> Iterator[tuple[Utterance, Sound]]:
        if self._quick:
            self._quick.left.clear()
        return heard(sound, self._quick or self._both, self._ear, TextControl(self.commands).may_call)

    def _with_care(self, one: Utterance, own: Sound, *, called: bool) -> Utterance | None:
        """The utterance as both ears dictate it, or None where that was left out and is not needed."""
        if self._quick is None or one.text != NOTHING:
            return one
        return self._quick.again(one) if called or sure(self._ear, own) else None


def again(row: Row, commands: Commands) -> list[list[str]]:
    """Commands that are taken in a talk that was heard before."""
    ear, found = Repeated(), []
    control = TextControl(commands, ear)
    for number, (rows, engine, samples, ear.told) in enumerate(row["utterances"]):
        if not rows:
            continue
        words = tuple(Word(**word) for word in rows)
        text = " ".join(word.word for word in words)
        one = Utterance(number, words[0].start, words[-1].end, text, words, engine=engine)
        if command := control.take(one, lambda n=samples: np.zeros(n, np.float32)):  # type: ignore[misc]
            found.append([command.name, one.text])
    return found


def figure(rows: Sequence[Row]) -> Iterator[str]:
    """False commands by what was behind the talk, and together. The attention phrase alone, or with nothing
    that is a command behind it, does nothing and is counted by itself."""
    cells = dict.fromkeys((row["level"], row["how"]) for row in rows)
    for level, how in (*cells, ("together", "")):
        some = [row for row in rows if not how or (level, how) == (row["level"], row["how"])]
        names = [name for row in some for name, _ in row["found"]]
        calls = sum(name in NO_COMMAND for name in names)
        seconds, utterances = (sum(counts) for counts in zip(*sizes(some), strict=True))
        yield (
            f"{f'{level} {how}':>18}: {len(names) - calls} false commands, {calls} times the phrase alone; "
            f"{seconds / 3600:.2f} h of sound, {utterances} utterances, {len(some)} talks, "
            f"{len({row['voice'] for row in some})} voices"
        )


def sizes(rows: Sequence[Row]) -> list[tuple[float, int]]:
    """Seconds and utterances of the talks."""
    return [(row["seconds"], len(row["utterances"])) for row in rows]


def kept(file: Path) -> list[Row]:
    """The rows heard so far."""
    return [json.loads(row) for row in file.read_text("utf-8").splitlines()] if file.exists() else []


def listened(
    paths: Sequence[Path],
    file: Path,
    voices: Sequence[str],
    recorded: list[Sound],
    hours: float,
    how: str,
) -> None:
    """Hear talks until there are so many hours of them in the file."""
    rows, listener = kept(file), Listener(how)
    known, seconds = {row["talk"] for row in rows}, sum(row["seconds"] for row in rows)
    for number, (path, (level, noises)) in enumerate(zip(talks(paths), levels(recorded), strict=False)):
        if seconds >= 3600 * hours:
            break
        if path.stem in known:
            continue
        voice = voices[number % len(voices)]
        row = {"talk": path.stem, "voice": voice, "level": level}
        row |= listener.row(lines_of(path), voice, number, noises)
        with file.open("a", encoding="utf-8") as out:
            out.write(json.dumps(row) + "\n")
        seconds += row["seconds"]
        print(f"{seconds / 3600:.2f} h, {path.stem} {voice} {level} {row['found'] or ''}", flush=True)


def main() -> None:
    """See the module."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("texts", type=Path, nargs="*")
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--voices", nargs="+", default=list(VOICES))
    parser.add_argument("--hours", type=float, default=8.0)
    parser.add_argument("--noises", type=Path, help="folder of recorded 16 kHz noises")
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--ear-first", action="store_true")
    parser.add_argument("--figure", action="store_true")
    parser.add_argument("--again", action="store_true")
    given = parser.parse_args()
    if not (given.figure or given.again):
        how = EAR_FIRST if given.ear_first else QUICK if given.quick else BOTH
        files = sorted(given.noises.glob("*.flac")) if given.noises else []
        recorded = [soundfile.read(file, dtype="float32")[0] for file in files]
        listened(given.texts, given.out, given.voices, recorded, given.hours, how)
    rows = kept(given.out)
    if given.again:
        commands = read_commands(GRAMMARS / "commands.jsgf")
        rows = [{**row, "found": again(row, commands)} for row in rows]
    for row in rows:
        for name, text in row["found"]:
            print(f"{row['talk']} {row['voice']} {row['level']}: {name} for {text!r}")
    print("\n".join(figure(rows)))


if __name__ == "__main__":
    main()
