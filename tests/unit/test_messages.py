"""Message files agree with each other and with what uses them; numbers agree with the words."""

from __future__ import annotations

import ast
import csv
import pickle
import re
import string
from pathlib import Path
from typing import get_args

import polars as pl
import pytest
from babel.messages.pofile import read_po
from pydantic_core.core_schema import ErrorType
from typer.main import get_command

from planner.cli import app
from planner.errors import EstimateError, ProgramError
from planner.factors import read_factors
from planner.field.household_sheet import PICTURES, TEXTS
from planner.intake.wording import shown_reasons
from planner.messages import (
    WORDS,
    in_english,
    in_words,
    keys,
    languages,
    messages_for,
    officer_messages,
    officers_words,
    paper,
    say,
    set_language,
    subject_words,
    told,
    write_papers_in,
)
from planner.tables import DOUBTFUL, PLAIN, RULES
from tests.prose import ROOT

LANGUAGES = languages()
TABLE = read_factors()
SAME_IN_BOTH = {
    "places.column.places",
    "due.places",
    "pack.column.table",
    "size.plan",
    "account.net",
    "source.interactions",
    "category.communication",
    "said.in_litres",
    "acquittal.date",
    "factor.for.compost",
    "factor.for.potassium",
    "factor.for.real",
    "factor.for.tropical",
    "appendix.factors.factor",
    "appendix.issues.version",
    "appendix.standards.clauses",
    "explain.kind.factor",
    "factor_list.factor",
    "factor_list.shape.lognormal",
    "factor_list.shape.normal",
    "factor_list.shape.triangular",
    "book.factor",
    "book.rests.factor",
    "model.tonnes",
    "nursery.column.date",
    "pooled.sheet.sources",
    "pooled.with_unit",
    "pooled.source",
    "book.source",
    "brief.question",
    "brief.ways.tonnes",
    "chart.headline.plan",
    "headings.unit.litres",
    "intake_book.unit.litres",
    "load.count.table",
    "progress.places",
    "progress.stock",
    "report.account.source",
    "report.plan.heading",
    "run_sheet.signature",
    "spelled.t",
    "unit.litres",
    "unit.sites",
    "word.page",
}
"""Words that French or Spanish writes as English does."""

FILES = (".html", ".docx", ".xlsx", ".csv", ".ics", ".duckdb")
"""Endings of names of files, which look like keys."""

DATA_WITH_KEYS = ("intake/examples.csv", "program/sales_tax.csv")

_KEY = re.compile(r"[a-z_]+(?:\.[a-z_0-9]+)+")


def read_messages(language):
    """Read every message of a language with the library of its files' format."""
    for path in sorted((WORDS / language).iterdir()):
        with path.open("rb") as file:
            yield from (one for one in read_po(file, locale=language) if one.id)


def catalogue(language):
    """Texts of a language by key; one with its plural is a tuple."""
    return {
        one.id if isinstance(one.id, str) else one.id[0]: one.string
        for one in read_messages(language)
    }


def forms(text):
    return text if isinstance(text, tuple) else (text,)


def braces(text):
    return {name for _, name, _, _ in string.Formatter().parse(text) if name}


def keys_in_data():
    """Keys that stand in data files of ours among texts that are the same in every language."""
    texts = ((ROOT / "planner" / name).read_text("utf-8") for name in DATA_WITH_KEYS)
    return {cell for text in texts for cell in re.split(r"[,\n]", text) if _KEY.fullmatch(cell)}


