"""Finding spoken commands: in the dictated text, and by an ear that knows nothing but them.

The text is compared by sound, since a recognizer writes what it expects to hear. Where it does not show a
command word by word, the second ear hears the sound again under the grammar of the commands
(``narrator.hearing.calls``) and is believed where the command fits the sound well, or fairly well where the
text has something like the phrase and then that command. Either way a command needs the attention phrase, at
the beginning of the utterance or in an utterance of its own just before; what was said ahead of it, or by
others into its end, stays narration.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from narrator.errors import NarratorError
from narrator.hearing.calls import each
from narrator.hearing.control import (
    AROUND_S,
    SURE,
    SURE_CALLED,
    SURE_SECONDED,
    SURE_SECONDED_FREE,
    SURE_UNBORNE,
    Command,
    Name,
    Sound,
)
from narrator.hearing.recognizer import Decoder
from narrator.hearing.segmenter import Segment
from narrator.hearing.voice import FRAME
from narrator.live.bearing import BEFORE_FREE, ENOUGH, Bearing
from narrator.live.grammar import Commands, Phrase
from narrator.phonetics import likeness
from narrator.values import SAMPLE_RATE, Utterance, Word

_ATTENTION = 0.86
_ATTENTION_LATER = 0.95
"""In the middle of an utterance the phrase must be plainer: there it stands in other words."""
_COMMAND = 0.80
_WRITTEN = 0.88
"""How like a command the text must be to second what the ear of commands is not sure of."""
_ANSWER = 0.88
_ANSWERS = ("yes", "no")
"""Taken from the text alone: a yes lets something be struck. The ear knows them so as not to hear others."""
_LONGEST = 8
"""A command has no more words, one that a recognizer parted among them."""
ARMED_S = 6.0
"""After the attention phrase alone, a command may come so late."""


@dataclass(frozen=True, slots=True)
class _Opened:
    """The attention phrase in a text: words before it and words after it; behind a command that only the ear
    heard, so many words more are none of it."""

    before: list[str]
    after: list[str]
    more: int = 0


_Meant = tuple[list[Word], Command | None, list[str]]
"""A call as the ear of commands heard it, the command that it is, and its words behind the phrase."""


class TextControl:
    """A ``SpokenControl`` on the dictated text, and on ``ear`` (a decoder like ``CallEar``)."""

    def __init__(self, commands: Commands, ear: Decoder | None = None) -> None:
        self._commands, self._ear = commands, ear
        self._bearing = Bearing(commands.attention)
        # A recognizer may part a word in two.
        self._longest = 1 + max(len(phrase.split()) for phrase in commands.attention)
        self._armed_until = 0.0
        self._phrase: NDArray[np.float32] | None = None

    def take(
        self, utterance: Utterance, sound: Sound | None = None, *, asked: bool = False
    ) -> Command | None:
        """See ``SpokenControl``."""
        words = plain_words(utterance.text)
        opened = self._opened(words)
        armed, phrase = utterance.start < self._armed_until, self._phrase
        self._armed_until, self._phrase = 0.0, None
        if opened is None and asked and (answer := self._answer(words)):
            return answer
        if opened is None and armed and (found := self._behind(phrase, utterance, words, sound)):
            return found
        if opened is None or not self._plain(opened.after):
            opened = self._settled(opened, self._by_ear(utterance, words, sound, told=opened))
        if opened is None:
            return None
        narration = _original(utterance.text, len(opened.before))
        if not opened.after:
            self._armed_until = utterance.end + ARMED_S
            self._phrase = sound() if sound is not None and self._ear is not None else None
            return Command("attention", narration=narration)
        found = self._meant(opened, utterance, words)
        return found or Command("not_understood", " ".join(opened.after), narration)

    def may_call(self, text: str) -> bool:
        """See ``SpokenControl``."""
        return self._bearing.out([plain_words(text)])

    # ------------------------------------------------------------ parts

    def _meant(self, opened: _Opened, utterance: Utterance, words: list[str]) -> Command | None:
        """The command after the attention phrase, its free words as they stand in the utterance."""
        command = self._command(opened.after)
        if command is None:
            return None
        text = _original(utterance.text, len(words), len(words) - len(command.text.split()))
        around = (0, len(opened.before)), (len(words) - opened.more, len(words))
        narration = " ".join(filter(None, (_original(utterance.text, b, a) for a, b in around)))
        return Command(command.name, text if command.text else "", narration)

    def _behind(
        self,
        phrase: NDArray[np.float32] | None,
        utterance: Utterance,
        words: list[str],
        sound: Sound | None,
    ) -> Command | None:
        """A command in an utterance of its own, just after one with the attention phrase, whose sound
        ``phrase`` is: the ear of commands hears both as one."""
        heard = None
        if phrase is not None and sound is not None and not self._plain(words):
            heard = self._by_ear(utterance, words, lambda: np.concatenate([phrase, sound()]), opened=True)
        found = self._command(heard.after) if heard else None
        # Free words fit whatever is said next, and most of what is said next is narration.
        return found if found and not self._goes_on(found) else self._command(words)

    def _opened(self, words: list[str]) -> _Opened | None:
        """Where the attention phrase stands, if it does."""
        best: tuple[float, int, int] | None = None
        for at in range(len(words)):
            for length in range(1, self._longest + 1):
                if at + length > len(words):
                    break
                heard = "".join(words[at : at + length])
                score = max(likeness(heard, phrase.replace(" ", "")) for phrase in self._commands.attention)
                enough = _ATTENTION if at == 0 else _ATTENTION_LATER
                if score >= enough and (best is None or score > best[0]):
                    best = (score, at, at + length)
        return _Opened(words[: best[1]], words[best[2] :]) if best else None

    def _command(self, words: Sequence[str], least: float = _COMMAND) -> Command | None:
        """The command that the words are most like; free words follow some."""
        best: tuple[float, int, Command] | None = None
        for phrase in self._commands.phrases:
            for length in _lengths(phrase, words):
                head = "".join(words[:length])
                score = likeness(head, phrase.words.replace(" ", "").replace("'", ""))
                found = Command(phrase.name, " ".join(words[length:]))
                # A longer phrase explains more of what was said, where both are as near.
                if score >= least and (best is None or (score, length) > best[:2]):
                    best = (score, length, found)
        return best[2] if best else None

    def _plain(self, words: list[str]) -> bool:
        """Whether the words are a command as it is written."""
        said = " ".join(words)
        return any(
            said == written or (phrase.open_end and said.startswith(f"{written} "))
            for phrase in self._commands.phrases
            for written in [" ".join(plain_words(phrase.words))]
        )

    def _settled(self, told: _Opened | None, heard: _Opened | None) -> _Opened | None:
        """Of what text and ear give: the ear's, save where both mean the same, as the text has its words."""
        if told is None or heard is None:
            return told or heard
        by_text, by_ear = self._command(told.after), self._command(heard.after)
        return told if by_text and by_ear and by_text.name == by_ear.name else heard

    def _answer(self, words: list[str]) -> Command | None:
        said = "".join(words)
        for phrase in self._commands.phrases:
            if phrase.name in _ANSWERS and likeness(said, phrase.words.replace(" ", "")) >= _ANSWER:
                return Command(phrase.name)
        return None

    def _goes_on(self, command: Command) -> bool:
        """Whether free words may follow."""
        return any(phrase.open_end and phrase.name == command.name for phrase in self._commands.phrases)

    def _by_ear(
        self,
        utterance: Utterance,
        words: list[str],
        sound: Sound | None,
        *,
        opened: bool = False,
        told: _Opened | None = None,
    ) -> _Opened | None:
        """What the ear of commands hears, when it is sure enough; ``opened`` says that the attention phrase
        is known to be in its sound, ``told`` is what the text has."""
        if self._ear is None or sound is None:
            return None
        samples = sound()
        if len(samples) < SAMPLE_RATE // 5:
            return None
        piece = Segment(0, samples, np.ones(len(samples) // FRAME, np.bool_))
        try:
            calls = self._meanings(each(self._ear.decode(piece)))
        except NarratorError:
            return None
        found = self._believed(calls, words, opened=opened)
        if found is None and told is not None and told.after and not self._command(told.after):
            found = _called_for(calls, told.after, self._goes_on)
        if found is None:
            return None
        heard, command, after = found
        assert command is not None
        # Its sound begins AROUND_S ahead of the utterance, and what it heard with as much ahead of the call.
        begins, ends = utterance.start + heard[0].start, utterance.start - AROUND_S + heard[0].end
        before = plain_words(" ".join(word.word for word in utterance.words if word.end <= begins))
        if self._goes_on(command):
            # Free words are not in its grammar: they are taken from the dictated text.
            return _Opened(before, [*after, *_after(words[len(before) :], after)])
        more = plain_words(
            " ".join(word.word for word in utterance.words if word.start + word.end >= 2 * ends)
        )
        return _Opened(before, after, len(more))

    def _meanings(self, calls: list[list[Word]]) -> list[_Meant]:
        """What the ear heard, with the command that each is and its words behind the attention phrase."""
        meant = []
        for heard in calls:
            call = self._opened([word.word for word in heard])
            after = call.after if call is not None else []
            meant.append((heard, self._command(after) if call is not None else None, after))
        return meant

    def _believed(self, meant: list[_Meant], words: list[str], *, opened: bool) -> _Meant | None:
        """Of what the ear heard, likeliest first, the call to be taken."""
        if not meant:
            return None
        written = self._written(words, opened=opened)
        heard, command, after = meant[0]
        if command and command.name not in _ANSWERS and (heard[0].conf or 0.0) >= SURE:
            borne = opened or self._borne_out(heard, command, words) or self._sure_unborne(heard, command)
            # Free words fit anything: another command that is written is likelier.
            if borne and (not written or command.name in written or not self._goes_on(command)):
                return heard, command, after
        for heard, command, after in meant:
            least = SURE_SECONDED_FREE if command and self._goes_on(command) else SURE_SECONDED
            if command and command.name in written and (heard[0].conf or 0.0) >= least:
                return heard, command, after
        return None

    def _written(self, words: list[str], *, opened: bool) -> set[Name]:
        """Commands that the text has behind something like the attention phrase, or at its beginning where
        that is known to have been said; other words may follow."""
        rows = [words] if opened else self._bearing.behind(words)
        heads = {tuple(row[:n]) for row in rows for n in range(1, min(len(row), _LONGEST) + 1)}
        found = {command.name for head in heads if (command := self._command(head, _WRITTEN))}
        return found.difference(_ANSWERS)

    def _borne_out(self, heard: Sequence[Word], command: Command, words: list[str]) -> bool:
        """Whether the dictated text or what the ear heard freely has something like the attention phrase."""
        least = BEFORE_FREE if self._goes_on(command) else ENOUGH
        return self._bearing.out([words, plain_words(heard[0].other or "")], least)

    def _sure_unborne(self, heard: Sequence[Word], command: Command) -> bool:
        """Whether the ear is to be believed though nothing that was written bears it out."""
        return (heard[0].conf or 0.0) >= SURE_UNBORNE and not self._goes_on(command)


def _called_for(meant: list[_Meant], written: list[str], goes_on: Callable[[Command], bool]) -> _Meant | None:
    """The likeliest command that no free words may follow, where one was called for but not understood: as
    many words are written as it has, or one more or less, or it was somebody's talk."""
    for heard, command, after in meant:
        if command and command.name not in _ANSWERS and not goes_on(command):
            sure = (heard[0].conf or 0.0) >= SURE_CALLED and abs(len(written) - len(after)) <= 1
            return (heard, command, after) if sure else None
    return None


def _after(words: list[str], phrase: list[str]) -> list[str]:
    """The words that follow what is most like ``phrase``."""
    said, count = "".join(phrase), len(phrase)
    places = range(max(1, len(words) - count + 1))
    best = max(places, key=lambda at: likeness("".join(words[at : at + count]), said))
    return words[best + count :]


def _lengths(phrase: Phrase, words: Sequence[str]) -> list[int]:
    """How many words may be the phrase: one more or less than it has, or all where nothing may follow."""
    count = len(phrase.words.split())
    if not phrase.open_end:
        return [len(words)] if abs(len(words) - count) <= 1 and words else []
    return [n for n in (count - 1, count, count + 1) if 0 < n <= len(words)]


def plain_words(text: str) -> list[str]:
    """Words in lower-case letters and digits; apostrophes go, dashes part."""
    return re.findall(r"[a-z0-9.]*[a-z0-9]", text.lower().replace("'", "").replace("’", ""))


def _original(text: str, to: int, begin: int = 0) -> str:
    """Words ``begin`` up to ``to`` of ``plain_words(text)``, as they stand in the text."""
    spans = [m.span() for m in re.finditer(r"[A-Za-z0-9.'’]*[A-Za-z0-9]", text)]
    if begin >= to or to > len(spans):
        return ""
    return text[spans[begin][0] : spans[to - 1][1]].strip(" ,.;")
