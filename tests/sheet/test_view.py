# ruff: noqa: E501  (expected lines are kept whole)
"""The sheet's words: every section is there, says what the record holds, and nothing said is dropped."""

from __future__ import annotations

import dataclasses

import pytest

from narrator.job.record import VehicleRow
from narrator.sheet.document import Facts, Items, Note, Table
from narrator.sheet.view import STATEMENT, view
from tests.sheet import golden

SHEET = view(golden.record(), golden.META)


def table(ident: str) -> list[list[str]]:
    block = next(b for b in SHEET.section(ident).blocks if isinstance(b, Table))
    return [[cell.text for cell in row] for row in block.rows]


def lines(ident: str) -> list[str]:
    return [item.text for b in SHEET.section(ident).blocks if isinstance(b, Items) for item in b.items]


def test_sections_in_order() -> None:
    assert [section.id for section in SHEET.sections] == [
        "job", "concern", "cause", "correction", "reasoning", "suspects", "tests", "readings", "work", "fasteners",
        "parts", "verification", "open", "look", "cautions", "notes", "sign",
    ]  # fmt: skip


def test_head_names_vehicle_shop_and_state() -> None:
    facts = SHEET.section("job").blocks[0]
    assert isinstance(facts, Facts)
    assert dict(facts.pairs)["Vehicle"] == "2013 Corvell Dray"
    assert dict(facts.pairs)["Odometer"] == "181,400 km"
    assert SHEET.shop == golden.META.shop
    assert SHEET.lead == (
        "The last check after the repair passed, as narrated. 1 FASTENER LEFT OVER. 4 items still open. 5 lines to look at."
    )


def test_a_vehicle_that_only_began_the_job_stands_in_the_head() -> None:
    record = golden.record().model_copy(update={"vehicle": VehicleRow()})
    assert view(record, golden.META).title == "Job sheet: vehicle not said"
    begun = view(record, dataclasses.replace(golden.META, vehicle="2009 Ardenna Volo"))
    assert begun.title == "Job sheet: 2009 Ardenna Volo"
    named = view(golden.record(), dataclasses.replace(golden.META, vehicle="2009 Ardenna Volo"))
    assert named.title == SHEET.title


def test_three_cs() -> None:
    assert lines("concern") == [
        "Twenty thirteen corvell dray comes in hot in traffic", "And the owner says the battery light flickers at night",
    ]  # fmt: skip
    assert lines("cause") == [
        "H4: Fan relay socket: burnt (by test T6); said: “Fan relay socket burnt, not passing current”",
        "H6: Ground strap: corroded (by test T8); said: “Engine ground strap corroded”",
        "H5: Fan relay: melted (as the technician stated; no test named); follows from H4",
        "H3: Fan motor: dead (called the cause at 02:19)",
    ]
    titles = [b.title for b in SHEET.section("cause").blocks if isinstance(b, Items)]
    assert titles == [
        "2 causes, each settled by the technician", "Consequences of a cause", "Called the cause, then withdrawn",
    ]  # fmt: skip
    assert lines("correction") == ["Replaced: fan relay socket", "Replaced: ground strap"]


def test_suspects_tell_how_each_ended_and_by_which_test() -> None:
    ended = {row[0]: row[2] for row in table("suspects")}
    assert ended == {
        "H1": "cleared; by test T1",
        "H2": "cleared; by test T5",
        "H3": "cleared; by test T4; after it had been called the cause",
        "H4": "confirmed as a cause; by test T6",
        "H5": "confirmed as a cause; as the technician stated; no test named; follows from H4",
        "H6": "confirmed as a cause; by test T8",
        "H7": "still open, not proved; no test settled it",
    }
    story = {row[0]: row[3].replace("\u00a0", " ") for row in table("suspects")}
    assert story["H2"] == (
        "00:40 opened, 01:20 contradicted by T2, 01:28 cleared, 03:24 reopened, 03:41 contradicted by T5, 03:49 cleared"
    )
    assert story["H3"].endswith("02:19 confirmed, 03:01 contradicted by T4, 03:10 withdrawn")


def test_a_long_statement_goes_by_its_component() -> None:
    record = golden.record()
    record.hypotheses[0].statement = "for the heat in traffic I suspect the thermostat or maybe the pump."
    block = next(b for b in view(record).section("suspects").blocks if isinstance(b, Table))
    assert block.rows[0][1].lines == (
        "Thermostat: stuck shut", "“For the heat in traffic I suspect the thermostat or maybe the pump”",
    )  # fmt: skip


def test_tests_show_readings_and_limits() -> None:
    rows = {row[0]: row for row in table("tests")}
    assert len(rows) == 10
    assert rows["T6"][3] == "4.1 V; limit 0.2 V or less (said by the technician); above"
    assert rows["T9"][3] == "0.04 V; limit 0.2 V or less (said by the technician); within"
    assert [rows[t][4] for t in ("T1", "T3", "T10")] == ["found good", "found bad", "not settled"]
    assert rows["T1"][6] == "unit supplied from context, needs a look"
    assert "P0480" in lines("tests")


