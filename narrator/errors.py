"""Coded errors: what went wrong, and what to do about it.

``CATALOGUE`` is the single list of codes; docs/errors.md is checked against it by a test. The hundreds
digit names the room: 1 sound files, 2 engines and models, 3 store, 4 utterances and records,
5 sheets and exports, 6 capture, 7 review, 8 training, 9 settings and vocabulary.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Entry:
    """One kind of error: a message template and the remedy, both filled with the same fields."""

    message: str
    remedy: str


CATALOGUE: dict[str, Entry] = {
    "E101": Entry(
        "{path} does not exist or cannot be read", "Check the name and that you may read the file."
    ),
    "E301": Entry(
        "{path} is in use by another program",
        "Wait until it has finished, or close it, and try again; nothing was changed.",
    ),
    "E302": Entry(
        "{path} is damaged or is not a database: {why}",
        "It was left as it is. Move it away and put a backup in its place.",
    ),
    "E303": Entry(
        "{path} was written by a newer version of narrator (schema {found}; this one knows {known})",
        "Install the newer version; the file was left as it is.",
    ),
    "E304": Entry(
        "{path} is the database of another program",
        "Set NARRATOR_HOME to a folder of narrator's own; the file was left as it is.",
    ),
    "E305": Entry("there is no session {session}", "`narrator sessions` lists those that are kept."),
    "E306": Entry("{session} could be any of {found}", "Give more letters of the id."),
    "E307": Entry(
        "no session is kept in {home} yet",
        "Put one there with `narrator add FILE`, or set NARRATOR_HOME to the folder that holds yours.",
    ),
    "E308": Entry(
        "{path} cannot be read or written: {why}",
        "Look at the free space and at who may write there; no half change was kept.",
    ),
    "E309": Entry("{path}: the database refused: {why}", "Nothing was changed; please report this."),
    "E310": Entry(
        "utterance {utterance} occurs twice in one session",
        "Give each utterance an id of its own; none was kept.",
    ),
    "E311": Entry(
        "session {session} has no utterance {utterance}", "`narrator show {session}` numbers its utterances."
    ),
    "E312": Entry(
        "session {session} is deleted, but traces of its text cannot be wiped while another program reads",
        "Close that program; the next command that writes finishes the wiping by itself.",
    ),
    "E313": Entry("there is no word to search for", "Give at least one word or number."),
    "E314": Entry(
        "utterance {utterance} has an id or a time that is out of range",
        "Ids are whole numbers below 2^63 and times finite numbers of seconds; nothing was kept.",
    ),
    "E315": Entry(
        "the sheet of session {session} is approved and locked",
        "Reopen it as a new revision in `narrator review`; nothing was changed.",
    ),
    "E316": Entry(
        "session {session} has not ended yet: a line can be added when nothing more is heard",
        "End the listening first; the next `narrator listen` ends one that broke off. Nothing was changed.",
    ),
    "E317": Entry("a line without a word cannot be added", "Say in words what was done or found."),
    "E102": Entry("{path} is empty", "Record it again, or give another file."),
    "E103": Entry(
        "{path} is not a sound file that can be read: {why}",
        "Give WAV, FLAC, Ogg (Vorbis or Opus) or MP3; convert anything else to one of these first.",
    ),
    "E104": Entry(
        "{path} ends early: {got:.1f} s of {expected:.1f} s are there",
        "What was there has been heard. If the whole recording exists elsewhere, copy it again.",
    ),
    "E105": Entry(
        "{path} is damaged {got:.1f} s from its start: {why}",
        "What came before has been heard. If a sound copy exists elsewhere, use that.",
    ),
    "E106": Entry(
        "{path} has {rate} samples a second, which cannot be used",
        "Record speech at 8000 samples a second or more.",
    ),
    "E107": Entry("{path} cannot be written: {why}", "Choose another place with --out."),
    "E108": Entry(
        "--out {path} is the sound file itself", "Name another file, so that the recording is kept."
    ),
    "E201": Entry(
        "no recognizer can be used: {why}",
        "Install narrator again with its dependencies, or a Vosk model with narrator models install PATH.",
    ),
    "E202": Entry("there is no engine called {engine}", "Use one of: {known}."),
    "E203": Entry(
        "the engine {engine} is not installed: {why}",
        "Install narrator again with its dependencies (for whisper: pip install 'narrator[whisper]'), "
        "or choose another --engine.",
    ),
    "E204": Entry(
        "there is no model for the engine {engine}: {why}",
        "See narrator models for what could be had; nothing is fetched without being asked.",
    ),
    "E205": Entry(
        "the model in {path} cannot be loaded: {why}",
        "Check it with narrator models verify, or install it again from its archive.",
    ),
    "E206": Entry(
        "these words of the grammar are not in the model: {words}",
        "Use other words: the model cannot hear these and would leave them out.",
    ),
    "E207": Entry(
        "the model in {path} has a fixed graph and takes no grammar",
        "Use a model with graph/HCLr.fst and graph/Gr.fst.",
    ),
    "E211": Entry(
        "{path} holds no usable model: {why}",
        "Give the zip file or the folder of a Vosk model, with am/final.mdl in it.",
    ),
    "E212": Entry(
        "{path} would write outside its own folder ({member}); nothing was unpacked",
        "Do not use this archive; get the model again from its source.",
    ),
    "E213": Entry(
        "a model called {name} is installed already, in {path}",
        "Remove or rename that folder first, or give another --name.",
    ),
    "E214": Entry(
        "{count} model file(s) do not match: {which}",
        "Install that model again; what it recognizes cannot be trusted.",
    ),
    "E215": Entry(
        "{path} unpacks to {needed_mb} MB but only {free_mb} MB are free",
        "Free some space, or set NARRATOR_HOME to a folder on a larger disk.",
    ),
    "E216": Entry("the model manifest {path} is not valid: {why}", "Mend it, or install narrator again."),
    "E217": Entry("{name} cannot be a model's name", "Use letters, digits, dots, dashes and underscores."),
    "E220": Entry(
        "that is no pronunciation: {wrong}",
        "Write phones with blanks between them: {phones}.",
    ),
    "E401": Entry(
        "line {line} is not an utterance: {why}",
        'Each line must be a JSON object with "id", "start", "end" and "text"; mend or remove that line.',
    ),
    "E403": Entry(
        "{source} has no utterance {utterance}", "Run the command without --utterance to see their numbers."
    ),
    "E402": Entry(
        "{path} holds no utterances", "Give a file with one JSON object a line (see docs/contract.md)."
    ),
    "E501": Entry("{path} cannot be written: {why}", "Choose another name or folder."),
    "E502": Entry("{path} exists already", "Choose another name, or move that file away."),
    "E520": Entry(
        "{path} cannot be written: {why}", "Choose another folder with --out; nothing else was changed."
    ),
    "E521": Entry(
        "the PDF cannot be set: {why}",
        "Use --format html,md,json and print the HTML page; please report this.",
    ),
    "E522": Entry(
        "{path} is not a job record: {why}",
        "Give a record from `narrator compile`, utterances as .jsonl, a sound file or a session's id.",
    ),
    "E523": Entry("there is no format {name}", "Choose from {known}, separated by commas."),
    "E701": Entry("the sheet of session {session} is open already", "Correct it as it is."),
    "E702": Entry(
        "the review page cannot listen on {address} port {port}: {why}",
        "Give another --port, or close the program that uses it.",
    ),
    "E703": Entry("{address} is not an address of this machine", "Give an IP address, such as 192.168.1.20."),
    "E601": Entry(
        "sound input cannot be used: {why}",
        "Install PortAudio (Debian and Ubuntu: apt install libportaudio2), then try again.",
    ),
    "E602": Entry(
        "there is no microphone called {name} (there are: {known})",
        "`narrator microphones` lists them; a part of the name will do if only one has it.",
    ),
    "E603": Entry(
        "{name} cannot be opened: {why}",
        "See that it is plugged in and that no other program holds it; `narrator microphones` lists them.",
    ),
    "E604": Entry(
        "another narrator is already listening in {home}",
        "End that one first, or set NARRATOR_HOME to another folder.",
    ),
    "E605": Entry(
        "sound cannot be kept in {path}: {why}",
        "Free some space and see that narrator may write there; what was kept until now is safe.",
    ),
    "E606": Entry(
        "the recognizer {engine} stopped: {why}",
        "It is started again by itself; what was said meanwhile is on the tape and is heard then.",
    ),
    "E607": Entry(
        "the sound in {path} is damaged: {why}",
        "It was left as it is. Put it back from a backup if you have one; the text is not touched.",
    ),
    "E609": Entry(
        "the grammar of spoken commands {path} is not valid: {why}",
        "Mend it (docs/listening.md), or move the file away to use the one that comes along.",
    ),
    "E608": Entry("nothing can be spoken: {why}", "Install the extra: pip install 'narrator[speak]'."),
    "E801": Entry(
        "this needs {library}, which is not installed",
        "Install it with pip install 'narrator[{extra}]', and ask again.",
    ),
    "E802": Entry(
        "the kept searches in {path} cannot be read: {why}", "Mend that file, or move it away and save anew."
    ),
    "E803": Entry("no search called {name!r} is kept", "Kept are: {known}."),
    "E804": Entry(
        "no job has all that was asked ({asked})", "Ask for less, or look with `narrator sessions`."
    ),
    "E805": Entry(
        "{given!r} is not a prior", "Write COMPONENT=WEIGHT with a weight above 0, as in battery=3."
    ),
    "E806": Entry(
        "nothing was suspected or tested in {session}", "Choose another job: this one holds no decision."
    ),
    "E807": Entry("{what}", "See narrator export --help."),
    "E808": Entry(
        "no day is from {since} on and up to {until}", "Give --since a day that is not later than --until."
    ),
    "E820": Entry(
        "no worker can be reached at {address}: {why}",
        "Start a scheduler and workers (dask scheduler, dask worker), or use --workers on this machine.",
    ),
    "E821": Entry(
        "workers have other rules ({other}) than this narrator ({ours})",
        "Install the same narrator on every worker, with the same settings and words of the shop.",
    ),
    "E822": Entry(
        "{what} ended one worker after the other ({why})",
        "Do that one alone without workers to see why; what came before it is kept.",
    ),
    "E823": Entry("no sound of session {session} was kept", "Choose a session that has sound."),
    "E824": Entry("--workers and --scheduler exclude each other", "Give one of them."),
    "E810": Entry(
        "`narrator {command}` failed while it was measured: {why}",
        "Run that command alone to see what it needs; engines that are not installed cannot be measured.",
    ),
    "E901": Entry("the settings file {path} is not valid: {why}", "Mend that line, or move the file away."),
    "E910": Entry(
        "{name!r} holds no word: there is no letter in it",
        "Give the name as it is said, in letters; sizes and numbers are understood without being added.",
    ),
    "E911": Entry("{kind!r} is not a kind of word (given for {name!r})", "Choose one of: {kinds}."),
    "E912": Entry(
        "the vocabulary file {path} is not valid: {why}",
        "Mend that line (see docs/vocabulary.md), or move the file away and add the words anew.",
    ),
    "E913": Entry(
        "the vocabulary file {path} cannot be written: {why}", "Free space or mend the permissions."
    ),
    "E914": Entry(
        "the pronunciation {said!r} does not fit {name!r}, which has {count} word(s)",
        "Give the phones of each word, a comma between words, such as 'F L AA B ER, V AE L V'.",
    ),
    "E915": Entry(
        "{name!r} is not among the shop's words in {path}",
        "Run 'narrator vocabulary list --shop' to see them.",
    ),
}


class NarratorError(Exception):
    """An error with a code of ``CATALOGUE``; ``str()`` gives code, message and remedy on two lines."""

    def __init__(self, code: str, **fields: object) -> None:
        entry = CATALOGUE[code]
        self.code = code
        self.message = entry.message.format(**fields)
        self.remedy = entry.remedy.format(**fields)
        super().__init__(f"{code}: {self.message}\n  {self.remedy}")

    def __reduce__(self) -> tuple[Any, ...]:
        """What travels between processes: the texts, whatever the fields were."""
        return NarratorError.again, (self.code, self.message, self.remedy)

    @classmethod
    def again(cls, code: str, message: str, remedy: str) -> NarratorError:
        """The same error in another process."""
        error = cls.__new__(cls)
        error.code, error.message, error.remedy = code, message, remedy
        Exception.__init__(error, f"{code}: {message}\n  {remedy}")
        return error
