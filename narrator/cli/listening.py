"""``narrator listen``: live, hands-free, for a whole day."""

from __future__ import annotations

import importlib.util
import json
import signal
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType

import click
from filelock import FileLock, Timeout
from rich.console import Console
from rich.live import Live

from narrator.cli.screen import Screen
from narrator.cli.terminal import clock
from narrator.errors import NarratorError
from narrator.hearing.apart import TendedDecoder, open_apart, open_calls_apart, open_early_apart
from narrator.hearing.capture import Capture
from narrator.hearing.device import Device
from narrator.hearing.portaudio import PortAudio
from narrator.hearing.replay import Replay
from narrator.language.shop_words import read_shop_words
from narrator.live.commands import TextControl
from narrator.live.grammar import Commands, grammar_path, read_commands
from narrator.live.recover import RecoveredSession, recover_sessions
from narrator.live.retention import delete_old_sound
from narrator.live.session import LiveOptions, LiveSession
from narrator.live.speech import PiperSpeaker
from narrator.live.taping import minutes_left
from narrator.live.understander import Apart
from narrator.live.view import View
from narrator.live.voice import OwnSound, Voice
from narrator.session import end_broken_off
from narrator.settings import Settings, load_settings
from narrator.store import Writer
from narrator.store.alive import LISTENING
from narrator.store.opening import coded
from narrator.utterances import to_json

_LOOKED_AT = 1.0
"""Seconds to wait for the lock: who only looks whether it is held holds it for a moment."""


@click.command("listen")
@click.option(
    "--source", type=click.Path(path_type=Path), help="Play this sound file as the microphone, without cues."
)
@click.option("--speed", type=click.FloatRange(0), default=1.0, show_default=True,
              help="With --source: times faster than real time; 0 is as fast as can be.")  # fmt: skip
@click.option("--microphone", help="Name of the microphone, or a part of it.")
@click.option("--engine", help="Recognizer: auto, moonshine or vosk. By default that of the settings.")
@click.option("--vehicle", help="What vehicle it is, for the list, until the record tells.")
@click.option("--quiet", is_flag=True, help="No cues and no spoken answers.")
@click.option("--plain", is_flag=True, help="No screen; tell what happens line by line.")
def command(  # noqa: PLR0917 - click gives options by name
    source: Path | None, speed: float, microphone: str | None, engine: str | None, vehicle: str | None,
    quiet: bool, plain: bool,
) -> None:  # fmt: skip
    """Listen until stopped (Ctrl-C), keep sound and text, and print the ids of the sessions kept.

    Everything stays on this machine. After a crash the next start puts the broken session in order first.
    """
    settings = load_settings()
    read_shop_words(settings.own_words)  # a file with an error in it is told of now, and not in each answer
    with _only_one(settings.home), Writer(settings.home) as writer:
        _recover(writer, settings, engine)
        for session in delete_old_sound(writer, settings.keep_sound_days):
            click.echo(f"Sound of {session} deleted: it is {settings.keep_sound_days} days old.", err=True)
        device: Device = Replay(source, speed) if source is not None else PortAudio()
        told: list[Callable[[str, bool], None]] = []
        capture = Capture(
            device, microphone or settings.microphone or None,
            told=lambda text, trouble: told[0](text, trouble) if told else None,
        )  # fmt: skip
        commands = read_commands(grammar_path(settings))
        calls = _command_ear(settings, commands)
        live = LiveSession(
            writer, capture, _decoders(settings, engine), early=lambda: _early(settings, engine),
            calls=calls, control=TextControl(commands, calls),
            voice=_voices(settings, quiet or source is not None),
            understander=Apart(settings.home),
            options=LiveOptions(
                vehicle=vehicle, reserve_mb=settings.reserve_mb, help_text=commands.help(),
                keep_up=source is None or speed > 0,
            ),
        )  # fmt: skip
        told.append(live.lost)
        _announce(settings, capture)
        _run(live, plain or not sys.stderr.isatty())


def _run(session: LiveSession, plain: bool) -> None:
    try:
        with _stopped_by_signals(session.stop), _shown(session, plain) as tick:
            session.run(tick)
    finally:  # the screen is gone by now, and what was on it
        for ident in session.kept:
            click.echo(ident)
        for one in session.unsaved:
            click.echo(f"not kept: {json.dumps(to_json(one), ensure_ascii=False)}", err=True)


