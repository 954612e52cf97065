"""What is said of schools, flats and cafes, and of workshops."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.units import DAYS_PER_MONTH, KG_PER_T

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.field.shared_bins import SharedBins
    from planner.field.workshop_effect import WorkshopEffect


def site_lines(found: SharedBins) -> Iterator[str]:
    """Say what sites have, what they were fed, and how many keep their bins."""
    sites = found.sites.filter(found.sites["bins_count"] > 0)
    if sites.is_empty():
        yield "No sites yet. Load the sheets sites, site_bins and site_weighings."
        return
    kinds = sites["site_kind"].value_counts(sort=True).sort("count", "site_kind", descending=True)
    listed = ", ".join(f"{kind.replace('_', ' ')} {count}" for kind, count in kinds.iter_rows())
    yield (
        f"{sites.height} sites ({listed}) for {sites['people_count'].sum():,} people; "
        f"{sites['bins_in_use_count'].sum()} of {sites['bins_count'].sum()} bins in use."
    )
    weighed = int((sites["weighed_weeks_count"] > 0).sum())
    if found.fed_kg is None or found.kg_per_bin_week is None:
        yield f"{weighed} sites weighed their feed; three are needed to say what all were fed."
    else:
        value, low, high = (one / KG_PER_T for one in found.fed_kg)
        rate = found.kg_per_bin_week
        yield (
            f"Fed at all sites: {value:.2f} t ({low:.2f} to {high:.2f}), from "
            f"{sites['weighed_weeks_count'].sum()} weighed weeks of {weighed} sites; "
            f"{rate[0]:.2f} kg a bin and week ({rate[1]:.2f} to {rate[2]:.2f})."
        )
    for age, (kept, known, low, high) in found.kept.items():
        if known:
            yield (
                f"In use {age / DAYS_PER_MONTH:.0f} months after they were given: {kept} of "
                f"{known} known ({low:.0%} to {high:.0%})."
            )
    yield (
        "The tonnes of households do not hold these: nobody asked where sites' scraps went before."
    )


def workshop_lines(found: WorkshopEffect) -> Iterator[str]:
    """Say who came to workshops, and how far keeping their bins can be put down to it."""
    if not found.workshops_count:
        yield "No workshops yet. Load the sheets workshops and attendances."
        return
    yield f"{found.attended_count:,} households came to {found.workshops_count:,} workshops."
    if found.ratio is None or found.e_value is None:
        yield (
            f"After it {found.stopped_count} are known to have stopped; "
            f"{found.expected_count:.1f} were to be expected. Too few to compare."
        )
        return
    yield (
        f"After it {found.stopped_count} are known to have stopped; {found.expected_count:.1f} "
        "were to be expected of others alike in dwelling, people, area, bin and its age: "
        f"{found.ratio:.2f} times as often ({found.low:.2f} to {found.high:.2f})."
    )
    yield (
        "Those who come differ: they are keener, and keener people keep their bins anyway. Do not "
        "say that the workshop did it. Something not recorded that makes both coming and keeping "
        f"{found.e_value:.1f} times likelier would explain all of it. To know, offer places by lot."
    )
