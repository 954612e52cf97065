"""What people read in the council's language: words by key, numbers in agreement with them."""

from __future__ import annotations

import difflib
import re
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, replace
from functools import lru_cache, reduce, wraps
from gettext import c2py
from pathlib import Path
from typing import TYPE_CHECKING, ParamSpec

from planner.country_writing import CountryWriting
from planner.errors import LONGEST_NEAR, ProgramError

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable, Iterable, Iterator, Sequence

    from babel import Locale

    Filled = str | int | dt.date

WORDS = Path(__file__).parent / "words"
"""A folder for each language with the same message files (gettext, .po), one for each subject.
A key stands in one file alone."""

FIRST_LANGUAGE = "en"
_MESSAGE = re.compile(r'^msgid "(.+)"\n(?:msgid_plural .+\n)?((?:(?:msgstr.*)?".*"\n?)+)', re.M)
_FORM = re.compile(r"^msgstr(?:\[\d\])? ", re.M)
_PLURAL_RULE = re.compile(r'^"Plural-Forms:.* plural=(.+);\\n"$', re.M)
_BETWEEN_LINES = re.compile(r'"\n"')
_CURRENCY = re.compile(r"[A-Z]{3}( |$)")
_ESCAPED = re.compile(r"\\(.)")
_TWO_STOPS = re.compile(r"(?<=[^\W\d_])\.\.(?=\s|$)")

_SIGNS = {"n": "\n", '"': '"', "\\": "\\"}


@dataclass(frozen=True)
class Messages(CountryWriting):
    """Words of one language, with numbers as a country writes them."""

    def say(self, key: str, number: int | None = None, /, **filled: Filled) -> str:
        """Say what a key stands for.

        Parameters
        ----------
        number
            How many there are, where the words depend on it; fills ``{number}``.
        filled
            What stands in the other braces; whole numbers and days are written as the
            language does.
        """
        text = _text(self.language, key, number)
        given = filled if number is None else {"number": number, **filled}
        written = text.format(**{name: self._written(part) for name, part in given.items()})
        return one_full_stop(written)

    def _written(self, part: Filled) -> str:
        if isinstance(part, str):
            return in_words(part, self)
        if isinstance(part, int | float):
            return self.decimal(part, "#,##0.######")
        return self.day(part)

    def text(self, key: str) -> str:
        """Give the words of a key with their braces."""
        return _text(self.language, key)

    def unit_words(self, unit: str) -> str:
        """Name a unit; it stands as it is where every language writes it so.

        Examples
        --------
        >>> messages_for("fr_FR").unit_words("GBP per t"), messages_for("fr_FR").unit_words("km")
        ('GBP par t', 'km')
        """
        currency = _CURRENCY.match(unit)
        money = currency[0] if currency else ""
        key = f"unit.{unit_key(unit.removeprefix(money))}"
        words = "" if key.endswith(".") else self.text(key)
        return unit if words in ("", key) else f"{money}{words}"


def one_full_stop(text: str) -> str:
    """Leave out the full stop of a sentence that ends in words with one of their own.

    Examples
    --------
    >>> one_full_stop("The year cost 14.000 kr.. It is within the budget.")
    'The year cost 14.000 kr. It is within the budget.'
    """
    return _TWO_STOPS.sub(".", text)


class PaperText(str):
    """Words of a paper that know how they are said, for an officer of another language."""

    again: Callable[[Messages], str]

    def __reduce__(self) -> tuple[type[str], tuple[str]]:
        """Leave the way of saying behind where the words go to another process."""
        return str, (str(self),)


def in_words(text: str, words: Messages) -> str:
    """Say words of a paper again in other words; those that are of one language stay."""
    return text.again(words) if isinstance(text, PaperText) else text


_Asked = ParamSpec("_Asked")


def _told(method: Callable[_Asked, str]) -> Callable[_Asked, str]:
    """Let what a method gives know the method and what it was asked."""

    @wraps(method)
    def telling(*asked: _Asked.args, **named: _Asked.kwargs) -> str:
        told = PaperText(method(*asked, **named))
        told.again = lambda words: method(words, *asked[1:], **named)  # type: ignore[arg-type]
        return told

    return telling


