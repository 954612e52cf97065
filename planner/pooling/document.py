"""The state report in words and tables, for the same renderers as a council's."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner import __version__
from planner.pooling.contract import IN_USE, RATES, TOTALS
from planner.pooling.figures import COST_PER_T, slugs
from planner.report.document.model import Document, Picture, Section
from planner.report.document.saying import Saying, points, table, text
from planner.report.wording import Wording, listing

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator, Sequence

    from planner.figures import FigureRegister
    from planner.pooling.pool import Pool
    from planner.report.document.model import Block, Paragraph, Statement, Table

SHEETS = {
    "totals": "Totals",
    "councils": "Councils",
    "differences": "Who differs",
    "joining": "Councils that join",
    "sources": "Sources",
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

NO_RANKS = (
    "Do not read it as a league table. Where intervals overlap, the order may be chance. A "
    "council with few answers is drawn towards the others, because its own survey says little."
)
CAUTION = (
    "These figures are no offsets and no credits. They do not say that worm bins emit less "
    "than other composting."
)


def build_state_document(
    pool: Pool, register: FigureRegister, pictures: Sequence[Picture], written_at: dt.datetime
) -> Document:
    """Say everything of a state report, once, for every renderer.

    Parameters
    ----------
    pool, register
        The councils and every figure.
    pictures
        Charts, each by the key of its section.
    written_at
        Stands for the time of writing.
    """
    wording = Wording(pool.country_locale, pool.currency)
    say = Saying(register, wording)
    drawn = {picture.name: picture for picture in pictures}
    sections = (
        Section("totals", "What the councils did together", tuple(_totals(pool, say))),
        Section("councils", "Council by council", tuple(_councils(pool, say, drawn))),
        Section("differences", "Who differs, and in what", tuple(_differences(pool, say))),
        Section("joining", "What a council that joins can expect", tuple(_joining(pool, say))),
        Section("sources", "How the figures were put together", tuple(_sources(pool))),
    )
    return Document(
        title=f"Worm bins of {len(pool.exports)} councils in {pool.label}",
        subtitle="Totals with their 95% intervals, and how far councils differ.",
        council=pool.title,
        reporting_year=pool.label,
        version=__version__,
        language=wording.tag,
        written_at=written_at,
        written_on=wording.day(written_at.date()),
        sections=tuple(section for section in sections if section.blocks),
    )


def _totals(pool: Pool, say: Saying) -> Iterator[Block]:
    yield text(
        say.say(
            "{count} councils kept {kept_out_of_landfill_t} of food scraps out of landfill in "
            "{year}.",
            count=f"{len(pool.exports)}",
            year=pool.label,
        ),
        kind="lead",
    )
    yield text(
        say.say(
            "Over 100 years that avoids {emissions_avoided_100_years_t_co2e}, net of what the "
            "programs themselves emit. They gave {bins_given:amount}; {bins_in_use} were in use "
            "at the end of the year."
        )
    )
    if COST_PER_T in say.register:
        yield text(
            say.say(
                "They spent {program_cost:amount}. That is {cost_per_kept_out_t} kept out in the "
                "year; bins go on working after it."
            )
        )
    if pool.missing:
        yield text(
            f"{listing(sorted(pool.missing))} could not be counted and are in no total. The last "
            "section says why.",
            kind="caution",
        )
    yield text(CAUTION, kind="caution")
    rows = [
        (TOTALS[name].label, say.cell(name), say.cell(name, "spread"), say.unit(name))
        for name in TOTALS
    ]
    yield table("totals", "Totals", ("What", "Result", "95% interval", "Unit"), rows,
                numbers=(1, 2))  # fmt: skip
    yield from _shared_errors(say)


def _shared_errors(say: Saying) -> Iterator[Paragraph]:
    name = "shared_error_ratio[emissions_avoided_100_years_t_co2e]"
    if not say.knows(name):
        return
    ratio = say.value(name)
    words = say.wording.number(ratio, 1)
    yield text(
        "Errors of the councils' surveys partly cancel when councils are added up. Errors of "
        "published factors do not, because all councils use the same ones. With them the "
        f"interval of the emissions avoided is {words} times as wide as if each council's "
        "factors were wrong in their own way."
    )


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
    rows.append(("All councils", *(say.cell(name) for name in OF_COUNCILS)))
    yield table(
        "councils",
        "Each council's year",
        (
            "Council",
            "Bins given",
            "Bins in use",
            "Kept out of landfill, t",
            "Emissions avoided over 100 years, t CO2-e",
            f"Cost, {pool.currency}",
        ),
        rows,
        numbers=range(1, 6),
        has_total=True,
        note="Each number is as the council exported it. Totals may differ from the sum of "
        "rounded numbers.",
    )


def _differences(pool: Pool, say: Saying) -> Iterator[Block]:
    if not pool.rates:
        return
    yield text(NO_RANKS)
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
        return f"under {say.wording.share(RARE)}"
    return (
        f"over {say.wording.share(1.0 - RARE)}"
        if chance > 1.0 - RARE
        else (say.wording.share(chance))
    )


def _rate_table(name: str, rows: Sequence[Sequence[Statement | str]]) -> Table:
    unit = "" if RATES[name].unit == "share" else f", {RATES[name].unit}"
    return table(
        name,
        f"{RATES[name].label}{unit}",
        (
            "Council",
            "Own survey",
            "95% interval",
            "With the others",
            "95% interval",
            "Weight of own survey",
            "Chance above the mean",
        ),
        rows,
        numbers=range(1, 7),
    )


def _who_differs(pool: Pool, say: Saying, name: str) -> Iterator[Paragraph]:
    pooled = pool.rates[name]
    chance = pooled.chance_above
    named = [pool.exports[place].about.council for place in pooled.places]
    above = [one for one, found in zip(named, chance, strict=True) if found >= FAR]
    below = [one for one, found in zip(named, chance, strict=True) if found <= 1.0 - FAR]
    label = RATES[name].label
    said = say.say(f"{label}: the mean of the councils is {{{name}_mean}}.")
    if not above and not below:
        yield text(said, "No council is surely above or below it.")
        return
    sides = [
        f"{listing(councils)} {'lies' if len(councils) == 1 else 'lie'} {where} it."
        for councils, where in ((above, "above"), (below, "below"))
        if councils
    ]
    yield text(said, *sides)


def _joining(pool: Pool, say: Saying) -> Iterator[Block]:
    names = [name for name in pool.rates if name.startswith(IN_USE) or name == "feed_kg_per_week"]
    if not names:
        return
    yield text(
        "A council like these that has measured nothing can begin with what they found. The "
        "interval is wider than that of the mean, since councils differ. The file priors.toml "
        "holds these numbers as blocks to copy into the council's program.toml; `planner size` "
        "then plans with them."
    )
    rows = [
        (
            RATES[name].label,
            say.cell(f"{name}_new"),
            say.cell(f"{name}_new", "spread"),
            say.unit(f"{name}_new"),
        )
        for name in names
    ]
    yield table(
        "joining", "For a council that joins", ("What", "Expect", "95% interval", "Unit"), rows,
        numbers=(1, 2),
    )  # fmt: skip


def _sources(pool: Pool) -> Iterator[Block]:
    first = pool.exports[0].about
    yield text(
        f"All councils were measured by one method: {first.edition.replace('ipcc_', 'IPCC ')}, "
        f"warming potentials {first.gwp_set.upper()}. A draw holds the same published factors in "
        "every council. Factors that a council measured for itself are drawn apart."
    )
    rows = [
        (
            one.council,
            one.reporting_year,
            f"{one.households_count:,}",
            f"{one.answers_count:,}",
            f"number {one.issue}" if one.issue else "not issued",
            one.version,
        )
        for one in (export.about for export in pool.exports)
    ]
    yield table(
        "exports",
        "What each council handed over",
        ("Council", "Year", "Households with a bin", "Follow-up answers", "Report", "Planner"),
        rows,
        numbers=(2, 3),
    )
    own = [
        f"{export.about.council}: {name}, {words}"
        for export in pool.exports
        for name, words in export.about.own_factors.items()
    ]
    if own:
        yield text("Some councils use factors of their own in place of published ones.")
        yield from points(own)
    if pool.missing:
        yield text("Not in the totals:")
        yield from points(f"{name}: {why}" for name, why in sorted(pool.missing.items()))
