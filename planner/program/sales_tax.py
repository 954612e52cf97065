"""Tax on what a council buys: its rate, and what of a price it is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from planner.program import Program

STANDARD_RATES = {
    "AU": ("GST", 0.10, "ABN"),
    "AT": ("USt", 0.20, "UID"),
    "BE": ("VAT", 0.21, "VAT number"),
    "CA": ("GST", 0.05, "business number"),
    "CH": ("VAT", 0.081, "UID"),
    "DE": ("USt", 0.19, "USt-IdNr."),
    "DK": ("moms", 0.25, "CVR number"),
    "ES": ("IVA", 0.21, "NIF"),
    "FI": ("VAT", 0.255, "business ID"),
    "FR": ("TVA", 0.20, "numéro de TVA"),
    "GB": ("VAT", 0.20, "VAT number"),
    "IE": ("VAT", 0.23, "VAT number"),
    "IT": ("IVA", 0.22, "partita IVA"),
    "NL": ("btw", 0.21, "btw number"),
    "NO": ("mva", 0.25, "organisation number"),
    "NZ": ("GST", 0.15, "GST number"),
    "PT": ("IVA", 0.23, "NIF"),
    "SE": ("moms", 0.25, "VAT number"),
}
"""Name of the tax, its standard rate, and what its number is called, by country.

Rates of 2025, from memory of the tax offices' own tables; `purchasing.tax` takes their place.
"""

NO_TAX = ("sales tax", 0.0, "tax number")


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