class PaperMessages(Messages):
    """Words of papers where the officer speaks another language."""

    say = _told(Messages.say)
    decimal = _told(Messages.decimal)
    share = _told(Messages.share)
    money = _told(Messages.money)
    day = _told(Messages.day)
    month = _told(Messages.month)


def _text(language: str, key: str, number: int | None = None) -> str:
    """Give the words that go with a number; a key without words stands for itself."""
    written, form_of = _catalogue(language)
    if key not in written:
        return key
    return _forms(written[key])[0 if number is None else form_of(number)]


@lru_cache(maxsize=8)
def _catalogue(language: str) -> tuple[dict[str, str], Callable[[int], int]]:
    """Read words by key as the files write them, and which form of words goes with a number."""
    files = [path.read_text(encoding="utf-8") for path in sorted((WORDS / language).glob("*.po"))]
    written = {key: text for file in files for key, text in _MESSAGE.findall(file)}
    rule = _PLURAL_RULE.search(files[0])
    return written, c2py(rule[1] if rule else "0")


@lru_cache(maxsize=4096)
def _forms(written: str) -> list[str]:
    """Read the words of a key: one text, or one for each form that goes with numbers."""
    joined = (_BETWEEN_LINES.sub("", form.strip())[1:-1] for form in _FORM.split(written)[1:])
    return [_ESCAPED.sub(lambda sign: _SIGNS[sign[1]], one) for one in joined]


@lru_cache(maxsize=8)
def subject_words(language: str, subject: str) -> dict[str, str]:
    """Read the words of one message file; in English where there is none."""
    path = WORDS / language / f"{subject}.po"
    if not language.isalpha() or not path.is_file():
        path = WORDS / FIRST_LANGUAGE / f"{subject}.po"
    return {key: _forms(text)[0] for key, text in _MESSAGE.findall(path.read_text("utf-8"))}


def languages() -> list[str]:
    """List the languages that there are words in, the first one first."""
    found = sorted(path.name for path in WORDS.iterdir() if any(path.glob("*.po")))
    return sorted(found, key=lambda name: name != FIRST_LANGUAGE)


@lru_cache(maxsize=32)
def messages_for(country_locale: str, language: str | None = None) -> Messages:
    """Find the words for a council; in English where there are none in its language.

    A language that is asked for and has no words is a ProgramError.
    """
    from babel import Locale
    from babel.languages import get_official_languages

    own = Locale.parse(country_locale)
    known = languages()
    if language is not None and language not in known:
        raise ProgramError(say("language.unknown", language=language, known=", ".join(known)))
    chosen = language or (own.language if own.language in known else FIRST_LANGUAGE)
    territory = own.territory or ""
    # words that are foreign to a country come with their own numbers: English in Spain with points
    is_at_home = chosen in get_official_languages(territory, regional=True, de_facto=True)
    names = (f"{chosen}_{territory}", chosen) if is_at_home else (chosen,)
    return Messages(chosen, _locale(names), territory)


def messages_of(tag: str) -> Messages:
    """Find the words of a document by the tag of its language, as "en-GB"."""
    return messages_for(tag.replace("-", "_"))


def _locale(names: Iterable[str]) -> Locale:
    """Take the first locale that is known: Spanish of Spain, or else plain Spanish."""
    from babel import Locale, UnknownLocaleError

    for name in names:
        try:
            return Locale.parse(name)
        except UnknownLocaleError:
            continue
    return Locale.parse(FIRST_LANGUAGE)


_SPOKEN = ContextVar("spoken", default=FIRST_LANGUAGE)


def set_language(country_locale: str) -> None:
    """Say all that follows in the language of a council, as "fr_FR"; English until then."""
    _SPOKEN.set(country_locale)


def officer_locale() -> str:
    """Tell for which country `say` speaks."""
    return _SPOKEN.get()


def officer_messages() -> Messages:
    """Give the words in which a command speaks to its officer."""
    country_locale = _SPOKEN.get()
    return words_of_paper(country_locale, messages_for(country_locale).language)


