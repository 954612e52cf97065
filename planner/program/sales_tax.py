"""Tax on what a council buys: its rate, and what of a price it is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from planner.messages import paper

if TYPE_CHECKING:
    from planner.program import Program

STANDARD_RATES = {
    "AU": ("GST", 0.10, "ABN"),
    "AT": ("USt", 0.20, "UID"),
    "BE": ("tax.vat", 0.21, "tax.vat_number"),
    "CA": ("tax.gst", 0.05, "tax.business_number"),
    "CH": ("tax.vat", 0.081, "UID"),
    "DE": ("USt", 0.19, "USt-IdNr."),
    "DK": ("moms", 0.25, "CVR-nummer"),
    "ES": ("IVA", 0.21, "NIF"),
    "FI": ("tax.vat", 0.255, "tax.business_number"),
    "FR": ("TVA", 0.20, "tax.vat_number"),
    "GB": ("VAT", 0.20, "tax.vat_number"),
    "IE": ("VAT", 0.23, "tax.vat_number"),
    "IT": ("IVA", 0.22, "partita IVA"),
    "NL": ("btw", 0.21, "btw-nummer"),
    "NO": ("mva", 0.25, "tax.organisation_number"),
    "NZ": ("GST", 0.15, "tax.gst_number"),
    "PT": ("IVA", 0.23, "NIF"),
    "SE": ("moms", 0.25, "tax.vat_number"),
}
"""Name of the tax, its standard rate, and what its number is called, by country.

A name that a country writes in more than one language is a key of the message files. Rates of
2025, from memory of the tax offices' own tables; `purchasing.tax` takes their place.
"""

NO_TAX = ("tax.sales", 0.0, "tax.number")


@dataclass(frozen=True)
class SalesTax:
    """Tax on what a council buys.

    Parameters
    ----------
    name, number_name
        What the tax, and a business's number for it, are called.
    share
        Tax over price without tax.
    free_of_tax
        Kinds of goods that bear none.
    is_named
        Whether program.toml names it, rather than the table of standard rates.
    is_included
        Whether prices hold the tax already.
    """

    name: str
    share: float
    number_name: str
    free_of_tax: tuple[str, ...] = ()
    is_named: bool = False
    is_included: bool = False

    @classmethod
    def of(cls, program: Program) -> SalesTax:
        """Find the tax that a program's council pays."""
        from babel import Locale

        territory = Locale.parse(program.council.country_locale).territory
        name, share, number_name = STANDARD_RATES.get(str(territory), NO_TAX)
        # the text of what is no key is itself
        name, number_name = paper().text(name), paper().text(number_name)
        own, includes = program.purchasing.tax, program.purchasing.prices_include_tax
        if own is None:
            return cls(name, share, number_name, is_included=includes)
        return cls(own.name, own.share, number_name, own.free_of_tax, True, includes)

    def rate(self, item_kind: str) -> float:
        """Rate of a kind of goods, or of "freight"."""
        return 0.0 if item_kind in self.free_of_tax else self.share

    def amount(self, price: float, item_kind: str) -> float:
        """Tax in or on a price, to the cent.

        Examples
        --------
        >>> SalesTax("GST", 0.1, "ABN").amount(110.0, "bins")
        11.0
        >>> SalesTax("GST", 0.1, "ABN", is_included=True).amount(110.0, "bins")
        10.0
        """
        rate = self.rate(item_kind)
        return round(price * rate / (1.0 + rate) if self.is_included else price * rate, 2)

    def without(self, price: float, item_kind: str) -> float:
        """Price without tax, to the cent."""
        included = self.amount(price, item_kind) if self.is_included else 0.0
        return round(price - included, 2)