def keys_in_code():
    """Keys that the code writes out or puts an ending to, and shapes of keys with names in them."""
    whole, shapes, endings = set(), set(), set()
    groups = {str(key).partition(".")[0] for key in catalogue("en")}
    for path in (ROOT / "planner").rglob("*.py"):
        text = path.read_text("utf-8")
        if any(f'"{group}.' in text for group in groups) or re.search(r"message|said\(", text):
            nodes = list(ast.walk(ast.parse(text)))
            joined = [one for one in nodes if isinstance(one, ast.JoinedStr)]
            parts = {id(part) for one in joined for part in one.values}
            for node in nodes:
                is_text = isinstance(node, ast.Constant) and isinstance(node.value, str)
                if is_text and id(node) not in parts:
                    whole |= {node.value} if _KEY.fullmatch(node.value) else set()
                    begun = re.fullmatch(r"[a-z_]+\.[a-z_.]*\.", node.value)
                    shapes |= {f"{re.escape(node.value)}(.+)"} if begun else set()
                if isinstance(node, ast.JoinedStr) and _begins_a_key(node.values[0]):
                    shapes.add("".join(_shape(part) for part in node.values))
                if isinstance(node, ast.JoinedStr) and isinstance(node.values[-1], ast.Constant):
                    endings |= set(re.findall(r"^\.[a-z_]+$", node.values[-1].value))
                if _is_refusal(node):
                    whole |= {f"archive.{one.value}" for one in node.args}
    whole |= {key + end for key in whole for end in endings} & set(catalogue("en"))
    pages = (path.read_text("utf-8") for path in (ROOT / "templates").glob("*.html"))
    return whole.union(*(re.findall(r'say\("([a-z_.0-9]+)"', page) for page in pages)), shapes


def _begins_a_key(part):
    return isinstance(part, ast.Constant) and re.fullmatch(r"[a-z_]+\.[a-z_.]*", part.value)


def _shape(part):
    return re.escape(part.value) if isinstance(part, ast.Constant) else "(.+)"


def words_of_names():
    """Words of every name that may fill a key: of code, queries and data, and pydantic's faults."""
    kinds = {"planner": ".py .csv", "queries": ".sql", "templates": ".html .toml"}
    files = [
        path.read_text("utf-8")
        for folder, endings in kinds.items()
        for path in (ROOT / folder).rglob("*.*")
        if path.suffix in endings.split()
    ]
    text = "\n".join([*files, *get_args(ErrorType)]).lower()
    return set(re.findall(r"[a-z]+|[0-9]+", text))


def _is_refusal(node):
    """Tell whether a workbook is refused: its two keys stand without what they begin with."""
    is_call = isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)
    return is_call and node.func.attr == "refuse" and isinstance(node.args[0], ast.Constant)


def keys_of_factors():
    """Keys that rows of the factor tables name, and those of their names."""
    rows = list(TABLE)
    told = {f"factor.place.{row.source_place}" for row in rows if row.source_place}
    told |= {f"factor.note.{row.note}" for row in rows if row.note}
    materials = {key.removeprefix("material.") for key in keys("material.")}
    applied = {row.applies_to for row in rows if row.applies_to} - materials
    told |= {f"factor.for.{name}" for name in applied}
    untitled = {row.source_id for row in rows if not TABLE.source(row.source_id).citation}
    told |= {f"factor.source.{name}" for name in untitled}
    return told | {"factor.see_note"} | {f"factor.name.{row.factor_id}" for row in rows}


def test_english_comes_first_and_french_and_spanish_are_there():
    assert LANGUAGES == ["en", "es", "fr"]


def test_every_language_has_the_same_files_and_a_key_stands_in_one_alone():
    files = {
        language: sorted(path.name for path in (WORDS / language).iterdir())
        for language in LANGUAGES
    }
    assert files["en"] == files["es"] == files["fr"]
    for language in LANGUAGES:
        # the reader of a file keeps the later one of a key that stands twice in it
        written = "".join(path.read_text("utf-8") for path in (WORDS / language).iterdir())
        found = re.findall(r'^msgid (".+")$', written, re.MULTILINE)
        assert len(found) == len(set(found)) == len(list(read_messages(language))), language


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_language_has_every_key_with_the_same_braces(language):
    english, words = catalogue("en"), catalogue(language)
    assert set(words) == set(english)
    for key, text in words.items():
        assert len(forms(text)) == len(forms(english[key])), key
        for one, other in zip(forms(text), forms(english[key]), strict=True):
            assert one, key
            assert braces(one) == braces(other), key


