"""Builds what Vosk decodes with from words and a language model: ``HCLr.fst``, ``Gr.fst`` and their tables.

Needs kaldifst (PyPI) and Debian's libfst-tools with libfst22-plugins-base for the look-ahead format. The
pair is put together by Vosk at run time, so a grammar of phrases may take the place of ``Gr.fst``.
"""

from __future__ import annotations

import math
import os
import subprocess
import tempfile
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from pathlib import Path

import kaldifst

from models.train.export import tuples
from models.train.ngrams import END, START, Trigrams

PLUGINS = "/usr/lib/x86_64-linux-gnu/fst/22"
"""Where Debian keeps the library of the look-ahead format."""
UNKNOWN = "[unk]"
Arc = tuple[int, int, int, int, float]
HALF = -math.log(0.5)


def graph_phones(base: Sequence[str]) -> list[str]:
    """Phones by number as the graph has them: silence, noise, and each phone by its place in a word."""
    return ["<eps>", *base[:2], *(f"{phone}_{place}" for phone in base[2:] for place in "BEIS")]


def plain_of(base: Sequence[str]) -> dict[int, int]:
    """Graph phone to plain phone, by number."""
    number = {phone: i for i, phone in enumerate(base)}
    return {i: number[name.rsplit("_", 1)[0]] for i, name in enumerate(graph_phones(base)) if i}


class GraphBuilder:
    """One lexicon: word to its pronunciations as names of plain phones."""

    def __init__(self, base: Sequence[str], lexicon: Mapping[str, Sequence[Sequence[str]]]) -> None:
        self.base, self.names, self.plain = list(base), graph_phones(base), plain_of(base)
        self.lexicon = {**lexicon, UNKNOWN: [["SPN"]]}
        self.words = {word: i for i, word in enumerate(["<eps>", *sorted(self.lexicon), "#0"])}
        rows = tuples(self.plain, len(base))
        self._ids = {(graph, enter): 2 * i for i, (graph, _, enter, _) in enumerate(rows)}
        self._last_id = 2 * len(rows)

    def write(self, folder: Path, model: Trigrams) -> None:
        """Write ``graph/`` below ``folder``."""
        graph = folder / "graph"
        (graph / "phones").mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory() as scratch:
            work = Path(scratch)
            disambiguation = self._write_words(graph, work)
            relabelled = self._relabelled(work)
            self._write_grammar(graph, work, model)
        (graph / "disambig_tid.int").write_text("".join(f"{i}\n" for i in disambiguation))
        rows = sorted(
            ((relabelled.get(i, i), word) for word, i in self.words.items()), key=lambda row: row[0]
        )
        (graph / "words.txt").write_text("".join(f"{word} {i}\n" for i, word in rows), encoding="utf-8")
        kinds = {"SIL": "nonword", "SPN": "singleton"}
        places = {"B": "begin", "E": "end", "I": "internal", "S": "singleton"}
        lines = [f"{i} {kinds.get(n) or places[n[-1]]}\n" for i, n in enumerate(self.names) if i]
        (graph / "phones" / "word_boundary.int").write_text("".join(lines))

    def _write_words(self, graph: Path, work: Path) -> list[int]:
        """Phones in context to words (HCLr.fst); gives the ids of its disambiguation symbols."""
        lexicon, symbols = self._lexicon_fst()
        context, labels = kaldifst.compose_context(symbols, 2, 1, lexicon)
        kaldifst.arcsort(context, "ilabel")
        states, disambiguation = self._states(labels)
        whole = kaldifst.compose(states, context)
        kaldifst.determinize_star(whole)
        whole = self._with_loops(whole, disambiguation, work)
        kaldifst.arcsort(whole, "olabel")
        whole.write(str(work / "HCL.fst"))
        _run(["fstconvert", "--fst_type=olabel_lookahead", f"--save_relabel_opairs={work}/relabel",
              str(work / "HCL.fst"), str(graph / "HCLr.fst")])  # fmt: skip
        return disambiguation

    def _lexicon_fst(self) -> tuple[kaldifst.StdVectorFst, list[int]]:
        """Words as phones, silence after each or not; extra symbols tell apart what sounds alike."""
        spoken = [(word, self._placed(said)) for word, ways in self.lexicon.items() for said in ways]
        times = Counter(phones for _, phones in spoken)
        beginnings = {phones[:k] for _, phones in spoken for k in range(1, len(phones))}
        used: Counter[tuple[int, ...]] = Counter()
        first_symbol = len(self.names)
        arcs: list[Arc] = [(0, 1, 0, 0, HALF), (0, 2, 0, 0, HALF), (2, 3, 1, 0, 0.0)]
        state, most = 4, 0
        for word, phones in spoken:
            line = list(phones)
            if times[phones] > 1 or phones in beginnings:
                used[phones] += 1
                most = max(most, used[phones])
                line.append(first_symbol + used[phones])
            at = 1
            for place, phone in enumerate(line):
                out = self.words[word] if place == 0 else 0
                if place < len(line) - 1:
                    arcs.append((at, state, phone, out, 0.0))
                    at, state = state, state + 1
                else:
                    arcs += [(at, 1, phone, out, HALF), (at, 2, phone, out, HALF)]
        symbols = list(range(first_symbol, first_symbol + most + 2))
        arcs += [(3, 1, symbols[-1], 0, 0.0), (1, 1, symbols[0], self.words["#0"], 0.0)]
        fst = _compiled(arcs, {1: 0.0})
        kaldifst.determinize_star(fst)
        kaldifst.arcsort(fst, "ilabel")
        return fst, symbols

    def _placed(self, said: Sequence[str]) -> tuple[int, ...]:
        number = {name: i for i, name in enumerate(self.names)}
        if said == ["SPN"]:
            return (number["SPN"],)
        places = ["S"] if len(said) == 1 else ["B", *"I" * (len(said) - 2), "E"]
        return tuple(number[f"{phone}_{place}"] for phone, place in zip(said, places, strict=True))

    def _states(self, labels: Sequence[Sequence[int]]) -> tuple[kaldifst.StdVectorFst, list[int]]:
        """Transition ids of entering each phone in context; ids past the last for disambiguation symbols."""
        arcs: list[Arc] = []
        extra: list[int] = []
        for label, window in enumerate(labels):
            if len(window) == 0:
                continue
            if len(window) == 1 and window[0] <= 0:
                extra.append(self._last_id + 1 + len(extra))
                arcs.append((0, 0, extra[-1], label, 0.0))
                continue
            left = self.plain[window[0]] if len(window) > 1 and window[0] else 0
            graph = window[-1]
            enter = self._ids[graph, left * len(self.base) + self.plain[graph]] + 2
            arcs.append((0, 0, enter, label, 0.0))
        fst = _compiled(arcs, {0: 0.0})
        kaldifst.arcsort(fst, "olabel")
        return fst, extra

    def _with_loops(
        self, fst: kaldifst.StdVectorFst, extra: Sequence[int], work: Path
    ) -> kaldifst.StdVectorFst:
        """Let every state be held by the loop of the phone that entered it; states entered by several are
        split."""
        arcs, finals = _arcs(fst, work)
        silent = {0, *extra}
        entered: dict[int, set[int]] = defaultdict(set)
        entered[fst.start].add(0)
        for _, to, label, _, _ in arcs:
            entered[to].add(0 if label in silent else label)
        fresh = max(max(arc[0], arc[1]) for arc in arcs) + 1
        split: dict[tuple[int, int], int] = {}
        out: list[Arc] = []
        for origin, target, label, word, cost in arcs:
            to, weight = target, cost
            if label not in silent:
                weight += HALF
                if len(entered[to]) > 1:
                    if (to, label) not in split:
                        split[to, label] = fresh
                        out += [(fresh, to, 0, 0, 0.0), (fresh, fresh, label - 1, 0, HALF)]
                        fresh += 1
                    to = split[to, label]
            out.append((origin, to, label, word, weight))
        out += [(s, s, next(iter(k)) - 1, 0, HALF) for s, k in entered.items() if len(k) == 1 and 0 not in k]
        return _compiled(out, finals, fst.start)

    def _relabelled(self, work: Path) -> dict[int, int]:
        pairs = (line.split() for line in (work / "relabel").read_text().splitlines())
        return {int(a): int(b) for a, b in pairs}

    def _write_grammar(self, graph: Path, work: Path, model: Trigrams) -> None:
        """The language model (Gr.fst) with the words as HCLr.fst numbers them."""
        states = {history: i for i, history in enumerate(model.states())}
        arcs: list[Arc] = []
        finals: dict[int, float] = {}
        for history, state in states.items():
            for word in model.words_after(history):
                cost = -math.log(model.probability(history, word))
                if word == END:
                    finals[state] = cost
                else:
                    to = states[model.shortened((*history, word))]
                    arcs.append((state, to, self.words[word], self.words[word], cost))
            if history:
                arcs.append((state, states[model.shortened(history[1:])], 0, 0, -model.backoff(history)))
        _compiled(arcs, finals, states[START,]).write(str(work / "G.fst"))
        relabel = f"--relabel_ipairs={work}/relabel --relabel_opairs={work}/relabel"
        command = (
            f"fstrelabel {relabel} {work}/G.fst | fstarcsort --sort_type=ilabel | fstconvert --fst_type=const"
        )
        with (graph / "Gr.fst").open("wb") as file:
            subprocess.run(command, shell=True, check=True, stdout=file, env=_environment())


