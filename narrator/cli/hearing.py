"""``narrator hear``: a sound file to utterances as JSON Lines."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TextIO

import click
from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

from narrator.errors import NarratorError
from narrator.hearing.hear import hear
from narrator.hearing.recognizer import open_recognizer
from narrator.hearing.source import FileSource
from narrator.settings import load_settings
from narrator.utterances import to_json
from narrator.values import AudioChunk, Gap, Utterance


@click.command()
@click.argument("sound", type=click.Path(path_type=Path))
@click.option(
    "--engine", help="Recognizer: auto, moonshine, vosk or whisper. By default that of the settings."
)
@click.option("--model", type=click.Path(path_type=Path), help="Folder of the model to use.")
@click.option("--second-ear/--no-second-ear", default=None, help="Listen with the second ear too, or not.")
@click.option("--out", type=click.Path(path_type=Path), help="Write to this file, not to standard output.")
def command(
    sound: Path, engine: str | None, model: Path | None, second_ear: bool | None, out: Path | None
) -> None:
    """Turn a sound file into utterances, one JSON object a line.

    WAV, FLAC, Ogg (Vorbis, Opus) and MP3 of any rate and length. Each line is printed as soon as it is known.
    When the file turns out to be cut short or damaged, what was there is printed first.
    """
    source = FileSource(sound)
    recognizer = open_recognizer(load_settings(), engine, model, second_ear=second_ear)
    count = 0
    with _output(out, sound) as file, _progress(source) as watched:
        for heard in hear(watched, recognizer):
            if isinstance(heard, Utterance):
                count += 1
                file.write(json.dumps(to_json(heard), ensure_ascii=False) + "\n")
                file.flush()
    if count == 0:
        click.echo(f"No speech was found in {sound}.", err=True)
    if recognizer.unheard >= 1.0:
        click.echo(f"{recognizer.unheard:.0f} s sounded like speech but gave no words.", err=True)


@contextmanager
def _output(out: Path | None, sound: Path) -> Iterator[TextIO]:
    if out is None:
        try:
            yield sys.stdout
        except BrokenPipeError:  # the reader has seen enough
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return
    if out.exists() and out.samefile(sound):
        raise NarratorError("E108", path=out)
    try:
        file = out.open("w", encoding="utf-8")
        with file:
            yield file
    except OSError as error:
        raise NarratorError("E107", path=out, why=error.strerror or error) from error


class _Watched:
    """The source, telling a progress bar how far it has been read."""

    def __init__(self, source: FileSource, bar: Progress) -> None:
        self._source = source
        self._bar = bar

    def __iter__(self) -> Iterator[AudioChunk | Gap]:
        task = self._bar.add_task("listening", total=self._source.seconds)
        for block in self._source:
            if isinstance(block, AudioChunk):
                self._bar.advance(task, len(block.samples) / 16_000)
            yield block


@contextmanager
def _progress(source: FileSource) -> Iterator[_Watched]:
    """A bar on standard error, where that is a terminal."""
    console = Console(stderr=True)
    columns = (TextColumn("{task.description}"), BarColumn(), TextColumn("{task.percentage:>3.0f}%"))
    bar = Progress(
        *columns, TimeRemainingColumn(), console=console, transient=True, disable=not console.is_terminal
    )
    with bar:
        yield _Watched(source, bar)
