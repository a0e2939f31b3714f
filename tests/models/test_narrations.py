import json
from itertools import pairwise

import pytest

from models.understanding.narrations import build, markup, proofread, schema

HEAD = 'title = "t"\nnote = "n"\nspeaker = "s"\ntrade = "pump"\n'


def small(tmp_path, text, tables="", head=HEAD, verification="none"):
    path = tmp_path / "z01.toml"
    path.write_text(
        f"{head}verification = \"{verification}\"\ntext = '''\n{text}\n'''\n{tables}", encoding="utf-8"
    )
    return path


def test_line_gives_acts_words_slips_entities_and_events():
    line = markup.parse(
        "#off s/so | <too=two> [ten mil bolts]{F bolt 2 10mm} off the [<pomp=pump>]{C} | R bolt 10mm 2"
    )
    assert line.tag == "off"
    assert line.acts == [["step"], ["observation", "step"]]
    assert line.said == "too ten mil bolts off the pomp"
    assert line.meant == "two ten mil bolts off the pump"
    assert line.slip_words == 2
    assert line.entities == [
        {"type": "fastener", "kind": "bolt", "count": 2, "size": {"value": 10, "unit": "mm"}, "drive": None},
        {"type": "component", "name": "pump"},
    ]
    event = line.events[0]
    assert (event.kind, event.size, event.change, event.count) == ("bolt", "10mm", "removed", 2)


@pytest.mark.parametrize(
    ("mark", "span", "expected"),
    [
        ("M length 6..7 mm", "six or seven mil", [
            {"type": "measurement", "quantity": "length", "value": 6, "unit": "mm", "range": True},
            {"type": "measurement", "quantity": "length", "value": 7, "unit": "mm", "range": True},
        ]),
        ("S torque 9 N.m ?", "nine", [
            {"type": "measurement", "quantity": "torque", "value": 9, "unit": "N.m",
             "role": "setting", "optional": True},
        ]),
        ("M voltage 0.4 V,mV", "point four", [
            {"type": "measurement", "quantity": "voltage", "value": 0.4, "unit": "V",
             "unit_ok": ["V", "mV", None]},
        ]),
        ("F screw 1? T20 torx", "a t twenty", [
            {"type": "fastener", "kind": "screw", "count": 1, "count_ok": [1, None],
             "size": {"value": 20, "unit": "T"}, "drive": "torx"},
        ]),
        ("Cs", "brake pads", [{"type": "component", "name": "brake pad"}]),
        ("$ 12.50 GBP", "twelve fifty", [{"type": "price", "amount": "12.50", "currency": "GBP"}]),
        ("V 2011 Corrib Tern", "", [{"type": "vehicle", "year": 2011, "make": "Corrib", "model": "Tern"}]),
    ],
)  # fmt: skip
def test_entities(mark, span, expected):
    assert markup.entities(mark, span) == expected


def test_inch_fraction_is_a_decimal():
    assert markup.size("7/16in") == {"value": 0.4375, "unit": "in"}


@pytest.mark.parametrize(
    "line",
    ["q | text", "s | text | Z bolt - 1", "s | [bolt]{Q}", "ss | text", "text",
     "s | a [bolt]{F bolt 1", "s | [x]{M voltage 1 furlong}"],
)  # fmt: skip
def test_bad_mark_up_is_refused_naming_the_line(line):
    with pytest.raises(ValueError, match="in: ") as caught:
        markup.parse(line)
    assert line in str(caught.value)


def test_unknown_key_is_refused(tmp_path):
    with pytest.raises(ValueError, match="wether"):
        schema.read(small(tmp_path, "a | hello", head=HEAD + 'wether = "fine"\n'))


def test_gold_of_a_small_job(tmp_path):
    text = """
    c | it leaks
    #look tr | [seal]{C} weeps [two volts]{M voltage 2 V} limit [three]{S voltage 3 V}
    s | [two bolts]{F bolt 2 -} out | R bolt - 2
    #on s/sp | [both]{F bolt 2 - ?} back | I bolt - 2
    #dry v | dry
    """
    tables = """
    [[tests]]
    keywords = ["seal"]
    outcome = "fail"
    tags = ["look"]
    [[corrections]]
    action = "replace"
    keywords = ["seal"]
    tags = ["on"]
    [[verifications]]
    outcome = "pass"
    tags = ["dry"]
    [[parts]]
    name = "seal"
    amount = "3.20"
    state = "fitted"
    [ledger_expect]
    "bolt -" = [2, 2]
    [ledger_ok]
    "bolt -" = [[2, 1]]
    """
    rows, gold = build.build(small(tmp_path, text, tables, verification="pass"))
    assert [row["id"] for row in rows] == [1, 2, 3, 4, 5]
    assert rows[1]["text"] == "seal weeps two volts limit three"
    assert all(a["end"] < b["start"] for a, b in pairwise(rows))
    assert gold["utterances"]["4"]["acts_ok"] == [["step"], ["step", "part"]]
    assert gold["fasteners"] == [
        {"kind": "bolt", "size": None, "removed": 2, "installed": 2, "ok": [{"removed": 2, "installed": 1}]}
    ]
    assert gold["measurements"] == [
        {"value": 2, "unit": "V", "quantity": "voltage", "utterance": 2},
        {"value": 3, "unit": "V", "quantity": "voltage", "utterance": 2, "optional": True},
    ]
    assert gold["tests"] == [{"keywords": ["seal"], "outcome": "fail", "utterances": [2]}]
    assert gold["corrections"][0]["utterances"] == [4]
    assert gold["parts"] == [
        {"number": None, "name": "seal", "state": "fitted", "price": {"amount": "3.20", "currency": None}}
    ]


def test_writing_is_repeatable(tmp_path):
    path = small(tmp_path, "a | hello there\ns | off it comes")
    for folder in ("one", "two"):
        build.write(path, tmp_path / folder)
    for name in ("z01.jsonl", "z01.gold.json"):
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes()
    json.loads((tmp_path / "one" / "z01.gold.json").read_text())


@pytest.mark.parametrize(
    ("text", "tables", "remark"),
    [
        ("a | Hello there", "", "recognizer"),
        ("a | the [pump]{C} is mine", "", "aside with entities"),
        ("s | [two bolts]{F bolt 3 -} off", "", "count 3 not heard"),
        (
            "s | [two bolts]{F bolt 2 -} off | R bolt - 2",
            '[ledger_expect]\n"bolt -" = [2, 2]',
            "ledger bolt -",
        ),
        ("t | spin the [pump]{C}", "", "belongs to no test"),
        ("#x t | spin it\n#x r | free", "", "stands twice"),
        ("s | off with the shifter", "", "off limits"),
        ("c | a toyota", "", "real brand: toyota"),
    ],
)
def test_proofreading_finds(tmp_path, text, tables, remark):
    findings = proofread.proofread(small(tmp_path, text, tables))
    assert any(finding.wrong and remark in finding.text for finding in findings), list(map(str, findings))


def test_every_narration_proofreads():
    paths = build.sources()
    assert len(paths) >= 200
    assert proofread.report(paths) == 0


def test_held_out_narrations_proofread_and_no_model_learns_them():
    paths = build.sources(folder=build.HERE.parent / "held_out")
    assert len(paths) >= 20
    assert proofread.report(paths) == 0
    assert not {path.stem for path in paths} & {path.stem for path in build.sources()}
