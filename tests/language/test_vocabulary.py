from collections import Counter
from pathlib import Path

import pytest
from click.testing import CliRunner

from narrator.cli.vocabulary import command
from narrator.errors import NarratorError
from narrator.language import vocabulary as voc
from narrator.language.inflection import plural, singular, verb_forms
from narrator.language.shop_words import add_shop_words, make_shop_word, read_shop_words
from narrator.language.terms import find_terms
from narrator.language.tokens import split_words

KNOWN = voc.build()
GROUPS = [(kind, group) for kind, group in voc.groups()]


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("NARRATOR_HOME", str(tmp_path))
    monkeypatch.delenv("NARRATOR_VOCABULARY", raising=False)
    yield tmp_path
    monkeypatch.undo()
    voc.vocabulary(fresh=True)


def names_of(text: str, known: voc.Vocabulary = KNOWN) -> set[tuple[str, str]]:
    notes = split_words(text)
    return {(t.kind, t.group) for t in find_terms(known, known.units(notes.words), notes.marks)}


def test_the_trade_has_more_than_two_thousand_distinct_names() -> None:
    names = {(entry.kind, entry.name) for entry in KNOWN.entries}
    assert len(names) > 2500
    kinds = Counter(kind for kind, _ in names)
    assert kinds["component"] > 1500
    assert min(kinds[kind] for kind in ("tool", "material", "fault", "action")) > 150


def test_group_ids_are_unique() -> None:
    assert max(Counter(group["id"] for _, group in GROUPS).values()) == 1


@pytest.mark.parametrize(("kind", "group"), GROUPS, ids=[g["id"] for _, g in GROUPS])
def test_every_group_finds_its_example_and_leaves_the_other_alone(kind: str, group: dict[str, str]) -> None:
    assert (kind, group["id"]) in names_of(group["example"])
    assert (kind, group["id"]) not in names_of(group["not"])


def test_no_name_is_a_lone_letter_or_number() -> None:
    for entry in KNOWN.entries:
        assert len([c for c in entry.name if c.isalpha()]) > 1, entry


@pytest.mark.parametrize(
    ("said", "units"),
    [
        ("p c v valve", ["pcv", "valve"]),
        ("the a c compressor", ["the", "a/c", "compressor"]),
        ("an o two sensor", ["an", "o2", "sensor"]),
        ("A/C clutch", ["a/c", "clutch"]),
        ("a car", ["a", "car"]),
    ],
)
def test_letters_said_apart_join(said: str, units: list[str]) -> None:
    assert KNOWN.units(split_words(said).words).said == units


def test_a_synonym_and_a_standard_term_stand_beside_the_shops_word() -> None:
    assert "bonnet" in KNOWN.synonyms("hood")
    assert [one.acronym for one in KNOWN.standard("crank sensor")] == ["CKP"]
    assert len(KNOWN.standard("neutral safety switch")) == 2
    assert KNOWN.standard("teapot") == ()
    assert KNOWN.kinds("brake caliper") == {"component"}


@pytest.mark.parametrize(
    ("many", "one"),
    [
        ("bushes", "bush"), ("brakes", "brake"), ("gas", "gas"), ("axis", "axis"), ("boots", "boot"),
        ("brushes", "brush"), ("batteries", "battery"), ("hoses", "hose"), ("fuses", "fuse"),
        ("lenses", "lens"),
        ("boxes", "box"), ("switches", "switch"), ("glass", "glass"), ("chassis", "chassis"), ("abs", "abs"),
        ("pulleys", "pulley"), ("valves", "valve"), ("gases", "gas"), ("pliers", "pliers"), ("bus", "bus"),
    ],
)  # fmt: skip
def test_singular(many: str, one: str) -> None:
    assert singular(many) == one
    assert singular(one) == one


def test_every_part_noun_survives_its_plural() -> None:
    for word, flags in KNOWN.flags.items():
        if flags & voc.HEAD and word == singular(word) and not word.endswith("s"):
            assert singular(plural(word)) == word


@pytest.mark.parametrize(
    ("base", "forms"),
    [
        ("remove", ("remove", "removes", "removed", "removing")),
        ("fit", ("fit", "fits", "fitted", "fitting")),
        ("shim", ("shim", "shims", "shimmed", "shimming")),
        ("loosen", ("loosen", "loosens", "loosened", "loosening")),
        ("pry", ("pry", "pries", "pried", "prying")),
        ("refit", ("refit", "refits", "refitted", "refitting")),
    ],
)
def test_verb_forms(base: str, forms: tuple[str, ...]) -> None:
    assert set(forms) <= set(verb_forms(base))


