"""The state report in words and tables, for the same renderers as a council's."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.figures import FigureRegister
from planner.messages import paper, said
from planner.pooling.contract import IN_USE, RATES, TOTALS, label_of
from planner.pooling.figures import COST_PER_T, slugs
from planner.report.document import Document, Picture, Section
from planner.report.document.saying import Saying, points, table, text
from planner.report.wording import Wording, labelled, listing

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator, Sequence

    from planner.pooling.pool import Pool
    from planner.report.document import Block, Paragraph, Statement, Table


SHEETS = {
    "totals": "pooled.sheet.totals",
    "councils": "pooled.sheet.councils",
    "differences": "pooled.sheet.differences",
    "joining": "pooled.sheet.joining",
    "sources": "pooled.sheet.sources",
}
"""Sections of a state report in order, with the name of the sheet of each."""

OF_COUNCILS = (
    "bins_given",
    "bins_in_use",
    "kept_out_of_landfill_t",
    "emissions_avoided_100_years_t_co2e",
    "program_cost",
)
RARE = 0.01
FAR = 0.95
"""A council is said to differ where the chance that it lies on one side is at least this."""


def build_state_document(
    pool: Pool, register: FigureRegister, pictures: Sequence[Picture], written_at: dt.datetime
) -> Document:
    """Say everything of a state report, once, for every renderer."""
    wording = Wording(pool.country_locale, pool.currency, pool.language)
    say = Saying(register, wording)
    drawn = {picture.name: picture for picture in pictures}
    blocks = {
        "totals": _totals(pool, say),
        "councils": _councils(pool, say, drawn),
        "differences": _differences(pool, say),
        "joining": _joining(pool, say),
        "sources": _sources(pool, wording),
    }
    sections = (
        Section(key, said(f"pooled.section.{key}"), tuple(found)) for key, found in blocks.items()
    )
    title = said("pooled.title", count=len(pool.exports), year=pool.label)
    subtitle = said("pooled.subtitle")
    return Document.of(title, subtitle, pool.title, pool.label, sections, wording, written_at)


def _totals(pool: Pool, say: Saying) -> Iterator[Block]:
    yield text(
        say.say("pooled.lead", count=f"{len(pool.exports)}", year=pool.label),
        kind="lead",
    )
    yield text(say.say("pooled.avoided"))
    if COST_PER_T in say.register:
        yield text(say.say("pooled.spent"))
    if pool.missing:
        names = listing(sorted(pool.missing))
        yield text(said("pooled.missing", len(pool.missing), names=names), kind="caution")
    yield text("pooled.caution", kind="caution")
    rows = [
        (label_of(name), say.cell(name), say.cell(name, "spread"), say.unit(name))
        for name in TOTALS
    ]
    headings = _columns("what", "result", "interval", "unit")
    yield table("totals", SHEETS["totals"], headings, rows, numbers=(1, 2))
    yield from _shared_errors(say)


def _shared_errors(say: Saying) -> Iterator[Paragraph]:
    name = "shared_error_ratio[emissions_avoided_100_years_t_co2e]"
    if not say.knows(name):
        return
    ratio = say.value(name)
    words = say.wording.number(ratio, 1)
    yield text(said("pooled.shared_errors", ratio=words))


def _columns(*names: str) -> list[str]:
    return [f"pooled.column.{name}" for name in names]


def _councils(pool: Pool, say: Saying, drawn: dict[str, Picture]) -> Iterator[Block]:
    if "kept_out_by_council" in drawn:
        yield drawn["kept_out_by_council"]
    rows: list[tuple[Statement | str, ...]] = [
        (
            export.about.council,
            *(say.cell(f"{name}[{slug}]") for name in OF_COUNCILS),
        )
        for slug, export in zip(slugs(pool), pool.exports, strict=True)
    ]
    rows.append(("pooled.all_councils", *(say.cell(name) for name in OF_COUNCILS)))
    yield table(
        "councils",
        "pooled.councils.caption",
        [
            *_columns("council", "bins_given", "bins_in_use", "kept_out", "avoided"),
            said("pooled.column.cost", currency=pool.currency),
        ],
        rows,
        numbers=range(1, 6),
        has_total=True,
        note="pooled.councils.note",
    )


def _differences(pool: Pool, say: Saying) -> Iterator[Block]:
    if not pool.rates:
        return
    yield text("pooled.no_ranks")
    for name, pooled in pool.rates.items():
        yield from _who_differs(pool, say, name)
        columns = [slugs(pool)[place] for place in pooled.places]
        councils = [pool.exports[place].about.council for place in pooled.places]
        rows = [
            (
                council,
                say.cell(f"{name}_own[{slug}]"),
                say.cell(f"{name}_own[{slug}]", "spread"),
                say.cell(f"{name}[{slug}]"),
                say.cell(f"{name}[{slug}]", "spread"),
                say.cell(f"{name}_own_weight[{slug}]"),
                _chance(say, f"{name}_chance_above[{slug}]"),
            )
            for council, slug in zip(councils, columns, strict=True)
        ]
        yield _rate_table(name, rows)


def _chance(say: Saying, figure_id: str) -> str:
    """Write a chance in whole hundredths: draws do not tell the rare from the impossible."""
    chance = say.value(figure_id)
    if chance < RARE:
        return said("pooled.under", share=say.wording.share(RARE))
    if chance > 1.0 - RARE:
        return said("pooled.over", share=say.wording.share(1.0 - RARE))
    return say.wording.share(chance)


def _rate_table(name: str, rows: Sequence[Sequence[Statement | str]]) -> Table:
    unit, caption = RATES[name].unit, label_of(name)
    if unit != "share":
        caption = said("pooled.with_unit", label=caption, unit=paper().unit_words(unit))
    own, others = ("own", "interval"), ("with_others", "interval")
    return table(
        name,
        caption,
        _columns("council", *own, *others, "own_weight", "chance"),
        rows,
        numbers=range(1, 7),
    )


def _who_differs(pool: Pool, say: Saying, name: str) -> Iterator[Paragraph]:
    pooled = pool.rates[name]
    chance = pooled.chance_above
    named = [pool.exports[place].about.council for place in pooled.places]
    above = [one for one, found in zip(named, chance, strict=True) if found >= FAR]
    below = [one for one, found in zip(named, chance, strict=True) if found <= 1.0 - FAR]
    words = say.say("pooled.mean_is", label=label_of(name), mean=say.shown(f"{name}_mean"))
    if not above and not below:
        yield text(words, "pooled.nobody_differs")
        return
    sides = [
        said(f"pooled.lies_{where}", len(councils), names=listing(councils))
        for councils, where in ((above, "above"), (below, "below"))
        if councils
    ]
    yield text(words, *sides)


def _joining(pool: Pool, say: Saying) -> Iterator[Block]:
    names = [name for name in pool.rates if name.startswith(IN_USE) or name == "feed_kg_per_week"]
    if not names:
        return
    yield text("pooled.joining")
    rows = [
        (
            label_of(name),
            say.cell(f"{name}_new"),
            say.cell(f"{name}_new", "spread"),
            say.unit(f"{name}_new"),
        )
        for name in names
    ]
    headings = _columns("what", "expect", "interval", "unit")
    yield table("joining", "pooled.joining.caption", headings, rows, numbers=(1, 2))


def _sources(pool: Pool, wording: Wording) -> Iterator[Block]:
    first = pool.exports[0].about
    edition, gwp = first.edition.replace("ipcc_", "IPCC "), first.gwp_set.upper()
    yield text(said("pooled.method", edition=edition, gwp=gwp))
    rows = [
        (
            one.council,
            one.reporting_year,
            wording.number(one.households_count),
            wording.number(one.answers_count),
            said("pooled.issue", number=one.issue) if one.issue else "pooled.not_issued",
            one.version,
        )
        for one in (export.about for export in pool.exports)
    ]
    yield table(
        "exports",
        "pooled.exports.caption",
        _columns("council", "year", "households", "answers", "report", "planner"),
        rows,
        numbers=(2, 3),
    )
    own = [
        labelled(export.about.council, f"{name}, {words}")
        for export in pool.exports
        for name, words in export.about.own_factors.items()
    ]
    if own:
        yield text("pooled.own_factors")
        yield from points(own)
    if pool.missing:
        yield text("pooled.not_in_totals")
        yield from points(labelled(name, why) for name, why in sorted(pool.missing.items()))
