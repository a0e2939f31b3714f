"""Conclusions that the acts of a line do not tell, weighed by trained models (``judged.py``)."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from narrator.job.clearing import Clearing, affirmed
from narrator.job.conclusion import condemns, is_denied
from narrator.job.fault import fault_of
from narrator.job.judged import THRESHOLDS, Judgement, Standing, judge
from narrator.job.line import Line
from narrator.job.naming import SAME, likeness
from narrator.job.outcome import tone
from narrator.job.settling import LOOSE
from narrator.job.suspect import Suspect
from narrator.values import Act, Component

_LONG = 30
"""Lines since a thing was spoken of that is no suspect."""
_TELLING: tuple[Act, ...] = ("result", "ruled_out", "confirmed", "observation", "test", "hypothesis")
"""Acts of lines that may tell something of a suspect: not *next time I'm going into that connector*."""
_BAD = -1.5
"""Log odds of bad news from which a line that calls a thing broken does not clear it."""
_LEAST = 0.03
"""Scores of the act model below which a line is neither clearing nor settling anything."""
TC, EC, ES, XC = (THRESHOLDS[name] for name in ("clears", "clears_late", "settles_late", "takes_back"))


class Weighing(Clearing):
    """Weighs what each line does to the suspects that it names."""

    def __init__(self) -> None:
        super().__init__()
        self._weighed: list[tuple[Suspect, Line, Judgement]] = []
        """What lines seemed to do to suspects that they name, in order."""

    def _weigh(self, line: Line, tried: Sequence[str]) -> None:
        """Judge what a line does to each thing that it names."""
        self._now = []
        if not line.components or not self.suspects or not line.does(*_TELLING):
            return
        if max(line.likely("ruled_out"), line.likely("confirmed")) < _LEAST:
            return
        for thing in line.components:
            name = line.sided(thing)
            suspect = self.find(name, LOOSE) or self.cleared(name)
            said = judge(line, thing, self.standing(name, suspect, tried))
            if said is None:
                return
            doubts = line.does("hypothesis") and line.likely("hypothesis") > line.likely("ruled_out")
            if doubts or thing is affirmed(line) or called_bad(line, thing) or condemns(line):
                said = replace(said, clears=0.0)  # *that leaves the main jet*, *so the discs are scrap*
            if _only_moved(line, thing):
                said = replace(said, settles=0.0)
            self._now.append((thing, suspect, said))
            if suspect is not None:
                self._weighed.append((suspect, line, said))

    def standing(self, name: str, suspect: Suspect | None, tried: Sequence[str]) -> Standing:
        """How a name stands on the table, for the models."""
        return Standing(
            status=suspect.status if suspect else None,
            fit=suspect.fit(name) if suspect else 0.0,
            since=self.turn - suspect.last if suspect else _LONG,
            tested=any(likeness(name, other) >= SAME for other in tried),
            others=sum(s.status == "open" and s is not suspect for s in self.suspects),
            settled=self._settled is not None and self._settled.status == "confirmed",
            mended=self._mended > self._settled_at,
            verified=self._verified > self._settled_at,
        )

    def _clears_unsaid(self, line: Line) -> bool:
        """*Nah, the bearing's all good*: clears an open suspect in a line whose acts conclude nothing."""
        cleared = [s for _, s, said in self._now if s and s.status == "open" and said.clears >= TC]
        for suspect in cleared:
            if suspect.history[-1].utterance != line.id:
                self.mark(suspect, "ruled_out", line)
        return bool(cleared)

    def close(self) -> None:
        """At the end of the talk, give what is still open by the line that spoke most plainly of it.

        A cause falls as well where a later line plainly took it back. A line that settled one thing settles
        no other here: what it names beside that is mostly where the cause was, or what suffered from it.
        """
        settling = {r.utterance for s in self.suspects for r in s.history if r.status == "confirmed"}
        for suspect in self.suspects:
            if suspect.status == "ruled_out":
                continue
            last = suspect.history[-1].utterance
            after = [(line, said) for s, line, said in self._weighed if s is suspect and line.id > last]
            clears, cleared = _best(
                (said.clears, line)
                for line, said in after
                if line.does("ruled_out") or not line.does("confirmed")
            )
            settles, settled = _best(
                (said.settles, line)
                for line, said in after
                if line.id not in settling and not line.has("hedge", "unproven")
            )
            if suspect.status == "confirmed":
                if cleared and clears >= XC and not cleared.has("two_causes"):
                    self.mark(suspect, "ruled_out", cleared)
            elif cleared and clears >= max(EC, settles):
                self.mark(suspect, "ruled_out", cleared)
            elif settled and settles >= ES:
                self.mark(suspect, "confirmed", settled)


def called_bad(line: Line, thing: Component) -> bool:
    """*Caliper's seized solid* clears no caliper."""
    if _has_none_left(line) or _gives_none(line, thing):
        return not line.has("clear")
    denied = line.has("clear", "negation", "taken_back", "consequence", "absence") or is_denied(line, thing)
    return fault_of(line, thing) is not None and tone(line) < _BAD and not denied


def _has_none_left(line: Line) -> bool:
    """*Tensioner's got no spring left in it*: that clears nothing."""
    at = [i for i, word in enumerate(line.tokens) if word in ("no", "nothing", "none")]
    return any("left" in line.tokens[i + 1 : i + 4] for i in at)


def _gives_none(line: Line, thing: Component) -> bool:
    """*No volts out of the transformer*: that clears no transformer."""
    before = [word for word in line.tokens[max(0, thing.at[0] - 6) : thing.at[0]] if word != "the"]
    out = before[-1:] == ["from"] or before[-2:] == ["out", "of"]
    return out and not {"no", "nothing", "none"}.isdisjoint(before)


def _only_moved(line: Line, thing: Component) -> bool:
    """*That's the pump out* settles no pump."""
    end = thing.at[1] + 1
    moved = line.tokens[end - 1 : end] in (("out",), ("off",), ("apart",)) and end == len(line.tokens)
    return moved and not line.has("confirm", "settle", "found") and fault_of(line, thing) is None


def _best(found: Iterable[tuple[float, Line]]) -> tuple[float, Line | None]:
    """The highest share and the line that has it, the first of several."""
    return max(found, key=lambda f: f[0], default=(0.0, None))