def test_shop_words_are_kept_checked_and_take_part(home: Path) -> None:
    run = CliRunner().invoke(
        command, ["add", "flobber", "valve", "--sounds-like", "flow bear valve"], catch_exceptions=False
    )
    assert run.exit_code == 0
    run = CliRunner().invoke(command, ["check", "the flow bear valve leaks, zzyzx"], catch_exceptions=False)
    assert "flow bear valve -> flobber valve" in run.output
    assert "component flobber valve" in run.output
    assert "unknown   zzyzx" in run.output
    run = CliRunner().invoke(command, ["list", "--shop"], catch_exceptions=False)
    assert run.output == "component\tflobber valve\n"
    assert voc.recognizer_phrases()[0] == "flobber valve"


def test_adding_twice_keeps_earlier_sounds(home: Path) -> None:
    path = home / "vocabulary.toml"
    add_shop_words(path, (make_shop_word('Dog\'s "bone"', "tool", ("dogs bone",)),))
    add_shop_words(path, (make_shop_word("dog's bone", "component", ("docks bone",)),))
    (word,) = read_shop_words(path)
    assert (word.name, word.kind, word.sounds_like) == (
        "dog's bone",
        "component",
        ("dogs bone", "docks bone"),
    )


@pytest.mark.parametrize("name", ["123", "12-34", "5/8", "!", ""])
def test_a_name_without_a_letter_is_refused_and_says_what_to_do(home: Path, name: str) -> None:
    run = CliRunner().invoke(command, ["add", "--", name])
    assert isinstance(run.exception, NarratorError) and run.exception.code == "E910"
    assert "in letters" in run.exception.remedy and not (home / "vocabulary.toml").exists()


def test_a_number_from_before_stops_nothing_and_can_be_taken_out(home: Path) -> None:
    (home / "vocabulary.toml").write_text('[[word]]\nname = "123"\nkind = "tool"\n', encoding="utf-8")
    assert [word.name for word in read_shop_words(home / "vocabulary.toml")] == ["123"]
    run = CliRunner().invoke(command, ["remove", "123"], catch_exceptions=False)
    assert run.exit_code == 0 and read_shop_words(home / "vocabulary.toml") == ()


def test_a_name_is_said_by_its_plain_letters(home: Path) -> None:
    def added(*words: str) -> str:
        return CliRunner().invoke(command, ["add", *words], catch_exceptions=False).output

    assert "It is said: K UW B EH L." in added("kübel")
    assert "It is said: AA N T R EY, P AY P." in added("entrée", "pipe")
    assert "cannot listen for it" in added("кран")
    assert "m12" in added("m12")
    checked = CliRunner().invoke(command, ["check", "the kubel is cracked"], catch_exceptions=False).output
    assert "kubel -> kübel" in checked and "component kübel" in checked


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("broken[", "E912"),
        ('[[word]]\nkind = "tool"\n', "E912"),
        ('[[word]]\nname = "!"\nkind = "tool"\n', "E910"),
        ('[[word]]\nname = "thing"\nkind = "spell"\n', "E911"),
    ],
)
def test_a_wrong_file_says_what_to_mend(home: Path, text: str, code: str) -> None:
    (home / "vocabulary.toml").write_text(text, encoding="utf-8")
    with pytest.raises(NarratorError, match=code):
        voc.vocabulary(fresh=True)


def test_a_slip_in_the_file_does_not_stop_a_running_session(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = voc.vocabulary(fresh=True)
    (home / "vocabulary.toml").write_text("broken[", encoding="utf-8")
    monkeypatch.setattr(voc, "_LOOK_EVERY", 0.0)
    assert voc.vocabulary() is before


def test_a_folder_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(NarratorError, match="E913"):
        add_shop_words(tmp_path / "file" / "vocabulary.toml", (make_shop_word("widget", "tool"),))


def test_a_pronunciation_is_kept_checked_and_shown(home: Path) -> None:
    run = CliRunner().invoke(command, ["add", "Dog", "bone", "--pronounced", "d ao1 g, b ow n"])
    assert "It is said: D AO G, B OW N." in run.output
    (word,) = read_shop_words(home / "vocabulary.toml")
    assert word.pronounced == ("D AO G, B OW N",)
    run = CliRunner().invoke(command, ["add", "dog", "bone"])
    assert read_shop_words(home / "vocabulary.toml")[0].pronounced == ("D AO G, B OW N",)
    for wrong, code in (("D AO G", "E914"), ("D QQ, B OW N", "E220")):
        with pytest.raises(NarratorError, match=code):
            CliRunner().invoke(command, ["add", "dog bone", "--pronounced", wrong], catch_exceptions=False)


def test_a_word_is_taken_out_again(home: Path) -> None:
    for name in ("flobber valve", "widget"):
        CliRunner().invoke(command, ["add", name], catch_exceptions=False)
    CliRunner().invoke(command, ["remove", "Flobber", "valve"], catch_exceptions=False)
    assert [word.name for word in read_shop_words(home / "vocabulary.toml")] == ["widget"]
    with pytest.raises(NarratorError, match="E915"):
        CliRunner().invoke(command, ["remove", "flobber", "valve"], catch_exceptions=False)
