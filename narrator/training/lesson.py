"""What a lesson leaves behind: a case sheet with the ending apart, clips of sound, the trainee's answers."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from narrator.errors import NarratorError
from narrator.job.record import Record, UtteranceRow
from narrator.store.erase import lesson_file
from narrator.store.rows import Sound, wall_time
from narrator.training.casesheet import settled
from narrator.training.replay import QUESTIONS, Decision, decisions
from narrator.training.sound import stretch


def case_sheet(record: Record, title: str, shown: Callable[[str], str] = str) -> str:
    """The job up to each decision with room to answer, in Markdown; the ending on a sheet of its own.

    ``shown`` takes out of each text what must not be given away.
    """
    pages = [f"# Case: {title}\n"]
    endings = [f"# Ending of case: {title}\n"]
    for stop in decisions(record):
        pages.append(f"## {stop.number}. Up to here\n")
        pages += [_line(row, shown) for row in stop.lines]
        pages.append(f"\nOpen suspects: {', '.join(stop.open) or 'none named yet'}\n")
        pages += [f"- {question}\n\n  ______________________________\n" for question in QUESTIONS]
        endings.append(f"## {stop.number}. What happened\n")
        endings += [_line(row, shown) for row in stop.happened]
        endings.append("")
    endings.append(f"\n{shown(settled(record))}\n")
    return "\n".join(pages) + "\n\\newpage\n\n---\n\n" + "\n".join(endings)


def _line(row: UtteranceRow, shown: Callable[[str], str]) -> str:
    whole = int(row.start)
    return f"- {whole // 60:02}:{whole % 60:02} {shown(row.told)}"


def clip(home: Path, session: str, sounds: tuple[Sound, ...], stop: Decision, folder: Path) -> Path | None:
    """The sound of the lines shown before a decision as a WAV file; None where no sound was kept.

    Raises:
        NarratorError: E501 when it cannot be read or written.
    """
    import soundfile  # noqa: PLC0415 - only where sound is wanted

    if found := stretch(home, session, sounds, stop.start, stop.end):
        target = folder / f"{session}-{stop.number:02}.wav"
        try:
            folder.mkdir(parents=True, exist_ok=True)
            soundfile.write(target, *found)
        except (OSError, RuntimeError) as error:
            raise NarratorError("E501", path=target, why=error) from error
        return target
    return None


@dataclass(frozen=True, slots=True)
class Kept:
    """What a trainee answered at one time: by the decision's number, by question."""

    who: str
    when: str
    answers: dict[int, dict[str, str]]


def kept_answers(home: Path, session: str) -> Iterator[Kept]:
    """Everything that was answered about a job, in the order kept; what is no answer is passed over."""
    try:
        lines = lesson_file(home, session).read_text(encoding="utf-8").splitlines()
    except OSError:
        return
    for line in lines:
        try:
            row = json.loads(line)
            given = {int(n): {str(q): str(a) for q, a in one.items()} for n, one in row["answers"].items()}
            yield Kept(str(row["who"]), str(row["when"]), given)
        except (ValueError, TypeError, KeyError, AttributeError):  # torn by a full disk, or written by hand
            continue


def keep_answers(home: Path, session: str, who: str, answers: dict[int, dict[str, str]]) -> Path:
    """Add a trainee's answers to ``lessons/SESSION.jsonl`` in the home; gives the file."""
    path = lesson_file(home, session)
    row = {"who": who, "when": wall_time(), "answers": answers}
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        with path.open("a", encoding="utf-8") as file:
            file.write(json.dumps(row, ensure_ascii=False) + "\n")
    except OSError as error:
        raise NarratorError("E501", path=path, why=error.strerror or error) from error
    return path