def test_readings_keep_the_spoken_value_first() -> None:
    values = [row[2] for row in table("readings")]
    assert len(values) == len(golden.record().measurements) >= 20
    assert "25 N·m (18 ft·lbf)" in values
    assert "4.7 kΩ" in values
    times = [row[0] for row in table("readings")]
    assert times == sorted(times)


def test_left_over_fastener_stands_out() -> None:
    block = next(b for b in SHEET.section("fasteners").blocks if isinstance(b, Table))
    assert len(block.rows) == 8
    strong = [[c.text for c in row] for row in block.rows if any(c.strong for c in row)]
    assert [row[:5] for row in strong] == [
        ["T25 screw", "fuse box", "2", "1", "1 LEFT OVER: 1 of 2 narrated as refitted"]
    ]
    assert "7/16 in hex bolt" in [row[0].text for row in block.rows]


def test_parts_total_per_currency() -> None:
    assert lines("parts") == [
        "Total of the prices said: 130.90 USD", "Total of the prices said: 9.90 EUR", "1 part without a price",
    ]  # fmt: skip


def test_last_verification_decides() -> None:
    assert "Battery light still flickers: did not pass" in lines("verification")
    assert SHEET.section("verification").blocks[-1] == Note(
        "The last check after the repair passed, as narrated."
    )
    failed = golden.record()
    failed.verifications.append(failed.verifications[1])
    assert view(failed).lead.startswith("The last check after the repair did not pass")


def test_open_items_and_looks() -> None:
    assert "H7 is still a suspect: Radiator cap: weak" in lines("open")
    assert lines("look") == [
        "Unit supplied: degrees taken as °C: the vehicle counts in km",
        "Plausibility: 4.1 V is a large drop for one contact",
        "Corrected by a person to “part number FM7712 for the fan motor, 112.50”",
        "Word read as meant: “pants” as “pads”",
        "No sound until 05:52: microphone unplugged",
    ]


def test_nothing_said_is_dropped_but_asides() -> None:
    """Every line reaches the sheet in its words or through what a ledger made of it."""
    record = golden.record()
    text = "\n".join(SHEET.texts())
    silent = [
        u.id for u in record.utterances
        if u.acts != ["aside"] and (u.clean[:1].upper() + u.clean[1:]) not in text
        and not any(u.id in used for used in _derived(record))
    ]  # fmt: skip
    assert silent == []
    assert "lunch" not in text


def _derived(record: object) -> list[set[int]]:
    rows = golden.record()
    history = {c.utterance for h in rows.hypotheses for c in h.history}
    evidence = {e.utterance for h in rows.hypotheses for e in h.evidence}
    tests = {u for t in rows.tests for u in t.utterances}
    checks = {u for v in rows.verifications for u in v.utterances}
    others = {c.utterance for c in rows.cautions} | {o.utterance for o in rows.open_items}
    return [history, evidence, tests, checks, others]


def test_struck_lines_are_marked() -> None:
    record = golden.record()
    record.utterances[2].struck = True
    notes = [i.text for b in view(record).section("notes").blocks if isinstance(b, Items) for i in b.items]
    assert notes[0] == "One eighty one thousand four hundred k on the clock (struck by the technician)"


def test_every_line_has_its_time_and_how_sure() -> None:
    for ident in (
        "concern",
        "cause",
        "correction",
        "work",
        "verification",
        "open",
        "look",
        "cautions",
        "notes",
    ):
        for block in SHEET.section(ident).blocks:
            if isinstance(block, Items):
                assert all(item.time for item in block.items), ident
                assert all(item.sure for item in block.items if not item.text.startswith("No sound")), ident


def test_statement_decides_nothing() -> None:
    assert SHEET.statement == STATEMENT
    assert "decides no cause" in STATEMENT
    assert "declares no vehicle safe" in STATEMENT


def test_empty_record_says_so_everywhere() -> None:
    sheet = view(golden.empty())
    assert sheet.title == "Job sheet: vehicle not said"
    assert sheet.lead == "No check after the repair was narrated."
    notes = {s.id: b.text for s in sheet.sections for b in s.blocks if isinstance(b, Note)}
    assert notes["cause"] == "The technician settled no cause."
    assert set(notes) >= {
        "concern",
        "suspects",
        "tests",
        "readings",
        "work",
        "fasteners",
        "parts",
        "open",
        "look",
    }


def test_a_view_leaves_the_record_alone_and_is_pure() -> None:
    record = golden.record()
    before = record.model_dump_json()
    assert view(record, golden.META) == SHEET
    assert record.model_dump_json() == before


@pytest.mark.parametrize("sign", ["\x00", "\x1b", "\u202e", "\u2066", "\x9b"])
def test_signs_that_no_page_can_print_are_left_out(sign: str) -> None:
    record = golden.record()
    record.hypotheses[0].statement = f"thermo{sign}stat"
    sheet = view(record, dataclasses.replace(golden.META, shop=f"Shop{sign}"))
    assert all(sign not in text for text in sheet.texts())


def test_references_to_lines_that_are_missing_do_no_harm() -> None:
    record = golden.record()
    record.utterances = record.utterances[:1]
    assert view(record).section("suspects").blocks
