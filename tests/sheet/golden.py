# ruff: noqa: E501  (tables of data read better a row a line)
"""Hand-written records for the sheet's tests. Everything in them is invented: vehicle, people, numbers."""

from __future__ import annotations

from typing import Any

from narrator.job.record import Record
from narrator.sheet.view import SheetMeta

META = SheetMeta("Example Shop (invented)", "25 November 2026", "S-0042", "R. Invented")

# start, text, acts; ids count from 1
LINES: list[tuple[float, str, str]] = [
    (3, "twenty thirteen corvell dray comes in hot in traffic", "concern"),
    (9, "and the owner says the battery light flickers at night", "concern"),
    (15, "one eighty one thousand four hundred k on the clock", ""),
    (22, "up on stands before I go under it", "caution step"),
    (31, "first thought is the thermostat stuck shut", "hypothesis"),
    (40, "could be the water pump too", "hypothesis"),
    (58, "bottom hose is hot at eighty eight degrees and the top is ninety one", "test result"),
    (66, "so the thermostat opens it is not that", "ruled_out"),
    (80, "no play in the pump and no weep from the hole", "test result"),
    (88, "water pump is out of it", "ruled_out"),
    (102, "the fan never came on at a hundred and four degrees", "observation"),
    (115, "fan plug shows zero point two volts with the fan commanded on", "test result"),
    (130, "jumped the fan to the battery and it draws nothing at first", "test result"),
    (139, "fan motor is dead that's the cause", "confirmed"),
    (150, "part number f m seven seven one two for the fan motor a hundred and twelve fifty", "part"),
    (166, "four ten mil bolts out of the fan shroud", "step"),
    (181, "hang on wiggled the jumper lead and the fan spins fine nine point five amps", "test result"),
    (190, "so the fan motor is good scrap that", "ruled_out"),
    (204, "which makes me look at the water pump again", "hypothesis"),
    (221, "flow in the neck is strong at two thousand", "test result"),
    (229, "right pump is fine for good this time", "ruled_out"),
    (240, "maybe the relay socket is not passing current", "hypothesis"),
    (262, "drop across the relay socket is four point one volts should be under point two", "test result"),
    (270, "there it is burnt relay socket", "confirmed"),
    (279, "relay body is melted from it", "observation"),
    (286, "that's only because the socket ran hot", "confirmed"),
    (300, "two seven mil nuts off the fuse box and two torx twenty five screws", "step"),
    (318, "cut the old socket out and splice the new one in", "step"),
    (340, "socket is r s four four zero eighteen forty and the relay is nine ninety", "part"),
    (360, "two nuts back and one of the screws I dropped the other one", "step"),
    (372, "shroud bolts back in at eight newton metres", "step"),
    (390, "fan comes on at ninety six now and it sits at ninety three", "verification"),
    (402, "but the battery light is still flickering", "verification"),
    (415, "charging at twelve point eight with the lights on", "test result"),
    (430, "suspect the ground strap on the engine", "hypothesis"),
    (452, "one point three volts between the block and the battery negative", "test result"),
    (460, "ground strap is green and half gone that's the second one", "confirmed"),
    (475, "thirteen mil bolt at each end of the strap so two off", "step"),
    (488, "clean the block to bright metal", "step"),
    (500, "new strap on two bolts at twenty five newton metres", "step"),
    (512, "point zero four volts now across it", "test result"),
    (530, "pads are at six mil by the way front left", "observation"),
    (541, "cap held fifteen psi for two minutes lost one", "test result"),
    (549, "cap might be tired but I can't prove it", "hypothesis"),
    (560, "six push clips and one clamp back on the undertray and the air duct", "step"),
    (575, "four wheel nuts nineteen mil back at a hundred and ten newton metres", "step"),
    (590, "road test twenty minutes stays at ninety two and no light", "verification"),
    (602, "code p zero four eight zero cleared and it stays away", "verification"),
    (615, "order a cap and ring the owner about the pads", "plan"),
    (622, "what's for lunch", "aside"),
]  # fmt: skip