def test_every_key_of_the_code_is_in_the_files_and_no_other_is():
    english, (whole, shapes) = set(catalogue("en")), keys_in_code()
    groups = {key.partition(".")[0] for key in english}
    missing = {key for key in whole if key.partition(".")[0] in groups} - english
    assert {key for key in missing if not key.endswith(FILES)} == set()
    sheets = {f"{section}.{name}" for section, names in TEXTS.items() for name in names}
    sheets |= {f"picture.{name}" for name in PICTURES} | keys_of_factors()
    assert sheets | keys_in_data() <= english
    commands, options = help_keys()
    used = whole.union(sheets, commands, keys_in_data(), *options.values())
    known = words_of_names()
    filled = {
        key
        for shape in map(re.compile, shapes)
        for key in english - used
        if (found := shape.fullmatch(key))
        and known.issuperset(re.findall(r"[a-z]+|[0-9]+", " ".join(found.groups())))
    }
    assert english - used - filled == set()


@pytest.mark.parametrize("language", LANGUAGES)
def test_words_are_what_the_library_of_their_format_reads(language):
    whole, words = catalogue(language), messages_for(language)
    singular = {key: forms(text)[0] for key, text in whole.items()}
    assert {key: words.text(key) for key in whole} == singular
    help_words = {key: text for key, text in whole.items() if key.startswith("usage.")}
    assert subject_words(language, "usage") == help_words
    assert subject_words("xx", "usage") == subject_words("en", "usage")


@pytest.mark.parametrize(
    ("language", "of_numbers"),
    # the Unicode CLDR's rules of plurals, but for its "many" of a million
    [
        ("en", {0: 1, 1: 0, 2: 1, 13: 1}),
        ("es", {0: 1, 1: 0, 2: 1, 13: 1}),
        ("fr", {0: 0, 1: 0, 2: 1, 13: 1}),
    ],
)
def test_every_number_finds_its_words(language, of_numbers):
    messages, whole = messages_for(language), catalogue(language)
    counted = {key: text for key, text in whole.items() if isinstance(text, tuple)}
    assert len(counted) > 50
    for key, text in counted.items():
        filled = dict.fromkeys(braces(" ".join(text)) - {"number"}, "…")
        for number, form in of_numbers.items():
            wanted = text[form].format(number=number, **filled)
            assert messages.say(key, number, **filled) == wanted


def help_keys():
    """Keys of help by command, and for each of its options the keys that may say it."""
    commands = get_command(app).commands.values()
    options = {
        f"{command.name}.{one.name}": (
            {f"usage.{command.name}.{one.name}", f"usage.option.{one.name}"}
            | ({one.help} if one.help else set())
        )
        for command in commands
        for one in command.params
    }
    return {f"usage.{command.name}" for command in commands}, options


def test_every_command_has_its_help_and_so_has_every_option():
    commands, options = help_keys()
    english = set(catalogue("en"))
    assert commands <= english
    assert [name for name, keys_of in options.items() if not keys_of & english] == []


def test_what_is_put_together_is_in_the_files():
    asked = {f"{section}.{name}" for section, names in TEXTS.items() for name in names}
    asked |= {f"picture.{name}" for name in PICTURES}
    asked |= {f"{part}.{rule}" for part in ("reason", "rule") for rule in RULES}
    asked |= {f"reading.{kind}" for kind in (*DOUBTFUL, *PLAIN)}
    assert asked <= set(catalogue("en"))


@pytest.mark.parametrize("language", ["fr", "es"])
def test_translations_are_not_the_english_words(language):
    english, words = catalogue("en"), catalogue(language)
    same = {
        key
        for key, text in english.items()
        if words[key] == text and re.search(r"[a-z]{3}", re.sub(r"{\w+}", "", str(text)))
    }
    assert same <= SAME_IN_BOTH


@pytest.mark.parametrize("language", ["fr", "es"])
def test_no_english_word_is_left_in_a_translation(language):
    english = re.compile(r"\b(?:the|and|of|is|are|was|were|row|sheet|found|expected|write)\b", re.I)
    left = {
        key: text
        for key, text in catalogue(language).items()
        for form in forms(text)
        if english.search(re.sub(r"{\w+}|`[^`]*`|--[\w-]+|\[[^\]]*\]", "", form))
    }
    assert left == {}


