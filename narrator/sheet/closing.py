"""The sections that close a sheet: verification, what is open, what needs a look, cautions, notes."""

from __future__ import annotations

from narrator.job.record import Record
from narrator.sheet.cautions import raised
from narrator.sheet.document import Block, Item, Items, Note, Section
from narrator.sheet.words import VERIFIED, Said, clock, counted, phrase, sentence, suspect_name
from narrator.sheet.work import outcome

_STRUCK = " (struck by the technician)"
_KINDS = {"repair": "Word read as meant", "unit": "Unit supplied", "number": "Number", "low": "Poorly heard"}


def verification(record: Record, said: Said) -> Section:
    """Checks after the repair in order; the last one decides how the job ended."""
    items = tuple(
        Item(f"{phrase(row.text)}: {VERIFIED[row.outcome]}", said.time(*row.utterances),
             said.sure(row.utterances), row.outcome == "fail")
        for row in record.verifications
    )  # fmt: skip
    blocks: tuple[Block, ...] = (
        (Items("", items), Note(outcome(record))) if items else (Note(outcome(record)),)
    )
    return Section("verification", "Verification", blocks)


def still_open(record: Record, said: Said) -> Section:
    """What is still to be done, and suspects that nothing settled."""
    items = [
        Item(sentence(row.text), said.time(row.utterance), said.sure([row.utterance]))
        for row in record.open_items
    ]
    items += [
        Item(f"{h.id} is still a suspect: {suspect_name(h)}",
             said.time(*(c.utterance for c in h.history[-1:])), said.sure([c.utterance for c in h.history]))
        for h in record.hypotheses if h.status == "open"
    ]  # fmt: skip
    block: Block = Items("", tuple(items)) if items else Note("Nothing was narrated as left open.")
    return Section("open", "Still open", (block,))


def looks(record: Record, said: Said) -> Section:
    """What a person should look at before signing: doubts, words read as meant, gaps in the sound."""
    items = [Item(_look(row.kind, row.reason), said.time(row.utterance), _heard(said, row.utterance))
             for row in record.looks]  # fmt: skip
    looked = {(row.utterance, row.span) for row in record.looks}
    for row in record.utterances:
        items += [
            Item(f"Word read as meant: “{r.heard}” as “{r.meant}”", said.time(row.id), _heard(said, row.id))
            for r in row.repairs
            if (row.id, r.span) not in looked
        ]
        if row.added and row.struck:  # taken back: nobody said it
            continue
        if row.added:
            items.append(Item(f"Added by a person, not said: “{row.text}”", said.time(row.id)))
        if row.corrected:
            items.append(
                Item(f"Corrected by a person to “{row.corrected}”", said.time(row.id), _heard(said, row.id))
            )
    for unit in (m for m in record.measurements if not m.unit_said):
        text = f"Unit supplied from context: {unit.quantity.replace('_', ' ')} taken as {unit.unit}"
        if not any(k.utterance == unit.utterance and "unit" in k.kind for k in record.looks):
            items.append(Item(text, said.time(unit.utterance), _heard(said, unit.utterance)))
    items += [Item(f"No sound until {clock(gap.end)}: {gap.reason}", clock(gap.start)) for gap in record.gaps]
    block: Block = Items("", tuple(items)) if items else Note("Nothing was marked for a look.")
    return Section("look", "Needs a look before signing", (block,))


def _look(kind: str, reason: str) -> str:
    return f"{_KINDS.get(kind, sentence(kind.replace('_', ' ')))}: {reason}"


def _heard(said: Said, utterance: int) -> str:
    row = said.rows.get(utterance)
    return f"{'added' if row.added else 'heard'}: “{row.text}”" if row else ""


def cautions(record: Record, said: Said) -> Section:
    """Warnings as spoken, then the usual ones for the topics touched, each with its authority."""
    spoken = tuple(
        Item(sentence(row.text), said.time(row.utterance), said.sure([row.utterance]))
        for row in record.cautions
    )
    blocks: list[Block] = [Items("Spoken", spoken) if spoken else Note("No caution was spoken.")]
    usual = tuple(
        Item(f"{r.caution.topic}: {r.caution.line} Authority: {r.caution.authority}.",
             said.time(r.utterance), f"raised by “{r.phrase}”")
        for r in raised(record)
    )  # fmt: skip
    if usual:
        blocks.append(Items("Usual for what was touched (added by the program, not spoken)", usual))
    return Section("cautions", "Cautions", tuple(blocks))


def notes(record: Record, said: Said) -> Section | None:
    """What was said and stands nowhere else on the sheet; asides stay off it."""
    used = placed(record)
    items = tuple(
        Item(
            said.text(u.id) + (" (struck by the technician)" if u.struck else ""),
            said.time(u.id),
            said.sure([u.id]),
        )
        for u in record.utterances
        if u.id not in used and u.acts != ["aside"] and said.text(u.id) and not (u.added and u.struck)
    )
    asides = sum(1 for u in record.utterances if u.acts == ["aside"])
    blocks: list[Block] = [Items("", items)] if items else []
    if asides:
        blocks.append(
            Note(f"{counted(asides, 'line')} of talk beside the job left off this sheet; kept in the record.")
        )
    return Section("notes", "Also said", tuple(blocks)) if blocks else None


def placed(record: Record) -> set[int]:
    """Utterances whose words already stand on the sheet in another section."""
    used = {u.id for u in record.utterances if "concern" in u.acts and not u.struck}
    used |= {step.utterance for step in record.steps}
    used |= {caution.utterance for caution in record.cautions}
    used |= {item.utterance for item in record.open_items}
    lists = [t.utterances for t in record.tests] + [v.utterances for v in record.verifications]
    lists += [c.utterances for c in record.corrections]
    used |= {utterance for row in lists for utterance in row}
    for suspect in record.hypotheses:
        used |= {change.utterance for change in suspect.history}
        used |= {evidence.utterance for evidence in suspect.evidence}
    return used