def record() -> Record:
    """The rich record: seven suspects, two independent causes, one withdrawn, ten tests."""
    return Record.model_validate(
        {
            "rules": "golden-1",
            "vehicle": {
                "year": 2013, "make": "Corvell", "model": "Dray", "vin": "9ZZDRAY07D0000421", "vin_check": None,
                "odometer": {"value": 181400, "unit": "km"},
            },
            "utterances": _utterances(),
            "hypotheses": _suspects(),
            "tests": _tests(),
            "corrections": [
                {"action": "replace", "component": "fan relay socket", "utterances": [28]},
                {"action": "replace", "component": "ground strap", "utterances": [40]},
            ],
            "verifications": [
                {"text": "fan comes on at 96 °C", "outcome": "pass", "utterances": [32]},
                {"text": "battery light still flickers", "outcome": "fail", "utterances": [33]},
                {"text": "road test, 20 minutes, 92 °C, no light", "outcome": "pass", "utterances": [47]},
                {"text": "P0480 cleared and stays away", "outcome": "pass", "utterances": [48]},
            ],
            "fasteners": _fasteners(),
            "parts": _parts(),
            "measurements": _readings(),
            "open_items": [
                {"text": "order a radiator cap", "utterance": 49},
                {"text": "ring the owner about the front pads", "utterance": 49},
                {"text": "1 torx screw of the fuse box dropped, not found", "utterance": 30},
            ],
            "steps": [
                {"text": LINES[n - 1][1], "utterance": n} for n in (16, 27, 28, 30, 31, 38, 39, 40, 45, 46)
            ],
            "cautions": [{"text": "up on stands before going under", "utterance": 4}],
            "looks": [
                {"kind": "unit", "reason": "degrees taken as °C: the vehicle counts in km", "utterance": 7, "span": [22, 42]},
                {"kind": "plausibility", "reason": "4.1 V is a large drop for one contact", "utterance": 23, "span": None},
            ],
            "gaps": [{"start": 345.0, "end": 352.5, "reason": "microphone unplugged"}],
        }
    )  # fmt: skip


def _utterances() -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = [
        {
            "id": n,
            "start": start,
            "end": start + 4.0,
            "text": text,
            "clean": text,
            "acts": acts.split(),
            "entities": [],
        }
        for n, (start, text, acts) in enumerate(LINES, start=1)
    ]
    rows[41]["repairs"] = [{"span": [0, 4], "heard": "pants", "meant": "pads", "rule": "shop.1"}]
    rows[41]["text"] = "pants are at six mil by the way front left"
    rows[47]["entities"] = [{"type": "dtc", "code": "P0480", "span": [5, 26], "rule": "dtc"}]
    rows[14]["clean"] = rows[14]["corrected"] = "part number FM7712 for the fan motor, 112.50"
    return rows


def _suspects() -> list[dict[str, Any]]:
    def row(
        ident: str, statement: str, component: str, history: str, evidence: str = "", **more: Any
    ) -> dict[str, Any]:
        """History ``open@5 ruled_out@8``; evidence ``-T1@7`` (contradicts by T1) or ``+@11``."""
        changes = [dict(zip(("status", "utterance"), h.split("@"), strict=True)) for h in history.split()]
        proofs = [
            {"stance": "supports" if e[0] == "+" else "contradicts", "test": e[1:].split("@")[0] or None,
             "utterance": int(e.split("@")[1])}
            for e in evidence.split()
        ]  # fmt: skip
        return {
            "id": ident, "statement": statement, "component": component, "status": changes[-1]["status"],
            "history": changes, "evidence": proofs, **more,
        }  # fmt: skip

    return [
        row("H1", "thermostat stuck shut", "thermostat", "open@5 ruled_out@8", "-T1@7", fault="stuck shut"),
        row(
            "H2",
            "water pump worn",
            "water pump",
            "open@6 ruled_out@10 open@19 ruled_out@21",
            "-T2@9 -T5@20",
            fault="worn",
        ),
        row(
            "H3",
            "fan motor dead",
            "fan motor",
            "open@11 confirmed@14 ruled_out@18",
            "+@11 +T3@13 -T4@17",
            fault="dead",
        ),
        row(
            "H4",
            "fan relay socket burnt, not passing current",
            "fan relay socket",
            "open@22 confirmed@24",
            "+T6@23",
            fault="burnt",
        ),
        row(
            "H5",
            "fan relay melted",
            "fan relay",
            "open@25 confirmed@26",
            "+@25",
            consequence_of="H4",
            fault="melted",
        ),
        row(
            "H6",
            "engine ground strap corroded",
            "ground strap",
            "open@35 confirmed@37",
            "+T7@34 +T8@36",
            fault="corroded",
        ),
        row("H7", "radiator cap weak", "radiator cap", "open@44", "-T10@43", fault="weak"),
    ]


