"""The replay pages: a job up to each decision, the questions, then what happened; a case sheet to print."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from narrator.errors import NarratorError
from narrator.review import clips
from narrator.review.lessons import Lesson, Round, Rounds
from narrator.review.naming import Names
from narrator.review.pages import NAME_LETTERS, Problem, desk, field, job_id, page, then
from narrator.review.sound import file_of
from narrator.training.lesson import keep_answers, kept_answers
from narrator.training.replay import QUESTIONS

ANSWER_LETTERS = 500
_FIELDS = tuple(f"answer{n}" for n in range(1, len(QUESTIONS) + 1))


def _lesson(request: Request) -> tuple[str, Lesson, Names, dict[str, Any]]:
    """The job of the address as a lesson, and what every page of it shows.

    Raises:
        NarratorError: E806 where it holds no decision.
    """
    session = job_id(request)
    shown = desk(request).show(session)
    lesson = Lesson.of(shown)
    if not lesson.stops:
        raise NarratorError("E806", session=session)
    with desk(request).reader() as reader:
        names = Names.of(request, reader.people())
    car = shown.record.vehicle
    vehicle = names.text(" ".join(str(part) for part in (car.year, car.make, car.model) if part))
    return session, lesson, names, {
        "session": session, "lesson": lesson, "names": names, "vehicle": vehicle, "questions": QUESTIONS,
        "record": shown.record, "sounds": bool(shown.facts.sounds),
        "here": request.url.path + (f"?{request.url.query}" if request.url.query else ""),
    }  # fmt: skip


def entry(request: Request, lost: bool = False) -> Response:
    """Where a lesson begins: what it is, your name, who has answered already."""
    session, _, _, values = _lesson(request)
    rounds: dict[str, tuple[str, set[int]]] = {}
    for kept in kept_answers(desk(request).settings.home, session):
        rounds[kept.who] = (kept.when, rounds.get(kept.who, ("", set[int]()))[1] | set(kept.answers))
    return page(request, "replay.html.j2", rounds=rounds, lost=lost, **values)


def begin(request: Request) -> Response:
    """Begin a round, or go on where one of that name stopped."""
    session, lesson, _, _ = _lesson(request)
    made = Round(session, field(request, "who", NAME_LETTERS))
    if made.who and field(request, "how", 10) == "on":
        for kept in kept_answers(desk(request).settings.home, session):
            if kept.who == made.who:
                made.answers |= kept.answers
        while made.reached in made.answers and made.reached <= len(lesson.stops):
            made.reached += 1
    key = _rounds(request).begin(made)
    return then(request, f"/jobs/{session}/replay/{made.reached}?round={key}")


def _rounds(request: Request) -> Rounds:
    found: Rounds = request.app.state.rounds
    return found


def _round(request: Request) -> tuple[Round | None, int, str]:
    """The round that a request belongs to, the decision it asks for, and the round's key."""
    key = request.query_params.get("round", "")[:40]
    return _rounds(request).get(key, job_id(request)), int(request.path_params["number"]), key


def stop(request: Request) -> Response:
    """The job up to a decision and its questions; after the last one, how it ended."""
    session, lesson, _, values = _lesson(request)
    trainee, number, key = _round(request)
    if trainee is None:
        return entry(request, lost=True)
    if not 1 <= number <= min(trainee.reached, len(lesson.stops) + 1):
        return RedirectResponse(f"/jobs/{session}/replay/{_last(trainee, lesson)}?round={key}", 303)
    return page(request, "replay_stop.html.j2", trainee=trainee, number=number, key=key, fields=_FIELDS,
                most=ANSWER_LETTERS, **values)  # fmt: skip


def _last(trainee: Round, lesson: Lesson) -> int:
    return min(trainee.reached, len(lesson.stops) + 1)


def answer(request: Request) -> Response:
    """Keep what a trainee answered, then go on to what happened. A first answer is never replaced."""
    session, lesson, _, _ = _lesson(request)
    trainee, number, key = _round(request)
    if trainee is None:
        raise Problem(409, "The round is not known any more: the program was started again.",
                      "Go back, copy what you wrote, and begin again; go on where you stopped.")  # fmt: skip
    if not 1 <= number <= len(lesson.stops) or number > trainee.reached:
        raise Problem(409, "That decision is not reached yet.", "Answer the ones before it first.")
    if number not in trainee.answers:
        given = {q: field(request, name, ANSWER_LETTERS) for q, name in zip(QUESTIONS, _FIELDS, strict=True)}
        if trainee.who:
            keep_answers(desk(request).settings.home, session, trainee.who, {number: given})
        trainee.answers[number] = given
        trainee.reached = max(trainee.reached, number + 1)
    return RedirectResponse(f"/jobs/{session}/replay/{number + 1}?round={key}", 303)


def heard(request: Request) -> Response:
    """The sound on the way to a decision that was reached, or of one line that was told by then."""
    session, lesson, _, _ = _lesson(request)
    trainee, number, _ = _round(request)
    if trainee is None or not 1 <= number <= _last(trainee, lesson):
        raise Problem(404, "There is no such sound yet.", "It comes with the decision.")
    span: tuple[float, float] | None = lesson.stretch(number)
    if "line" in request.path_params:
        span = lesson.line(number, int(request.path_params["line"]))
    if span is None:
        raise Problem(404, "There is no such sound yet.", "It comes with the decision.")
    kept = desk(request).show(session).facts.sounds
    files = sorted((one.start, file_of(request, session, one)) for one in kept)
    return clips.wave(clips.cut(files, *span))


def case(request: Request) -> Response:
    """The case sheet to print: the job up to each decision, room to answer, and nothing of the ending."""
    return _paper(request, "replay_case.html.j2")


def ending(request: Request) -> Response:
    """The ending on a sheet of its own, for whoever asks for it."""
    return _paper(request, "replay_ending.html.j2")


def _paper(request: Request, name: str) -> Response:
    """A sheet that leaves the house: people's names, plates and VINs are always taken out of it."""
    _, _, names, values = _lesson(request)
    hidden = Names(names.people, True)
    return page(request, name, **values | {"names": hidden, "vehicle": hidden.text(values["vehicle"])})


def answers(request: Request) -> Response:
    """What everybody answered at each decision, beside what happened."""
    session, _, _, values = _lesson(request)
    kept = list(kept_answers(desk(request).settings.home, session))
    return page(request, "replay_answers.html.j2", kept=kept, **values)
