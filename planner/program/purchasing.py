"""Block of program.toml on purchase orders: who buys, on what terms, and who signs."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from planner.program.block import Block, Money, Share, Text

ItemKind = Literal["bins", "worms", "bedding", "freight"]
LongText = Annotated[str, Field(min_length=1, max_length=400)]


class Tax(Block):
    """The tax of invoices, where it is not the standard rate of the council's country."""

    name: Text
    share: Share
    free_of_tax: Annotated[tuple[ItemKind, ...], Field(strict=False)] = ()


class Approval(Block):
    """Who signs orders up to an amount; without one, orders of any amount."""

    who: Text
    up_to: Money | None = None


class Purchasing(Block):
    """What stands on purchase orders beside their lines; every key has a default."""

    address: LongText | None = None
    tax_number: Text | None = None
    invoice_address: LongText | None = None
    budget_code: Text | None = None
    contract_reference: Text | None = None
    payment_terms: LongText = "within 30 days of a correct invoice"
    delivery_terms: LongText = (
        "delivered to the place named, unloaded, carriage paid; risk passes when we have signed"
    )
    delivery_slot: LongText | None = None
    back_orders: LongText = (
        "not accepted without our consent: tell us at once what cannot come on its day; what is "
        "not there is struck off the order"
    )
    reply_days: Annotated[int, Field(ge=1, le=120)] = 14
    prices_include_tax: bool = False
    tax: Tax | None = None
    approvals: Annotated[tuple[Approval, ...], Field(strict=False)] = ()

    @model_validator(mode="after")
    def _amounts_rise(self) -> Purchasing:
        amounts = [one.up_to for one in self.approvals]
        limits = [amount for amount in amounts if amount is not None]
        if limits != sorted(set(limits)) or None in amounts[:-1]:
            message = (
                "approvals: expected amounts up_to that rise from line to line; only the last may "
                "be without one"
            )
            raise ValueError(message)
        return self

    def signers(self, amount: float) -> tuple[str, ...]:
        """Name who signs an order of an amount: each whose limit is passed, and the next.

        Examples
        --------
        >>> levels = (Approval(who="Team leader", up_to=1000.0), Approval(who="Director"))
        >>> Purchasing(approvals=levels).signers(1000.0)
        ('Team leader',)
        >>> Purchasing(approvals=levels).signers(1000.01)
        ('Team leader', 'Director')
        """
        names: list[str] = []
        for level in self.approvals:
            names.append(level.who)
            if level.up_to is None or amount <= level.up_to:
                break
        return tuple(names)

    def is_beyond(self, amount: float) -> bool:
        """Tell whether nobody named may sign an order of an amount."""
        last = self.approvals[-1].up_to if self.approvals else None
        return last is not None and amount > last
