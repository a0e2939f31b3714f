"""Some of the fasteners counted before: *bottom three first*, *the fourth leaves its head*, *and its twin*.

Words alone find them here; the ledger knows whether a group is coming off of which they can be a part.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from narrator.job.ledger_words import ledger_words, number
from narrator.job.motion import Motion

_W = ledger_words()
_ORDINALS = ledger_words().ordinals
_LAST = frozenset(("last", "final"))
_THOSE = frozenset(("those", "them", "these", "'em", "em"))
_TOO = frozenset(("too", "as", "also", "now", "out", "off", "away"))
_JOINTS = frozenset(("and", "but", "so", "then", "while"))
_LEADS = frozenset(("", "the", "and", "then", "but", "has", "have", "of", "which", "so", "first", "that"))
_LEADS |= _W["portion.holds"]
_PASSED = frozenset("the a me us just only my that this its".split())
_ONE_DOES = _W["off.come"] | {"'s"}
_SUBORDINATE = frozenset("where because cause cos since while which who".split())
_OWNERS = frozenset(("its", "his", "her", "their", "the"))
_MOVED = _W["off.particles"] | _W["off.verbs"] | _W["off.weak"] | _W["portion.moved"]
_BEGIN = _LAST | _THOSE | frozenset(_ORDINALS)
_BEGIN |= frozenset("all everyone one number second other another next remaining".split())
_BEGIN |= _W["portion.mates"] | _W["portion.places"] | _W["portion.picked"] | _W["portion.rest"]
"""Words that a portion begins with, numbers aside."""
_LEFT = frozenset(("left", "leave", "leaving"))
_SURE = 0.9
_BEFORE = 3
"""So many words before a portion belong to it where no word joins it to the one before."""

State = Literal["moved", "told", "kept", "stuck", "absent", "holds"]
"""``told``: only spoken of; ``holds``: still in place, or left out of what came; ``absent``: never there."""


@dataclass(slots=True)
class Portion:
    """Tokens ``start`` to ``end`` stand for ``count`` of a group; None for all that are left of it."""

    start: int
    end: int
    count: int | None
    order: int = 0
    """Which one of the group it is by number (*the fourth*); 0 where none is told."""
    more: bool = False
    """Said to be beside those counted before (*two more*)."""
    other: bool = False
    """The other of two, or of two lots (*the other four*)."""
    place: str = ""
    """Where they sit, if that is how they are told (*rear two*)."""
    last: bool = False
    """The last one, so that the others are off before it."""
    among: bool = False
    """Said to be of those (*two of them*)."""
    but: int = 0
    """All but so many (*all but one*)."""
    state: State = "told"


def portions(motion: Motion) -> list[Portion]:
    """Every portion of a line, in order, each with what becomes of it."""
    found: list[Portion] = []
    for i, word in enumerate(motion.words):
        if (word not in _BEGIN and _size(word) is None) or (found and i < found[-1].end):
            continue
        if not _is_named(motion, i) and (portion := _at(motion, i)):
            found.append(portion)
    for n, portion in enumerate(found):
        low = found[n - 1].end if n else 0
        high = _clause(motion, portion.end, found[n + 1].start) if n + 1 < len(found) else len(motion.words)
        portion.state = _state(motion, portion, low, high)
    return found


def _clause(motion: Motion, start: int, end: int) -> int:
    """Where between two portions the second one's clause begins."""
    joints = [i for i in range(start, end) if motion.words[i] in _JOINTS or i in motion.breaks]
    return joints[-1] if joints else max(start, end - _BEFORE)


def _is_named(motion: Motion, i: int) -> bool:
    """Whether a token belongs to a fastener with a name or size of its own."""
    return any(f.at[0] <= i < f.at[1] and (f.kind_said or f.size) for f in motion.fasteners)


def _at(motion: Motion, i: int) -> Portion | None:
    return (
        _counted_off(motion, i) or _all_but(motion, i) or _by_turn(motion, i) or _other(motion, i)
        or _by_place(motion, i) or _rest(motion, i) or _more(motion, i) or _number(motion, i)
    )  # fmt: skip


def _size(word: str) -> int | None:
    """How many a word tells: a number, a pair, one."""
    return 2 if word in ("pair", "couple") else number(word)


