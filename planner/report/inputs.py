"""Inputs of figures in the words that explain prints, and what of them changed since a report."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import polars as pl

from planner import __version__
from planner.figures import FigureRegister, Input
from planner.messages import in_each_language, paper, said
from planner.program import Privacy, Program, year_label
from planner.report.disclosure.parts import is_small
from planner.report.wording import known_words, listing
from planner.units import PER_CENT

if TYPE_CHECKING:
    from planner.factors import Factor, FactorTable
    from planner.figures import Found, InputKind
    from planner.report.year import CountedYear, Year

OF_HOUSEHOLDS = (
    "diary_pairs",
    "diary_weeks",
    "followup_answers",
    "prior_shares",
    "use_intervals",
    "wave_frames",
)
"""Queries of which each row is a household."""

_NUMBER = re.compile(r"\d[\d.,]*")
_SHARE = re.compile(r"_share|discount_rates$")
KINDS: tuple[InputKind, ...] = ("query", "program", "factor")


@dataclass(frozen=True)
class WordedFigures:
    """Puts figures whose label and method are keys of one subject's words, as "plan.figure.".

    What a figure rests on is named by the ids of other figures, or as an input.
    """

    register: FigureRegister
    words: str  # with which the keys begin

    @classmethod
    def of(cls, program: Program, label: str, words: str) -> WordedFigures:
        """Begin a register of a council's reporting year."""
        return cls(FigureRegister(program.council.name, label, __version__), words)

    def put(
        self,
        figure_id: str,
        label: str,
        found: Found,
        unit: str,
        method: str,
        /,
        *rests_on: str | Input,
        **filled: str | int,
    ) -> None:
        """Add a figure; `filled` are words in braces. A label or method with blanks is said."""
        named, told = (
            key if " " in key else said(f"{self.words}{key}", **filled) for key in (label, method)
        )
        inputs = (Input("figure", one) if isinstance(one, str) else one for one in rests_on)
        self.register.put(figure_id, named, found, unit, told, inputs)


def query_input(name: str, rows: pl.DataFrame | None = None) -> Input:
    """Name a query with the rows it counted, where these may be told."""
    return Input("query", name, "" if rows is None else said("input.rows", rows.height))


def figure_inputs(*ids: str) -> tuple[Input, ...]:
    """Name other figures."""
    return tuple(Input("figure", name) for name in ids)


def key_input(key: str, value: object) -> Input:
    """Name a key of program.toml with its value in words, shares in per cent."""
    if isinstance(value, bool):
        told = said("reading.yes" if value else "reading.no")
    elif not isinstance(value, int | float):
        told = str(value)
    elif _SHARE.search(key):
        told = _per_cent(value)
    else:
        told = paper().significant(value, 12)
    return Input("program", key, told)


def _per_cent(share: float) -> str:
    shown = f"{share * PER_CENT:.6g}"
    return paper().share(share, len(shown.partition(".")[2]))


def factor_inputs(table: FactorTable, factors: Iterable[Factor]) -> tuple[Input, ...]:
    """Name published factors with value, range, unit, source and place."""
    return tuple(Input("factor", f.name, _factor_detail(table, f)) for f in factors)


def setting_input(year: CountedYear, key: str) -> tuple[Input, ...]:
    """Name a setting of program.toml with what it says; for a reporting year, this one's."""
    lists = summed_up(year.program)
    if key in lists:
        told = "; ".join(lists[key])
        return (key_input(key, told),) if told else ()
    if key == "further_landfills":
        several = year.program.further_landfills
        return tuple(
            key_input(f"{key}.{a.name}", _per_cent(a.share_of_landfilled_waste)) for a in several
        )
    block, _, name = key.partition(".")
    of_block = year.reporting_year if block == "reporting_years" else getattr(year.program, block)
    return (key_input(key, getattr(of_block, name)),)


def summed_up(program: Program) -> dict[str, Iterable[str]]:
    """Say the settings that are lists, an item at a time, by their keys."""
    models = program.bin_models
    month, prices = program.council.reporting_year_first_month, program.prices()
    number = paper().significant
    return {
        "bin_models.plastic_kg+plastic_recycled_share": (
            said(
                "input.plastic",
                model=one.model_id,
                kg=number(one.plastic_kg),
                share=_per_cent(one.plastic_recycled_share),
            )
            for one in models
        ),
        "bin_models.service_life_years": (
            said("input.life", model=one.model_id, years=f"{one.service_life_years}")
            for one in models
        ),
        "bin_models.tray_area_m2": (
            f"{one.model_id} {number(one.tray_area_m2)} m²" for one in models
        ),
        "climate.monthly_mean_temperature_c": (said("input.monthly_means"),),
        "landfill.gas_capture": (
            said("input.capture", age=f"{one.from_age_years}", share=_per_cent(one.captured_share))
            for one in program.landfill.gas_capture
        ),
        "reporting_years.landfill_levy_per_t+gate_fee_per_t": (
            f"{year_label(start, month)} {number(levy)} + {number(fee)}"
            for start, (levy, fee) in prices.items()
        ),
        "scenarios": (
            said("input.scenario", name=one.name, day=str(one.begins)) for one in program.scenarios
        ),
    }


