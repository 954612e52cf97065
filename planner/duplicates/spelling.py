"""Names, addresses, numbers and mail in one spelling, so that they can be compared."""

from __future__ import annotations

import jellyfish
import polars as pl

STREET_WORDS = (
    *("street", "st", "saint", "road", "rd", "avenue", "ave", "av", "lane", "ln", "drive", "dr"),
    *("close", "cl", "court", "ct", "place", "pl", "crescent", "cres", "terrace", "tce", "ter"),
    *("way", "gardens", "gdns", "grove", "gr", "parade", "pde", "square", "sq", "the", "of"),
    *("calle", "c", "avenida", "avda", "plaza", "pza", "paseo", "carrer", "de", "del", "la", "las"),
    *("rue", "boulevard", "bd", "chemin", "du", "des", "le", "les", "strasse", "str", "weg"),
    *("platz", "via", "piazza", "no", "nr", "number", "num", "n", "flat", "unit", "apartment"),
    *("apt", "piso", "puerta", "pta", "level", "floor", "house"),
)
"""Words of addresses that are left out or abbreviated at will."""

TITLES = ("mr", "mrs", "ms", "miss", "dr", "prof", "sr", "sra", "herr", "frau", "m", "mme")

LEAST_PHONE_DIGITS = 7
COMPARED_PHONE_DIGITS = 8
"""The last digits of a telephone number, without the codes of country and trunk."""

_NUMBER = r"\b\d+[a-z]?\b"


def in_one_spelling(contacts: pl.DataFrame) -> pl.DataFrame:
    """Bring contacts into the forms that are compared.

    Parameters
    ----------
    contacts
        Frame of tables.Contacts.

    Returns
    -------
    DataFrame
        One row a contact, in its order: household_id; name, its words sorted; name_words,
        a list; street, its telling words sorted; street_sound; numbers, house and unit,
        sorted; postcode; phone; email. Empty text where a contact has none.

    Examples
    --------
    >>> from planner.tables import TABLES
    >>> address = ("Flat 2, 14 a St. Mary's Rd", "ab1 2cd")
    >>> details = ("H1", "Dr. Åse O'Neil", *address, None, "+61 7 5550 1234")
    >>> columns = TABLES["contacts"].column_names()
    >>> one = pl.DataFrame([(*details, None, None)], schema=columns, orient="row")
    >>> in_one_spelling(one).select("name", "street", "numbers", "postcode", "phone").row(0)
    ('ase oneil', 'marys', '14a 2', 'ab12cd', '55501234')
    """
    text = {name: _plain(pl.col(name).fill_null("")) for name in contacts.columns[1:]}
    address = text["street_address"].str.replace_all(r"\b(\d+) ([a-z])\b", "$1$2")
    name_words = _without(text["full_name"], TITLES)
    street = _sorted(_without(address.str.replace_all(_NUMBER, " "), STREET_WORDS))
    numbers = address.str.extract_all(_NUMBER).list.unique().list.sort().list.join(" ")
    digits = pl.col("phone").fill_null("").str.replace_all(r"\D", "")
    email = pl.col("email").fill_null("").str.strip_chars().str.to_lowercase()
    return contacts.select(
        "household_id",
        name=_sorted(name_words),
        name_words=name_words,
        street=street,
        numbers=numbers,
        postcode=text["postcode"].str.replace_all(" ", ""),
        phone=pl.when(digits.str.len_chars() >= LEAST_PHONE_DIGITS)
        .then(digits.str.tail(COMPARED_PHONE_DIGITS))
        .otherwise(pl.lit("")),
        # what follows a plus sign only sorts the mail of one address
        email=email.str.replace(r"\+[^@]*@", "@"),
    ).with_columns(street_sound=sound_code(_longest(pl.col("street").str.split(" "))))


def sound_code(words: pl.Expr) -> pl.Expr:
    """Code words by American Soundex; empty where a word has no letter.

    Parameters
    ----------
    words
        Words in lower-case letters a to z.

    Examples
    --------
    >>> pl.select(sound_code(pl.lit(pl.Series(["robert", "rupert"])))).to_series().to_list()
    ['R163', 'R163']
    """
    letters = words.str.replace_all(r"[^a-z]", "")
    return letters.map_batches(_sound_codes, return_dtype=pl.String)


def _sound_codes(words: pl.Series) -> pl.Series:
    # each word once: a register holds few names, each of them often
    spelled = words.unique()
    codes = spelled.map_elements(jellyfish.soundex, return_dtype=pl.String)
    return words.replace_strict(spelled, codes, return_dtype=pl.String)


def _plain(text: pl.Expr) -> pl.Expr:
    """Lower-case letters and digits without accents, words parted by one space."""
    bare = text.str.to_lowercase().str.normalize("NFKD").str.replace_all(r"\p{M}|['’`´]", "")
    joined = bare.str.replace_all("ß", "ss").str.replace_all(r"(strasse|str)\b", " strasse")
    return joined.str.replace_all(r"[^a-z0-9]+", " ").str.strip_chars()


def _without(text: pl.Expr, words: tuple[str, ...]) -> pl.Expr:
    """Words of a text but those named; all of them where nothing else is left."""
    every = text.str.strip_chars().str.split(" ")
    telling = every.list.set_difference(list(words)).list.drop_nulls()
    named = telling.list.eval(pl.element().filter(pl.element() != ""))
    return pl.when(named.list.len() > 0).then(named).otherwise(every)


def _sorted(words: pl.Expr) -> pl.Expr:
    return words.list.sort().list.join(" ").str.strip_chars()


def _longest(words: pl.Expr) -> pl.Expr:
    """Word with most letters, the first in order of the alphabet among equals."""
    lengths = words.list.eval(pl.element().str.len_chars())
    return words.list.get(lengths.list.arg_max(), null_on_oob=True).fill_null("")