def _tests() -> list[dict[str, Any]]:
    def row(
        n: int, procedure: str, component: str, result: str, outcome: str, bears: str, *uses: int
    ) -> dict[str, Any]:
        return {
            "id": f"T{n}", "procedure": procedure, "component": component, "result": result, "outcome": outcome,
            "hypotheses": bears.split(), "utterances": list(uses),
        }  # fmt: skip

    return [
        row(1, "compare hose temperatures", "thermostat", "88 and 91 °C", "pass", "H1", 7),
        row(2, "check pump for play and weep", "water pump", "no play, no weep", "pass", "H2", 9),
        row(3, "jump fan to battery", "fan motor", "draws nothing at first", "fail", "H3", 12, 13),
        row(4, "jump fan again with a good lead", "fan motor", "spins, 9.5 A", "pass", "H3", 17),
        row(5, "look at the flow in the filler neck", "water pump", "strong at 2000 rpm", "pass", "H2", 20),
        row(6, "voltage drop across relay socket", "fan relay socket", "4.1 V", "fail", "H4", 23),
        row(7, "charging voltage with lights on", "charging system", "12.8 V", "fail", "H6", 34),
        row(8, "voltage drop, block to battery negative", "ground strap", "1.3 V", "fail", "H6", 36),
        row(9, "voltage drop across new strap", "ground strap", "0.04 V", "pass", "H6", 41),
        row(10, "pressure test the cap", "radiator cap", "lost 1 psi in 2 min", "inconclusive", "H7", 43),
    ]


def _fasteners() -> list[dict[str, Any]]:
    def row(
        kind: str, size: str, where: str | None, off: int, on: int, *uses: int, drive: str | None = None
    ) -> dict[str, Any]:
        value, _, unit = size.partition(" ")
        return {
            "kind": kind, "size": {"value": float(value), "unit": unit} if size else None, "drive": drive,
            "location": where, "removed": off, "installed": on, "utterances": list(uses),
        }  # fmt: skip

    return [
        row("bolt", "10 mm", "fan shroud", 4, 4, 16, 31),
        row("nut", "7 mm", "fuse box", 2, 2, 27, 30),
        row("screw", "25 T", "fuse box", 2, 1, 27, 30, drive="torx"),
        row("bolt", "13 mm", "ground strap", 2, 2, 38, 40),
        row("clip", "", "undertray", 6, 6, 45),
        row("clamp", "", "air duct", 1, 1, 45),
        row("nut", "19 mm", "wheel, front left", 4, 4, 46),
        row("bolt", "0.4375 in", None, 1, 1, 28, drive="hex"),
    ]


def _parts() -> list[dict[str, Any]]:
    return [
        {"name": "fan motor", "number": "FM7712", "price": {"amount": "112.50", "currency": "USD"}, "state": "received", "utterances": [15]},
        {"name": "fan relay socket", "number": "RS440", "price": {"amount": "18.40", "currency": "USD"}, "state": "fitted", "utterances": [29]},
        {"name": "fan relay", "number": None, "price": {"amount": "9.90", "currency": "EUR"}, "state": "fitted", "utterances": [29]},
        {"name": "radiator cap", "number": None, "price": None, "state": "needed", "utterances": [49]},
    ]  # fmt: skip