def factor_input(year: Year, name: str) -> tuple[Input, ...]:
    """Name a published factor, or the setting that stands in its place."""
    factor_id, _, applies_to = name.partition("/")
    of_emissions, of_feed = (
        [row for row in rows if row.factor_id == factor_id]
        for rows in (year.emission_factors.rows.every, year.feed_factors)
    )
    found = of_emissions or of_feed[:1] or [year.factor_table.find(factor_id, applies_to)]
    return row_inputs(year, found)


def row_inputs(year: Year, rows: Iterable[Factor]) -> tuple[Input, ...]:
    """Name rows of the factor tables, or the settings that stand in the place of some."""
    stated = year.emission_factors.rows.stated
    return tuple(
        key_input(f"emissions.{row.factor_id}", row.value)
        if row.factor_id in stated
        else factor_inputs(year.factor_table, [row])[0]
        for row in rows
    )


def without_small_counts(register: FigureRegister, privacy: Privacy) -> FigureRegister:
    """Say "fewer than" where a query behind a figure counted few households.

    Where the answers of one survey round are not shown, rows of all rounds together are
    not told either: those of the others would give them away.
    """
    told = replace(register, _figures={})
    threshold = privacy.small_cell_threshold
    rounds = register.parts("response_share").values()
    tells_sums = all(one.value is not None for one in rounds)
    for figure in register:
        inputs = tuple(
            _without_small(item, threshold, tells_sums=tells_sums) for item in figure.inputs
        )
        told.add(replace(figure, inputs=inputs))
    return told


def _without_small(item: Input, threshold: int, *, tells_sums: bool) -> Input:
    if item.kind != "query" or item.name not in OF_HOUSEHOLDS:
        return item
    if not tells_sums:
        return replace(item, detail="")
    rows = int("".join(filter(str.isdigit, item.detail)))
    if not is_small(rows, threshold):
        return item
    return replace(item, detail=said("input.few_rows", threshold=threshold))


def _factor_detail(table: FactorTable, factor: Factor) -> str:
    low, high = factor.limits
    words, say, spread = paper(), paper().say, ""
    value, unit = words.significant(factor.value), words.unit_words(factor.unit)
    if low != high and factor.shape != "fixed":
        spread = say("input.range", low=words.significant(low), high=words.significant(high))
    source = table.source(factor.source_id)
    memory = say("input.not_read") if factor.seen == "memory" else ""
    assumed = say("input.assumed") if factor.evidence == "assumed" else ""
    where = factor.remark(words) if factor.is_own else factor.place(words)
    place = f", {where}" if where else ""
    return f"{value}{spread} {unit}. {assumed}{source.cited(words)}{place}{memory}"


def restatement_reasons(now: FigureRegister, then: FigureRegister, figure_id: str) -> str:
    """Say why a figure differs from what an earlier report said: data, method or factor.

    The trees of what both rest on are compared leaf by leaf: rows of queries, settings of
    the program file, published factors with value and source; then the files loaded and the
    version.

    Examples
    --------
    >>> from planner.figures import Figure, FigureRegister, Input
    >>> def report(loads, rows):
    ...     made = FigureRegister("Town", "2025", "1", loads)
    ...     inputs = (Input("query", "followup_answers", rows),)
    ...     _ = made.add(Figure("fed_t", "Fed", 1.0, None, None, "t", "Weighed.", inputs))
    ...     return made
    >>> restatement_reasons(report(("L1", "L2"), "9 rows"), report(("L1",), "7 rows"), "fed_t")
    'data: files loaded since; data: other rows of followup answers'
    """
    reasons = []
    by_numbers = now.language != then.language
    if set(now.loads) - set(then.loads):
        reasons.append(said("reason_why.files_since"))
    if set(then.loads) - set(now.loads):
        reasons.append(said("reason_why.files_back"))
    leaves_now, leaves_then = (
        {(item.kind, item.name): item.detail for item in one.leaves(figure_id)}
        for one in (now, then)
    )
    for kind in KINDS:
        names = [
            name
            for (of_kind, name), detail in leaves_now.items()
            if of_kind == kind
            and _differs(detail, leaves_then.get((of_kind, name)), by_numbers=by_numbers)
        ]
        if names:
            if kind == "query":
                names = [known_words(f"query.{one}", one.replace("_", " ")) for one in names]
            named = listing(names, 3)
            reasons.append(said(f"reason_why.other_{kind}", names=named))
    reasons += _of_method(now, then, figure_id)
    return "; ".join(reasons) or said("reason_why.none")


def _of_method(now: FigureRegister, then: FigureRegister, figure_id: str) -> Iterator[str]:
    if now.version != then.version:
        yield said("reason_why.version", now=now.version, then=then.version)
        return
    # other counts are no other method
    methods = {_NUMBER.sub("", one[figure_id].method) for one in (now, then)}
    if now.language == then.language and len(methods) > 1:
        yield said("reason_why.method")


def _differs(now: str, then: str | None, *, by_numbers: bool) -> bool:
    """Whether a leaf is new or tells something else; what is not told is no difference.

    Reports in two languages tell the same rows in other words: only their digits are compared.
    """
    if then is None:
        return True
    few = tuple(one.partition("{")[0] for one in in_each_language("input.few_rows"))
    hides = any(not detail or detail.startswith(few) for detail in (now, then))
    if by_numbers:
        now, then = (re.sub(r"\D", "", one) for one in (now, then))
    return now != then and not hides
