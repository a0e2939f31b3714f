"""How fast and how well the program hears and understands, measured through its own commands.

Every figure of hearing and of whole sessions comes from a fresh process, so that its time holds the start-up
and its memory is its own. Understanding alone is also timed inside this process, after loading.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import soundfile

from narrator.errors import NarratorError
from narrator.job.compile import compile_record
from narrator.language import Reader
from narrator.paths import SAMPLE_SESSIONS
from narrator.utterances import parse_lines, to_json
from narrator.values import Utterance
from narrator.wording import plain_words, word_errors

_COMMAND = (sys.executable, "-c", "from narrator.cli import main; main()")
_BLOCK = 1 << 18


@dataclass(frozen=True, slots=True)
class Run:
    """One command's cost: wall and processor seconds, peak memory in MiB (None if unknown), its output."""

    seconds: float
    cpu: float
    peak: float | None
    output: str


@dataclass(frozen=True, slots=True)
class Hearing:
    """Hearing one sound: ``rtf`` is wall seconds, ``cpu_rtf`` processor seconds, for one second of sound.

    ``wer`` is the word error rate against the known text, None where the text is not known.
    """

    sound: str
    engine: str
    audio: float
    utterances: int
    rtf: float
    cpu_rtf: float
    peak: float | None
    wer: float | None
    words: int


@dataclass(frozen=True, slots=True)
class Understanding:
    """Compiling a session: in a fresh process (``seconds``, ``peak``), and utterances/s when loaded."""

    hours: float
    utterances: int
    seconds: float
    peak: float | None
    per_second: float


def samples() -> list[Path]:
    """Folders of the sample sessions."""
    return sorted(path.parent for path in SAMPLE_SESSIONS.glob("*/sound.opus"))


def run_command(*arguments: str) -> Run:
    """Run a narrator command in a process of its own.

    Raises:
        NarratorError: E810 when the command fails, with what it said.
    """
    with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
        began = time.perf_counter()
        child = subprocess.Popen([*_COMMAND, *arguments], stdout=out, stderr=err)
        cpu, peak = _wait(child)
        seconds = time.perf_counter() - began
        if child.returncode:
            err.seek(0)
            why = err.read().decode("utf-8", "replace").strip().splitlines()
            raise NarratorError("E810", command=" ".join(arguments), why=" ".join(why[:2]))
        out.seek(0)
        return Run(seconds, cpu if cpu is not None else seconds, peak, out.read().decode("utf-8"))


def _wait(child: subprocess.Popen[bytes]) -> tuple[float | None, float | None]:
    """Processor seconds and peak MiB of a child, where the system tells them."""
    if not hasattr(os, "wait4"):
        child.wait()
        return None, None
    _, status, usage = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    unit = 1 << 20 if sys.platform == "darwin" else 1 << 10
    return usage.ru_utime + usage.ru_stime, usage.ru_maxrss / unit


def hear(sound: Path, engine: str, said: list[Utterance] | None = None) -> Hearing:
    """Hear one sound file with one engine; with the text that was said, count the errors."""
    audio = soundfile.info(sound).duration
    run = run_command("hear", str(sound), "--engine", engine)
    heard = list(parse_lines(run.output.splitlines()))
    truth = _words(said or [])
    wer = word_errors(truth, _words(heard)) / len(truth) if truth else None
    name = sound.parent.name if said else sound.stem
    return Hearing(
        name, engine, audio, len(heard), run.seconds / audio, run.cpu / audio, run.peak, wer, len(truth)
    )


def hear_sample(folder: Path, engine: str) -> Hearing:
    """Hear a sample session, whose text is known."""
    return hear(folder / "sound.opus", engine, _said(folder))


def hear_long(hours: float, engine: str) -> Hearing:
    """Hear the sample sessions over and over for ``hours``, from one file that is made for it and removed."""
    with tempfile.TemporaryDirectory() as folder:
        sound = Path(folder) / f"{hours:g} h.flac"
        _write_long(sound, hours)
        return hear(sound, engine)


def _write_long(path: Path, hours: float) -> None:
    rate = soundfile.info(samples()[0] / "sound.opus").samplerate
    left = int(hours * 3600 * rate)
    with soundfile.SoundFile(path, "w", rate, 1, subtype="PCM_16") as out:
        while left > 0:
            for folder in samples():
                for block in soundfile.blocks(folder / "sound.opus", _BLOCK, dtype="int16"):
                    out.write(block[:left])
                    left -= min(left, len(block))


def compile_long(hours: float) -> Understanding:
    """Compile the sample sessions' utterances, one after the other, over and over for ``hours``."""
    session = list(_long_session(hours))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "utterances.jsonl"
        path.write_text("".join(json.dumps(to_json(one)) + "\n" for one in session), encoding="utf-8")
        run = run_command("compile", str(path))
    return Understanding(hours, len(session), run.seconds, run.peak, understanding_speed(session))


def understanding_speed(session: list[Utterance]) -> float:
    """Utterances a second, understood and compiled in this process once everything is loaded."""
    compile_record(Reader().read(session[:50]))
    began = time.perf_counter()
    compile_record(Reader().read(session))
    return len(session) / (time.perf_counter() - began)


def _long_session(hours: float) -> Iterator[Utterance]:
    number, shift = 0, 0.0
    while True:
        for folder in samples():
            said = _said(folder)
            for one in said:
                if shift + one.end > hours * 3600:
                    return
                number += 1
                yield replace(one, id=number, start=one.start + shift, end=one.end + shift)
            shift += said[-1].end + 2.0


def _said(folder: Path) -> list[Utterance]:
    return list(parse_lines((folder / "utterances.jsonl").read_text(encoding="utf-8").splitlines()))


def _words(utterances: list[Utterance]) -> list[str]:
    return [word for one in utterances for word in plain_words(one.text)]