def _compiled(arcs: list[Arc], finals: Mapping[int, float], start: int = 0) -> kaldifst.StdVectorFst:
    """A transducer from arcs; its first line must leave the start state."""
    ordered = sorted(arcs, key=lambda arc: arc[0] != start)
    lines = [" ".join(map(str, arc)) for arc in ordered] + [f"{s} {cost}" for s, cost in finals.items()]
    return kaldifst.compile("\n".join(lines) + "\n")


def _arcs(fst: kaldifst.StdVectorFst, work: Path) -> tuple[list[Arc], dict[int, float]]:
    fst.write(str(work / "x.fst"))
    printed = subprocess.run(["fstprint", str(work / "x.fst")], capture_output=True, text=True, check=True)
    arcs: list[Arc] = []
    finals: dict[int, float] = {}
    for line in printed.stdout.splitlines():
        p = line.split()
        if len(p) <= 2:
            finals[int(p[0])] = float(p[1]) if len(p) > 1 else 0.0
        else:
            arcs.append((int(p[0]), int(p[1]), int(p[2]), int(p[3]), float(p[4]) if len(p) > 4 else 0.0))
    return arcs, finals


def _run(command: list[str]) -> None:
    subprocess.run(command, check=True, env=_environment())


def _environment() -> dict[str, str]:
    return {**os.environ, "LD_LIBRARY_PATH": PLUGINS}
