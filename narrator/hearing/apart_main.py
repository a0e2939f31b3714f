"""The child process of ``apart``: loads an engine, decodes pieces from standard input until it ends.

A request is a head (first sample, number of samples, of frames, 1 for haste), the samples as float32 and the
frames' voice flags as bytes; an answer is its length and a JSON object.
"""

from __future__ import annotations

import json
import os
import signal
import struct
import sys
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np

from narrator.errors import NarratorError
from narrator.hearing.ahead import with_second_ear
from narrator.hearing.calls import CallEar
from narrator.hearing.early import open_early
from narrator.hearing.recognizer import Decoder, open_decoder
from narrator.hearing.segmenter import Segment
from narrator.settings import load_settings

PHRASES = "NARRATOR_PHRASES"
"""Environment variable with a JSON list of the commands that the ear of commands is to hear."""
EARLY, CALLS = "early", "calls"
"""Names that ask for the decoder of partial text, and for the ear of commands."""
HEAD = struct.Struct("<qiii")
LENGTH = struct.Struct("<I")


def main() -> None:
    """Serve one engine; arguments are its name and its model's folder or nothing."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent ends us by closing the pipe
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # what a library prints must not get among the answers
    model = Path(sys.argv[2]) if len(sys.argv) > 2 else None
    try:
        decoder = _opened(sys.argv[1], model)
    except NarratorError as error:
        _answer(answers, {"failed": error.message, "error": [error.code, error.message, error.remedy]})
        return
    except OSError as error:
        _answer(answers, {"failed": str(error)})
        return
    _answer(answers, {"name": decoder.name, "timing": decoder.timing})
    serve(decoder, sys.stdin.buffer, answers)


def _opened(name: str, model: Path | None) -> Decoder:
    if name == EARLY:
        return open_early()
    if name == CALLS:
        return CallEar(json.loads(os.environ[PHRASES]))
    return _engine(name, model)


def _engine(name: str, model: Path | None) -> Decoder:
    """The engine, with the second ear ahead of the first where both are there."""
    settings = load_settings()
    first = open_decoder(settings, name, model, second_ear=False)
    if not (settings.second_ear and first.name.startswith("moonshine")):
        return first
    return with_second_ear(first, settings.own_words) or first


def serve(decoder: Decoder, requests: BinaryIO, answers: BinaryIO) -> None:
    """Answer until the requests end."""
    while len(head := requests.read(HEAD.size)) == HEAD.size:
        first, samples, frames, haste = HEAD.unpack(head)
        used: Decoder = getattr(decoder, "first", decoder) if haste else decoder
        sound = np.frombuffer(requests.read(4 * samples), "<f4").astype(np.float32)
        voiced = np.frombuffer(requests.read(frames), np.bool_)
        try:
            words = used.decode(Segment(first, sound, voiced))
        except Exception as error:  # whatever an engine does must reach the parent in words
            _answer(answers, {"failed": f"{type(error).__name__}: {error}"})
            continue
        rows = [[word.word, word.start, word.end, word.conf, word.other, word.last] for word in words]
        _answer(answers, {"words": rows, "name": used.name, "timing": used.timing})


def _answer(answers: BinaryIO, row: dict[str, Any]) -> None:
    data = json.dumps(row).encode()
    answers.write(LENGTH.pack(len(data)) + data)
    answers.flush()


if __name__ == "__main__":
    try:
        main()
    except BrokenPipeError:  # the parent died
        os._exit(1)
