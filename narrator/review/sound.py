"""The sound of a job: only files that its facts name, only from its own folder, in ranges."""

from __future__ import annotations

from pathlib import Path

from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response

from narrator.review.pages import Problem, desk, job_id
from narrator.store.erase import sound_folder
from narrator.store.rows import Sound

_TYPES = {".wav": "audio/wav", ".flac": "audio/flac", ".ogg": "audio/ogg", ".opus": "audio/ogg",
          ".oga": "audio/ogg", ".mp3": "audio/mpeg"}  # fmt: skip
BEFORE = 0.5
"""Seconds before a line at which its sound begins."""


def sound(request: Request) -> Response:
    """The file ``number`` of the job's sound, whole or in ranges."""
    session, place = job_id(request), int(request.path_params["number"])
    with desk(request).reader() as reader:
        kept = reader.facts(session).sounds
    if place >= len(kept):
        raise Problem(404, "There is no such sound.")
    path = file_of(request, session, kept[place])
    kind = _TYPES.get(path.suffix.lower(), "application/octet-stream")
    return FileResponse(path, media_type=kind, headers={"cache-control": "private, max-age=600"})


def file_of(request: Request, session: str, kept: Sound) -> Path:
    """The file of a sound, if it lies in the job's own folder.

    Raises:
        Problem: when it does not.
    """
    folder = sound_folder(desk(request).settings.home, session).resolve()
    path = (folder / kept.file).resolve()
    if path.parent != folder or not path.is_file():
        raise Problem(404, "The sound is not in its place.", "It may have been moved or deleted by hand.")
    return path


def words(request: Request) -> Response:
    """The words of one utterance with their times, for following them while they are played."""
    session, ident = job_id(request), int(request.path_params["line"])
    for one in desk(request).show(session).facts.utterances:
        if one.id == ident:
            return JSONResponse([[w.word, round(w.start, 3), round(w.end, 3)] for w in one.words])
    raise Problem(404, "There is no such line.")


def place_of(sounds: tuple[Sound, ...], start: float) -> str | None:
    """Where a moment is heard: number of the file and the second in it, as ``0#t=12.3``; None if nowhere."""
    before = [(one.start, n) for n, one in enumerate(sounds) if one.start <= max(start, 0.0) + 0.001]
    if not before:
        return None
    first, n = max(before)
    return f"{n}#t={max(0.0, start - BEFORE - first):.2f}"
