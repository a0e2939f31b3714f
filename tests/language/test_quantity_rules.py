"""Every rule of the grammars about numbers is used in its example and not in its counterexample."""

from __future__ import annotations

import pytest

from narrator.language.figures import figures_of
from narrator.language.numberwords import RULE_OF
from narrator.language.tables import Table, rules
from narrator.values import Measurement
from tests.language.quantity_notation import SORTS, render, session

FILES = ("numbers", "units", "fasteners", "quantities", "limits", "money", "spelling", "vehicle", "dtc")
RULES = [(name, rule) for name in FILES for rule in rules(name)]


def used_rules(text: str) -> set[str]:
    """The ids of the rules that took part in reading one utterance."""
    notes = session([text])[0]
    found = {entity.rule for entity in notes.entities} | {repair.rule for repair in notes.repairs}
    found |= {rule.removeprefix("unsaid.") for rule in found}
    found |= set(notes.scratch.get("fired", ()))  # type: ignore[call-overload]
    found |= {
        RULE_OF[word]
        for f in figures_of(notes).all
        for word in notes.words[f.start : f.end]
        if word in RULE_OF
    }
    if notes.scratch.get("dropped"):
        found.add("dropped")
    return found


def held(text: str) -> list[str]:
    notes = session([text])[0]
    return [render(e) for e in sorted(notes.entities, key=lambda e: e.at) if isinstance(e, SORTS)]


@pytest.mark.parametrize("rule", [r for _, r in RULES], ids=[r["id"] for _, r in RULES])
def test_example_and_counterexample(rule: Table) -> None:
    if rule["id"].startswith("band."):
        assert any(look.kind == "band" for look in session([rule["example"]])[0].looks)
        assert not any(look.kind == "band" for look in session([rule["not"]])[0].looks)
    elif "gives" in rule:
        assert (held(rule["example"]), held(rule["not"])) == (rule["gives"], rule["gives_not"])
    else:
        assert rule["id"] in used_rules(rule["example"])
        assert rule["id"] not in used_rules(rule["not"])


def test_ids_are_unique() -> None:
    ids = [rule["id"] for _, rule in RULES]
    assert len(ids) == len(set(ids))


def test_a_unit_left_unsaid_is_marked() -> None:
    found = session(["the battery sits at twelve point four"])[0].entities
    assert [(e.unit, e.unit_said) for e in found if isinstance(e, Measurement)] == [("V", False)]
