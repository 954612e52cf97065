"""Pairs of households that may be one: spelled alike, found by what they share, proposed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import jellyfish
import polars as pl

from planner.duplicates.scoring import score_pairs

if TYPE_CHECKING:
    from planner.store.opening import Store


LARGEST_BLOCK = 60
"""A key that more registrations share, as the number of a school, tells nothing of them."""

LEAST_NAME_LETTERS = 3


def candidate_pairs(spelled: pl.DataFrame) -> pl.DataFrame:
    """Pairs of contacts that share a telephone number, a mail, an address or a name nearby.

    Keys are the telephone number; the mail; postcode, numbers and the sound of the street;
    postcode, numbers and the sound of a name; the sounds of a name and of the street. A
    slip of the pen in one of them leaves others.

    Parameters
    ----------
    spelled
        Frame of `normalise_contacts`.

    Returns
    -------
    DataFrame
        first, second: rows of `spelled`, first below second, each pair once.
    """
    rows = spelled.with_row_index("row")
    pairs = [_pairs(keys) for keys in _keys(rows)]
    return pl.concat(pairs).unique().sort("first", "second")


def _keys(rows: pl.DataFrame) -> list[pl.DataFrame]:
    """Rows with a key of each kind; a row without one, as without a telephone, is left out."""
    has_address = (pl.col("numbers") != "") & (pl.col("postcode") != "")
    place = pl.struct("postcode", "numbers")
    named = _by_name(rows)
    return [
        _keyed(rows, pl.col("phone") != "", pl.col("phone")),
        _keyed(rows, pl.col("email") != "", pl.col("email")),
        _keyed(rows, has_address, pl.struct(place, "street_sound")),
        _keyed(named, has_address, pl.struct(place, "name_sound")),
        _keyed(named, pl.col("street_sound") != "", pl.struct("name_sound", "street_sound")),
    ]


def _by_name(rows: pl.DataFrame) -> pl.DataFrame:
    """One row for each word of a name, with its sound."""
    words = rows.explode("name_words").filter(
        pl.col("name_words").str.len_chars() >= LEAST_NAME_LETTERS
    )
    return words.with_columns(name_sound=sound_code(pl.col("name_words")))


def _keyed(rows: pl.DataFrame, has_key: pl.Expr, key: pl.Expr) -> pl.DataFrame:
    return rows.filter(has_key).select("row", key=key.hash()).unique()


def _pairs(keyed: pl.DataFrame) -> pl.DataFrame:
    size = pl.len().over("key")
    shared = keyed.filter((size > 1) & (size <= LARGEST_BLOCK))
    both = shared.join(shared, on="key", suffix="_second")
    return both.filter(pl.col("row") < pl.col("row_second")).select(
        first="row", second="row_second"
    )


SHARED_ADDRESS = ("apartment",)
"""Dwellings that share their number in the street with others."""


def propose_pairs(store: Store) -> pl.DataFrame:
    """Find registrations that are likely one household and have not been decided.

    Of two, the one that registered first is to be kept.

    Returns
    -------
    DataFrame
        One row a pair, the likeliest first: score, reasons, and for the one kept and the
        other household_id, name, address, registered date and bins.
    """
    contacts = _registered(store)
    is_shared = contacts["dwelling"].cast(pl.String).is_in(SHARED_ADDRESS)
    details = contacts.select(store.records("contacts").columns)
    spelled = normalise_contacts(details)
    pairs = score_pairs(spelled, is_shared, candidate_pairs(spelled))
    shown = contacts.select(
        "household_id",
        name="full_name",
        address=pl.format("{}, {}", "street_address", "postcode"),
        registered="registered_date",
        bins="bins_count",
    )
    kept = shown[pairs["first"]].select(pl.all().name.suffix("_kept"))
    other = shown[pairs["second"]].select(pl.all().name.suffix("_other"))
    proposed = pl.concat([pairs.drop("first", "second"), kept, other], how="horizontal")
    return _undecided(store, proposed)


def _registered(store: Store) -> pl.DataFrame:
    """Contacts with their registration and bins, in the order of registering."""
    bins = (
        store.records("handovers")
        .group_by("household_id")
        .agg(pl.len().cast(pl.Int64).alias("bins_count"))
    )
    households = store.records("households").select("household_id", "dwelling", "registered_date")
    return (
        store.records("contacts")
        .join(households, on="household_id")
        .join(bins, on="household_id", how="left")
        .with_columns(pl.col("bins_count").fill_null(0))
        .sort("registered_date", "household_id")
    )


def _undecided(store: Store, proposed: pl.DataFrame) -> pl.DataFrame:
    different = store.query("decided_different")
    swapped = different.select(
        household_id_kept="household_id_other", household_id_other="household_id_kept"
    )
    pair = ["household_id_kept", "household_id_other"]
    return proposed.join(
        pl.concat([different, swapped]), on=pair, how="anti", maintain_order="left"
    )


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


def normalise_contacts(contacts: pl.DataFrame) -> pl.DataFrame:
    """Bring contacts into the forms that are compared.

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
    >>> normalise_contacts(one).select("name", "street", "numbers", "postcode", "phone").row(0)
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