def say(key: str, number: int | None = None, /, **filled: Filled) -> str:
    """Say what a key stands for, as `Messages.say`, to the officer."""
    return officer_messages().say(key, number, **filled)


_OF_PAPERS = ContextVar("of_papers", default=(FIRST_LANGUAGE, FIRST_LANGUAGE))


def write_papers_in(country_locale: str, language: str) -> None:
    """Write reports, plans and orders from now on in a language, as its country writes numbers."""
    _OF_PAPERS.set((country_locale, language))


def paper() -> Messages:
    """Give the words of reports, plans and orders, which may differ from the officer's own.

    A figure's label, a heading or a sentence of a paper is said when it is written, never when
    a module is imported: the language is known only once the program file is read.
    """
    return _of_papers(*_OF_PAPERS.get(), officer_messages().language)


@lru_cache(maxsize=32)
def words_of_paper(country_locale: str, language: str) -> Messages:
    """Find the words of a paper; English takes its numbers from a country that speaks another."""
    from babel import Locale

    words = messages_for(country_locale, language)
    is_english = words.language == FIRST_LANGUAGE
    return replace(words, country=Locale.parse(country_locale)) if is_english else words


@lru_cache(maxsize=32)
def _of_papers(country_locale: str, language: str, officers: str) -> Messages:
    words = words_of_paper(country_locale, language)
    if words.language == officers:
        return words
    return PaperMessages(words.language, words.locale, words.territory, words.country)


@contextmanager
def officers_words() -> Iterator[None]:
    """Say for a while what stands in papers as the officer speaks: at the console, not in them."""
    of_papers = _OF_PAPERS.set((officer_locale(), officer_messages().language))
    try:
        yield
    finally:
        _OF_PAPERS.reset(of_papers)


def said(key: str, number: int | None = None, /, **filled: Filled) -> str:
    """Say what a key stands for, in the language of papers."""
    return paper().say(key, number, **filled)


def told(make: Callable[[Messages], str]) -> str:
    """Make words of a paper from several, so that the officer can be told them too."""
    text = PaperText(make(paper()))
    text.again = make
    return text


def did_you_mean(name: str, known: Iterable[str], most: int = 1, least: float = 0.6) -> str:
    """Ask whether the names nearest to one that is not there are meant; empty where none is near.

    Examples
    --------
    >>> did_you_mean("handover", ["households", "handovers"]), did_you_mean("x", ["handovers"])
    ('Did you mean handovers?', '')
    """
    near = difflib.get_close_matches(name[:LONGEST_NEAR], list(known), most, least)
    return say("advice.near", near=", ".join(near)) if near else ""


def or_known(hint: str, known: Iterable[str]) -> str:
    """Name all there are where there is no hint at one of them."""
    return hint or say("number.there_are", names=", ".join(known))


def all_of(names: Iterable[str]) -> str:
    """Join names with "and"."""
    return reduce(lambda one, other: say("number.and", first=one, last=other), names)


def some_of(names: Sequence[object], most: int, count: int | None = None) -> str:
    """Join the first names, and count the rest of all, of which `names` may be the first alone."""
    named = ", ".join(map(str, names[:most]))
    rest = (len(names) if count is None else count) - most
    return say("number.and_more", names=named, count=rest) if rest > 0 else named


def in_each_language(key: str) -> tuple[str, ...]:
    """Give the words of a key in every language: a paper may be read back in any of them."""
    return tuple(messages_for(language, language).text(key) for language in languages())


def unit_key(unit: str) -> str:
    """Spell a unit as keys of the message files do."""
    return re.sub(r"[^a-z0-9]+", "_", unit.lower()).strip("_")


def in_english(key: str, /, **filled: str) -> str:
    """Say what a key stands for in English: words that are stored, whoever reads them later."""
    return messages_for(FIRST_LANGUAGE).say(key, **filled)


def keys(beginning: str) -> list[str]:
    """List the keys that begin so and stand for one text, whatever the number."""
    found = _catalogue(FIRST_LANGUAGE)[0].items()
    return [key for key, text in found if key.startswith(beginning) and text[6] != "["]