def test_english_keeps_to_the_plain_words():
    with (Path(__file__).parents[1] / "plain_words.csv").open(encoding="utf-8") as file:
        rows = [(re.compile(row["pattern"], re.I), row["write"]) for row in csv.DictReader(file)]
    said = [form for text in catalogue("en").values() for form in forms(text)]
    assert [(text, write) for text in said for form, write in rows if form.search(text)] == []


@pytest.mark.parametrize(("language", "locale"), [("fr", "fr_FR"), ("es", "es_ES")])
def test_a_reason_stored_in_english_is_read_in_the_officers_language(language, locale):
    filled = {"table": "areas", "signs": "U+001B", "reason": in_english("reason.max")}
    stored = {key: in_english(key, **filled) for key in keys("reason.")}
    set_language(locale)
    shown = shown_reasons(pl.Series(list(stored.values())))
    words = catalogue(language)
    for key, reason in stored.items():
        meant = words["reason.max"] if key == "reason.not_kept" else filled["reason"]
        assert shown[reason] == words[key].format(**{**filled, "reason": meant})


def test_words_of_a_paper_are_said_again_to_an_officer_of_another_language():
    set_language("es_ES")
    write_papers_in("es_ES", "en")
    limit = paper().say("plan.limit.granted", amount=paper().number(1234.5, 1), round="R1")
    note = paper().say("plan.note.not_used", why=limit)
    clash = told(lambda words: "\n".join([words.text("plan.clash.change"), in_words(note, words)]))
    spanish = messages_for("es_ES").say
    amount = messages_for("es_ES").number(1234.5, 1)
    again = spanish("plan.limit.granted", amount=amount, round="R1")
    assert "1.234,5" in limit
    assert in_words(limit, officer_messages()) == again
    assert in_words(note, officer_messages()) == say("plan.note.not_used", why=limit)
    assert in_words(clash, officer_messages()) == "\n".join(
        [messages_for("es_ES").text("plan.clash.change"), spanish("plan.note.not_used", why=again)]
    )
    assert in_words(EstimateError(clash).said, officer_messages()) == in_words(
        clash, officer_messages()
    )
    with officers_words():
        assert paper().text("plan.clash.change") == messages_for("es_ES").text("plan.clash.change")
    assert paper().language == "en"
    # what goes to another process, or to a file, is the paper's
    assert pickle.loads(pickle.dumps(note)) == note  # noqa: S301 - our own words
    # nothing needs saying again where both speak one language
    write_papers_in("es_ES", "es")
    assert type(paper().say("plan.clash.change")) is str


def test_numbers_are_those_of_the_language_and_units_those_of_the_country():
    assert messages_for("fr_FR").mass(1.5).startswith("1,5")
    assert messages_for("en_AU").mass(1.5).startswith("1.5")
    # a pound is 0.45359237 kg exactly
    assert messages_for("en_US").mass(0.45359237) == "1\xa0lb"
    assert messages_for("en_US").temperature(0.0) == "32°F"
    assert messages_for("en_US", "es").temperature(100.0).startswith("212")
    assert messages_for("en_AU", "fr").mass(1.5).startswith("1,5")
    assert messages_for("es_ES", "en").mass(1.5).startswith("1.5")
    assert str(messages_for("fr_CA").locale) == "fr_CA"


@pytest.mark.parametrize(
    ("locale", "written"), [("pt_BR", "1.000"), ("en_GB", "1,000"), ("de_CH", "1'000")]
)
def test_a_country_whose_language_has_no_words_keeps_its_numbers(locale, written):
    # as CLDR writes the numbers of each locale, from memory
    set_language(locale)
    assert written in say("pooled.doing.estimating", draws=1000)


def test_a_sentence_that_ends_in_an_amount_with_a_full_stop_has_one():
    set_language("da_DK")
    amount = officer_messages().money(50_000, "DKK")
    assert amount.endswith("kr.")
    assert say("chart.months.last", amount=amount).endswith(f": {amount}")
    assert say("chart.months.last", amount="../x").endswith(" ../x.")


def test_a_language_without_words_falls_back_to_english_and_one_asked_for_is_refused():
    assert messages_for("de_DE").language == "en"
    assert messages_for("ca_ES", "es").language == "es"
    with pytest.raises(ProgramError, match="en, es, fr"):
        messages_for("de_DE", "de")
