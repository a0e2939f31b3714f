"""Fuzz understanding, the ledgers, what is queued for a look, and the sheet.

    python -m tests.fuzz.understanding [CORPUS] [-max_total_time=SECONDS]

Needs ``pip install atheris``. The input is taken for UTF-8, each line for an utterance; bytes that are none
are replaced, as ``narrator compile`` does. It must never crash, and the record must keep to its JSON Schema.
A failing input is left in a file named ``crash-...``; give that file as an argument to see it again.
"""

from __future__ import annotations

import random
import sys
import tomllib

import atheris
import jsonschema

with atheris.instrument_imports(include=["narrator"]):
    from narrator.job.compile import compile_record
    from narrator.job.record import Record
    from narrator.language import Reader
    from narrator.looks import queue
    from narrator.paths import GRAMMARS, SAMPLE_SESSIONS
    from narrator.sheet.html import render_html
    from narrator.sheet.view import view
    from narrator.utterances import parse_lines

from narrator.values import Utterance

VALIDATOR = jsonschema.Draft202012Validator(Record.model_json_schema(mode="serialization"))
TEXTS = [
    one.text
    for path in sorted(SAMPLE_SESSIONS.glob("*/utterances.jsonl"))
    for one in parse_lines(path.read_text(encoding="utf-8").splitlines())
]
TEXTS += [
    text
    for path in sorted((GRAMMARS / "cues").glob("*.toml"))
    for cue in tomllib.loads(path.read_text(encoding="utf-8"))["cue"]
    for text in (*cue["yes"], *cue["no"])
]
WORDS = sorted({word for text in TEXTS for word in text.split()})
_LONGEST = 4_000


def one_input(data: bytes) -> None:
    """Understand and compile one session; any exception is a find."""
    text = data[:_LONGEST].decode("utf-8", "replace")
    lines = text.split("\n")
    said = [Utterance(n, n * 3.0, n * 3.0 + 2.5, line) for n, line in enumerate(lines, start=1)]
    understood = list(Reader().read(said))
    record = compile_record(understood, rules="")
    assert [row.text for row in record.utterances] == lines
    for row in record.utterances:
        for entity in row.entities:
            start, end = entity["span"]
            assert 0 <= start < end <= len(row.text)
    VALIDATOR.validate(record.model_dump(mode="json"))
    assert {one.utterance for one in queue(understood, record, said)} <= {one.id for one in said}
    assert "</html>" in render_html(view(record))


def mutate(data: bytes, most: int, seed: int) -> bytes:
    """Half of the time words of the trade are put in, left out or doubled, else bytes are changed."""
    chance = random.Random(seed)
    if chance.random() < 0.5:
        return bytes(atheris.Mutate(data, most))
    words = data.decode("utf-8", "replace").split(" ")
    for _ in range(chance.randint(1, 4)):
        at = chance.randrange(len(words) + 1)
        what = chance.random()
        if what < 0.5:
            words.insert(at, chance.choice(WORDS))
        elif what < 0.7:
            words.insert(at, chance.choice(TEXTS))
        elif what < 0.85 and words:
            words.insert(at, chance.choice(words) + chance.choice(["", "\n", "'s", "-", "/", "0"]))
        elif words:
            del words[min(at, len(words) - 1)]
    if chance.random() < 0.2:
        words = words[: chance.randint(0, len(words))]  # a rule that looks ahead must see where the line ends
    return " ".join(words).encode("utf-8", "surrogatepass")[:most]


def main() -> None:
    """Run until told to stop or something is found."""
    atheris.Setup(sys.argv, one_input, custom_mutator=mutate)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