def _readings() -> list[dict[str, Any]]:
    def row(
        use: int,
        quantity: str,
        value: float,
        unit: str,
        component: str | None,
        condition: str | None = None,
        **more: Any,
    ) -> dict[str, Any]:
        return {
            "quantity": quantity, "value": value, "unit": unit, "component": component, "condition": condition,
            "utterance": use, **more,
        }  # fmt: skip

    under = {"low": None, "high": 0.2, "unit": "V", "source": "said by the technician"}
    return [
        row(7, "temperature", 88, "Cel", "bottom hose", unit_said=False),
        row(7, "temperature", 91, "Cel", "top hose", unit_said=False),
        row(11, "temperature", 104, "Cel", "coolant", "fan off"),
        row(12, "voltage", 0.2, "V", "fan plug", "fan commanded on"),
        row(13, "current", 0, "A", "fan motor", "jumped to battery"),
        row(17, "current", 9.5, "A", "fan motor", "jumped to battery, good lead"),
        row(20, "speed", 2000, "rpm", "engine"),
        row(23, "voltage", 4.1, "V", "fan relay socket", "voltage drop", limit=under),
        row(23, "voltage", 0.2, "V", "fan relay socket", "voltage drop", role="limit"),
        row(31, "torque", 8, "N.m", "shroud bolt", role="setting"),
        row(32, "temperature", 96, "Cel", "fan", "comes on"),
        row(32, "temperature", 93, "Cel", "coolant", "after repair"),
        row(34, "voltage", 12.8, "V", "charging system", "lights on"),
        row(36, "voltage", 1.3, "V", "ground strap", "voltage drop"),
        row(40, "torque", 25, "N.m", "ground strap bolt", role="setting"),
        row(41, "voltage", 0.04, "V", "ground strap", "new", limit=under),
        row(42, "length", 6, "mm", "brake pad", "front left"),
        row(43, "pressure", 15, "psi", "radiator cap", "held 2 minutes"),
        row(43, "pressure", 1, "psi", "radiator cap", "lost in 2 minutes"),
        row(46, "torque", 110, "N.m", "wheel nut", role="setting"),
        row(47, "temperature", 92, "Cel", "coolant", "road test, 20 minutes"),
        row(43, "resistance", 4.7, "kOhm", "coolant sensor", "warm"),
    ]


def empty() -> Record:
    """A record of nothing."""
    nothing: dict[str, Any] = {
        name: [] for name in ("utterances", "hypotheses", "tests", "corrections", "verifications", "fasteners",
                              "parts", "measurements", "open_items")
    }  # fmt: skip
    return Record.model_validate({"rules": "golden-1", "vehicle": {}, **nothing})


NASTY = '<script>alert(1)</script> & #set page(fill: red) *bold* _it_ [x](http://e.invalid) | $x$ `code` \\ "q" ~ @r'


def nasty() -> Record:
    """The rich record with markup of every kind in every text that can hold it."""

    def spoil(value: Any, key: str = "") -> Any:
        if isinstance(value, dict):
            return {k: spoil(v, k) for k, v in value.items()}
        if isinstance(value, list):
            return [spoil(v, key) for v in value]
        free = {"text", "clean", "statement", "procedure", "result", "component", "location", "name", "reason",
                "condition", "heard", "meant", "make", "model", "kind", "number", "drive", "source", "corrected"}  # fmt: skip
        return f"{value} {NASTY}" if isinstance(value, str) and key in free else value

    return Record.model_validate(spoil(record().model_dump()))


def huge(utterances: int = 1000) -> Record:
    """A long session: the rich one's lines over and over, with as many suspects and tests as it would have."""
    base = record().model_dump()
    rounds = utterances // len(LINES)
    out: dict[str, Any] = {**base, "looks": [], "gaps": []}
    lists = ("utterances", "hypotheses", "tests", "corrections", "verifications", "fasteners", "parts",
             "measurements", "open_items", "steps", "cautions")  # fmt: skip
    for name in lists:
        out[name] = [_shift(row, n) for n in range(rounds) for row in base[name]]
    return Record.model_validate(out)


def _shift(row: dict[str, Any], n: int) -> dict[str, Any]:
    def name(ident: str) -> str:
        return f"{ident[0]}{int(ident[1:]) + n * 10}"

    moved = dict(row)
    for key, value in row.items():
        if key in {"utterance"} or (key == "id" and isinstance(value, int)):
            moved[key] = value + n * len(LINES)
        elif key == "utterances":
            moved[key] = [u + n * len(LINES) for u in value]
        elif key in {"start", "end"}:
            moved[key] = value + n * 640.0
        elif key in {"id", "test", "consequence_of"} and isinstance(value, str):
            moved[key] = name(value)
        elif key in {"history", "evidence"}:
            moved[key] = [_shift(one, n) for one in value]
        elif key == "hypotheses":
            moved[key] = [name(h) for h in value]
    return moved
