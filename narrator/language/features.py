"""What the act model looks at: words around each place with entities masked, cues, and what went before.

Features are short strings; a spaCy Doc of them is what the text categorizer sees. The first pass knows the
utterance and the cues of the one before; the second also knows what the first pass made of the utterances
before it, so that *dry now* is a verification after a repair and a result before one. Both are causal.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from narrator.language.cues import Masked, mask
from narrator.language.tokens import Notes
from narrator.values import ACTS

_LEAD = ("verify", "polarity", "result", "test", "observe", "hedge", "confirm", "clear")
_SURE = 0.4
_TURNS = ("hypothesis", "ruled_out", "confirmed", "step", "verification")


@dataclass(slots=True)
class Story:
    """How far the job has come, as the cues and the first pass tell it."""

    turns: int = 0
    taken_off: int = 0
    put_on: int = 0
    settled: float = 0.0
    mended: int = 0
    checked: float = 0.0
    steps: int = 0
    turned: tuple[str, str] = ("", "")
    """The last two turns of the job, latest first: a suspect raised or cleared, a cause, work, a check."""

    def stage(self) -> str:
        """The stage by cues alone."""
        return "on" if self.put_on >= 2 else "off" if self.taken_off else "none"

    def phase(self) -> str:
        """The phase by what the first pass made of the lines so far."""
        return f"{min(2, self.mended)}{int(self.settled >= 0.8)}{int(self.checked > 0.8)}"

    def turn(self, own: dict[str, float], changed: bool) -> None:
        """Take note of the turn that this line makes, if it makes one."""
        act = max(_TURNS, key=own.__getitem__)
        name = "change" if act == "step" and changed else act
        if own[act] > _SURE and name != "step" and name != self.turned[0]:
            self.turned = (name, self.turned[0])


def first_pass(notes: Notes, story: Story, before: tuple[str, ...]) -> tuple[list[str], tuple[str, ...]]:
    """Features of one utterance, and what the next one is told of it; ``story`` moves on."""
    masked = notes.scratch.get("masked")
    words = (masked if isinstance(masked, Masked) else mask(notes.words, notes.entities)).words
    line = ("<s>", *words, "</s>")
    cues = sorted({cue.name for cue in notes.cues})
    kinds = sorted({entity.type for entity in notes.entities})
    stage = story.stage()
    told = [f"c={c}" for c in cues] + [f"e={k}" for k in kinds]
    features = [f"w={w}" for w in dict.fromkeys(words)]
    features += [f"b={a}_{b}" for a, b in pairwise(line)]
    features += [f"t={a}_{b}_{c}" for a, b, c in zip(line, line[1:], line[2:], strict=False)]
    features += told
    features += [f"{stage}+{t}" for t in told]
    features += [f"before:{t}" for t in before]
    features.append(f"n={min(3, len(notes.entities))}")
    features.append(f"len={min(6, len(words) // 3)}")
    features.append(f"turn={min(5, story.turns)}")
    features.append(f"stage={stage}")
    features += [f"mark={m}" for m in sorted(set(notes.marks.values())) if m in "?!"]
    story.turns += 1
    story.put_on += "motion.on" in cues and ("fastener" in kinds or "component" in kinds)
    story.taken_off += "motion.off" in cues and "fastener" in kinds
    return features, tuple(told)


def second_pass(
    features: Sequence[str], scores: Sequence[Sequence[float]], i: int, story: Story
) -> list[str]:
    """Features of utterance ``i`` with what the first pass (``scores``, lines × acts) made of the story."""
    out = list(features)
    for back in (1, 2):
        if i >= back:
            out += [f"p{back}={a}" for a, s in zip(ACTS, scores[i - back], strict=True) if s > _SURE]
    own: dict[str, float] = dict(zip(ACTS, scores[i], strict=True))
    phase = story.phase()
    out.append(f"phase={phase}")
    out.append(f"steps={min(3, story.steps)}")
    out += [f"own={a}{'' if s > 0.5 else '?'}" for a, s in own.items() if s > 0.25]
    out += [f"{phase}+own={a}" for a, s in own.items() if s > _SURE]
    last = story.turned[0]
    out += [f"last={last}", f"lasts={'>'.join(story.turned)}"]
    out += [f"last={last}+own={a}" for a, s in own.items() if s > _SURE]
    out += [f"last={last}+{f}" for f in features if f.startswith(("c=", "e=measure")) and _leads(f)]
    out += [f"{phase}+{f}" for f in features if f.startswith(("c=", "e=measure")) and _leads(f)]
    story.turn(own, changed=not {"c=motion.on", "c=work.change"}.isdisjoint(features))
    story.settled += own["confirmed"]
    story.checked += own["verification"]
    if own["step"] > 0.5:
        story.steps += 1
        if story.settled > 0.5 and {"c=motion.on", "c=work.change"}.intersection(features):
            story.mended += 1
    if own["ruled_out"] > 0.6 and story.checked > 0.5:
        story.settled = story.checked = 0.0
        story.mended = 0
    return out


def _leads(feature: str) -> bool:
    return feature.startswith("e=") or feature[2:].startswith(_LEAD)