def _bare(motion: Motion, end: int) -> bool:
    """Whether no noun follows at token ``end``."""
    word = motion.word(end)
    if end in motion.breaks or not word:
        return True
    if motion.word(end - 1) == "one":
        return end not in motion.nouns
    seen = motion.line.moves(end - 1, end)
    if seen is not None and seen[0] >= _SURE and end not in motion.nouns and word not in _W["portion.times"]:
        return True  # "the other pair hiding under the bung", where the network has no doubt
    return word in _W["portion.alone"] or word in _W["count.follow"] or word in _THOSE


def _counted_off(motion: Motion, i: int) -> Portion | None:
    """*then the back edge one two three four*."""
    n = 0
    while number(motion.word(i + n)) == n + 1:
        n += 1
    return Portion(i, i + n, n) if n > 2 and _bare(motion, i + n) else None


def _all_but(motion: Motion, i: int) -> Portion | None:
    """*all but one*, *every one bar the last*."""
    if motion.word(i) not in ("all", "everyone", "one") or motion.word(i + 1) not in ("but", "bar", "except"):
        return None
    k = i + 2 + (motion.word(i + 2) in ("for", "the"))
    left = 1 if motion.word(k) in _LAST else number(motion.word(k))
    return Portion(i, k + 1, None, but=left) if left else None


def _by_turn(motion: Motion, i: int) -> Portion | None:
    """*the fourth*, *number six*, *last one*, *the last two*."""
    word, after = motion.word(i), motion.after(i)
    if word == "number" and (order := number(after)) and _bare(motion, i + 2):
        return Portion(i, i + 2, 1, order)
    if word == "second" and after in ("one", "'s", "comes", "came"):
        return Portion(i, i + 1 + (after == "one"), 1, 2)
    order = _ORDINALS.get(word, 0)
    if not order and word not in _LAST:
        return None
    end, count = i + 1, 1
    if (told := _size(after)) is not None:
        end, count = i + 2, told
    elif motion.words[i + 1 : i + 3] == ("of", "them") or motion.words[i + 1 : i + 3] == ("of", "those"):
        end = i + 3
    if word in _LAST and end == i + 1 and motion.before(i) not in ("the", "this", "that", "my", "and", ""):
        return None
    last = not order and count == 1
    alone = order and end not in motion.nouns and motion.word(end) not in _W["portion.times"]
    return Portion(i, end, count, order, last=last) if alone or _bare(motion, end) else None


def _other(motion: Motion, i: int) -> Portion | None:
    """*the other one*, *the other's*, *the other two*, *its neighbour*."""
    word = motion.word(i)
    if word in _W["portion.mates"] and motion.word(i - 1) in _OWNERS and _bare(motion, i + 1):
        return Portion(i, i + 1, 1, more=True)
    if word != "other" or motion.before(i) not in (*_OWNERS, "and", ""):
        return None
    told = _size(motion.after(i))
    end = i + 1 + (told is not None)
    return Portion(i, end, told or 1, other=True) if _bare(motion, end) else None


def _by_place(motion: Motion, i: int) -> Portion | None:
    """*top two*, *front pair*, *the near one*, *that one*, *the two at the front*."""
    word, told = motion.word(i), _size(motion.after(i))
    if told is None or not _bare(motion, i + 2):
        return None
    if word in _W["portion.places"] or (word in _W["portion.picked"] and told == 1):
        return Portion(i, i + 2, told, place=word)
    return None


def _rest(motion: Motion, i: int) -> Portion | None:
    """*the rest*, *the others*, *what's left*, *that's those as well*."""
    word = motion.word(i)
    if word in _W["portion.rest"] and motion.before(i) == "the" and _bare(motion, i + 1):
        end = i + 3 if motion.words[i + 1 : i + 3] in (("of", "them"), ("of", "it")) else i + 1
        return Portion(i, end, None)
    if word == "remaining" and (told := _size(motion.after(i))) and _bare(motion, i + 2):
        return Portion(i, i + 2, told)
    if word in _THOSE and motion.word(i - 1) in ("'s", "is") and motion.word(i + 1) in _TOO:
        return Portion(i, i + 1, None)
    return None