@contextmanager
def _only_one(home: Path) -> Iterator[None]:
    """Two that listen would both take the microphone and each other's broken sessions."""
    with coded(home):
        home.mkdir(mode=0o700, parents=True, exist_ok=True)
        lock = FileLock(home / LISTENING, timeout=_LOOKED_AT)
        try:
            lock.acquire()
        except Timeout as error:
            raise NarratorError("E604", home=home) from error
    try:
        yield
    finally:
        lock.release()


def _decoders(
    settings: Settings, engine: str | None
) -> Callable[[Callable[[str, bool], None]], TendedDecoder]:
    limit = settings.engine_memory_mb * 1_000_000
    return lambda told: TendedDecoder(lambda: open_apart(settings, engine), told=told, limit=limit)


def _early(settings: Settings, engine: str | None) -> TendedDecoder | None:
    """The reader of partial text; where it cannot be had, the recognizer itself reads it, later."""
    if (engine or settings.engine) == "vosk":
        return None
    try:
        return TendedDecoder(lambda: open_early_apart(settings), limit=settings.engine_memory_mb * 1_000_000)
    except NarratorError:
        return None


def _command_ear(settings: Settings, commands: Commands) -> TendedDecoder | None:
    """The second ear under the commands' grammar, if it is wanted; else the dictated text decides."""
    if not settings.second_ear or importlib.util.find_spec("vosk") is None:
        return None
    try:
        return TendedDecoder(lambda: open_calls_apart(settings, commands.calls()))
    except NarratorError as error:
        click.echo(f"Commands are taken from the dictated text: {error.message}", err=True)
        return None


def _recover(writer: Writer, settings: Settings, engine: str | None) -> None:
    opened: list[TendedDecoder] = []

    def decoder() -> TendedDecoder:
        if not opened:
            opened.append(_decoders(settings, engine)(lambda text, trouble: None))
        return opened[0]

    try:
        for session in end_broken_off(writer):
            click.echo(
                f"Session {session} was broken off while its file was heard; it is marked so.", err=True
            )
        control = TextControl(read_commands(grammar_path(settings)))
        for one in recover_sessions(writer, decoder, control=control, began=_say_recovering):
            _say_recovered(one)
    finally:
        for engine_process in opened:
            engine_process.close()


def _say_recovering(session: str) -> None:
    click.echo(f"Session {session} was broken off; it is put in order and heard to its end ...", err=True)


def _say_recovered(one: RecoveredSession) -> None:
    click.echo(
        f"Recovered session {one.session}: {clock(one.seconds)} of sound"
        f" ({one.rescued:.1f} s of it had not been sealed), {one.reheard} utterances heard now.",
        err=True,
    )
    for damage in one.damaged:
        click.echo(f"  {damage}", err=True)


def _voices(settings: Settings, quiet: bool) -> Callable[[OwnSound, Callable[[], bool]], Voice]:
    speaker = PiperSpeaker() if settings.speak and not quiet else None
    cues = settings.cues and not quiet
    return lambda own, may: Voice(cues=cues, speaker=speaker, own=own, may_play=may)


def _announce(settings: Settings, capture: Capture) -> None:
    minutes = minutes_left(settings.home, settings.reserve_mb)
    click.echo(
        f"Recording from {capture.name} into {settings.home}. Nothing leaves this machine."
        f" The disk has room for {_hours(minutes)} of sound. Ctrl-C ends it.",
        err=True,
    )
    if minutes <= 0:
        click.echo("The disk is full: sound will not be kept, text will.", err=True)


def _hours(minutes: float) -> str:
    return f"{int(minutes // 60)}:{int(minutes % 60):02} hours"


@contextmanager
def _stopped_by_signals(stop: Callable[[], None]) -> Iterator[None]:
    """Ctrl-C and a system's shutdown end listening in order."""

    def handle(number: int, frame: FrameType | None) -> None:
        stop()

    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = {number: signal.signal(number, handle) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


@contextmanager
def _shown(session: LiveSession, plain: bool) -> Iterator[Callable[[View], None]]:
    """The screen, or lines on standard error where that is no terminal."""
    if plain:

        def tell(view: View) -> None:
            for text in session.news():
                click.echo(f"{clock(view.seconds)} {text}", err=True)

        yield tell
        return
    console = Console(stderr=True)
    with Live(console=console, screen=True, auto_refresh=False) as live:
        yield lambda view: live.update(Screen(view), refresh=True)