def _more(motion: Motion, i: int) -> Portion | None:
    """*two more*, *another pair*, *next two*."""
    word, after = motion.word(i), motion.after(i)
    lead = (_size(word) and after in _W["portion.more"]) or word in ("another", "next")
    told = _size(word) or _size(after)
    plain = i + 2 in motion.breaks or (
        i + 2 not in motion.nouns and motion.word(i + 2) not in _W["portion.times"]
    )
    return Portion(i, i + 2, told, more=True) if lead and told and plain else None


def _number(motion: Motion, i: int) -> Portion | None:
    """*three of them*, *three come*, *four along the top*, *one at the back*."""
    told, after = _size(motion.word(i)), motion.after(i)
    if told is None or i in motion.nouns or motion.word(i - 1) == "each":
        return None
    end = i + 3 if after == "of" and motion.word(i + 2) in _THOSE else i + 1
    if end == i + 1 and (not after or after in ("and", "so", "but", "to", "is", "are", "with")):
        return None
    leads = motion.before(i) in _LEADS or (told > 1 and motion.before(i) in _W["portion.takes"])
    leads = leads or (told == 1 and after in _ONE_DOES)
    return Portion(i, end, told, among=end > i + 1) if _bare(motion, end) and leads else None


def _was_gone(words: tuple[str, ...]) -> bool:
    """*Two of them were long gone*, *one was gone before i met it*: not there to come off."""
    gone = [k for k, word in enumerate(words) if word == "gone"]
    return any(
        words[k - 1 : k] in (("long",), ("already",)) or words[k + 1 : k + 2] == ("before",) for k in gone
    )


def _stays(words: tuple[str, ...], k: int) -> bool:
    """Whether a word tells that something stays: *stays put*, *i leave it*; not *leaves its head behind*."""
    left = words[k] == "left" and words[k + 1 : k + 2] in (("on",), ("in",), ("there",), ("alone",))
    return (
        left
        or words[k] in _W["portion.kept"]
        or (words[k] in _W["portion.leave"] and not _W["portion.left_so"].isdisjoint(words[k + 1 : k + 2]))
    )


def _leading(motion: Motion, i: int, low: int) -> str:
    """The word that leads to a portion at ``i``, articles and pronouns aside."""
    ends = [f.at[1] for f in motion.fasteners if f.at[1] <= i]
    low = max([low, *ends])
    k = i - 1
    while k >= low and motion.words[k] in _PASSED and k + 1 not in motion.breaks:
        k -= 1
    return motion.words[k] if k >= low and k + 1 not in motion.breaks else ""


def _state(motion: Motion, portion: Portion, low: int, high: int) -> State:
    """What becomes of a portion, from the words before it (from ``low``) and after it (to ``high``)."""
    words = motion.words
    before = _leading(motion, portion.start, low)
    after = words[portion.end : high]
    ends = [k for k, word in enumerate(after) if word in _SUBORDINATE]
    after = after[: ends[0]] if ends else after
    leaves = before in _LEFT and words[portion.start - 1] != "left"
    if leaves and after[:1] in (("in",), ("on",), ("there",)):
        return "kept"  # "left the bottom one in and swung it"
    broken = [k for k, word in enumerate(after) if word in _W["portion.broken"]]
    if broken:  # "leaves its head in my socket and stays put"
        return "kept" if any(_stays(after, k) for k in range(broken[-1] + 1, len(after))) else "moved"
    ahead = words[max(0, portion.start - 3) : portion.start]
    if "where" in ahead and not {"hole", "gap", "space"}.isdisjoint(ahead):
        return "absent"  # "and a hole where the eighth should be"
    if not _W["portion.absent"].isdisjoint((before, *after)) or _was_gone(after):
        return "absent"
    trouble = [k for k, word in enumerate(after) if word in _W["portion.stuck"]]
    moves = [k for k, word in enumerate(after) if word in _MOVED]
    stays = [k for k in range(len(after)) if _stays(after, k)]
    if stays and (not moves or moves[0] > stays[0]):
        return "kept"
    if trouble:
        return "moved" if moves and moves[-1] > trouble[-1] else "stuck"
    if before in _W["portion.holds"]:
        return "holds"
    if before in _W["portion.taken"]:
        return "moved"
    return "moved" if moves or not after else "told"
