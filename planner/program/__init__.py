"""The program file: program.toml read into a frozen, validated Program."""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from functools import lru_cache
from typing import TYPE_CHECKING, Annotated

from pydantic import Field, ValidationError, model_validator

from planner.errors import ProgramError
from planner.messages import FIRST_LANGUAGE, languages, say, write_papers_in
from planner.program.council import (
    AreaMap,
    Block,
    Council,
    FirstAnswers,
    HouseholdHelp,
    Privacy,
    Reporting,
    refuse_twice,
)
from planner.program.emissions import (
    BaselineScenario,
    Climate,
    Emissions,
    FurtherLandfill,
    FurtherLandfills,
    GasCapture,
    Landfill,
    LandfillSite,
    Leakage,
    Method,
    OwnFactor,
)
from planner.program.giveaway import (
    BinModel,
    Delivery,
    HandOver,
    ReportingYear,
    label_of_date,
    label_start,
    next_label,
    year_label,
)
from planner.program.money import Funder, InKind, MoneyToCome, OtherWay, paid_twice
from planner.program.ordering import Nursery, Ordering, Purchasing
from planner.program.sizing import Sizing
from planner.program_faults import model_faults, toml_fault
from planner.vetting.settings import UnsoundSettingsError, read_settings

if TYPE_CHECKING:
    from pathlib import Path

_LOCALE = re.compile(r"^\s*country_locale\s*=\s*[\"']([a-z]{2})[_-]", re.MULTILINE)

__all__ = [
    "BaselineScenario",
    "BinModel",
    "Delivery",
    "Emissions",
    "FirstAnswers",
    "Funder",
    "FurtherLandfill",
    "GasCapture",
    "HandOver",
    "LandfillSite",
    "Leakage",
    "Method",
    "OwnFactor",
    "Privacy",
    "Program",
    "ReportingYear",
    "Sizing",
    "label_of_date",
    "open_program",
    "read_program",
    "written_language",
    "year_label",
]

OwnWords = dict[str, dict[str, Annotated[str, Field(min_length=1, max_length=60)]]]
"""For a table or column, the council's own words and what each stands for."""


STARTER = "starter_kg"
"""Factor of the worms given with a bin."""


class Program(Block):
    """Everything that program.toml says."""

    council: Council
    landfill: Landfill
    method: Method
    climate: Climate
    privacy: Privacy
    bin_models: Annotated[tuple[BinModel, ...], Field(min_length=1, strict=False)]
    reporting_years: Annotated[tuple[ReportingYear, ...], Field(min_length=1, strict=False)]
    leakage: Leakage = Field(default_factory=Leakage)
    emissions: Emissions = Field(default_factory=Emissions)
    further_landfills: FurtherLandfills = ()
    reporting: Reporting = Field(default_factory=Reporting)
    money: MoneyToCome = Field(default_factory=MoneyToCome)
    scenarios: Annotated[tuple[BaselineScenario, ...], Field(max_length=12, strict=False)] = ()
    in_kind: Annotated[tuple[InKind, ...], Field(strict=False)] = ()
    other_ways: Annotated[tuple[OtherWay, ...], Field(strict=False)] = ()
    funders: Annotated[tuple[Funder, ...], Field(max_length=40, strict=False)] = ()
    factors: Annotated[tuple[OwnFactor, ...], Field(strict=False)] = ()
    sizing: Sizing = Field(default_factory=Sizing)
    ordering: Ordering = Field(default_factory=Ordering)
    purchasing: Purchasing = Field(default_factory=Purchasing)
    hand_over: HandOver = Field(default_factory=HandOver)
    delivery: Delivery | None = None
    nursery: Nursery | None = None
    map: AreaMap | None = None
    household_help: HouseholdHelp = Field(default_factory=HouseholdHelp)
    columns: OwnWords = Field(default_factory=dict)
    synonyms: OwnWords = Field(default_factory=dict)
    every_row: OwnWords = Field(default_factory=dict)
    same_sheet: OwnWords = Field(default_factory=dict)

    @model_validator(mode="before")
    @classmethod
    def _starter_is_a_factor(cls, data: object) -> object:
        """Put the starter of [ordering] among the council's factors: orders and sizes share it."""
        if not isinstance(data, dict) or not isinstance(data.get("ordering"), dict):
            return data
        kilos, factors = data["ordering"].get("worms_kg_per_bin"), data.get("factors", [])
        if not isinstance(kilos, int | float) or not isinstance(factors, list | tuple):
            return data
        if any(isinstance(one, dict) and one.get("factor_id") == STARTER for one in factors):
            raise ValueError(say("setting.starter_twice"))
        starter = {"factor_id": STARTER, "value": float(kilos), "unit": "kg worms per bin",
                   "source": say("setting.starter_source")}  # fmt: skip
        return {**data, "factors": [*factors, starter]}

    @model_validator(mode="after")
    def _one_block_each(self) -> Program:
        for block, names in (
            ("bin_models", [model.model_id for model in self.bin_models]),
            ("reporting_years", [year.reporting_year for year in self.reporting_years]),
            ("other_ways", [way.name for way in self.other_ways]),
            ("funders", [one.name for one in self.funders]),
            ("funders", [one.grant_reference for one in self.funders]),
        ):
            refuse_twice(block, names)
        return self

    @model_validator(mode="after")
    def _years_are_reporting_years(self) -> Program:
        first_month = self.council.reporting_year_first_month
        for year in self.reporting_years:
            start = label_start(year.reporting_year)
            if start is None or year_label(start, first_month) != year.reporting_year:
                digits = re.match(r"\d{4}", year.reporting_year)
                wanted = year_label(int(digits[0]) if digits else 2026, first_month)
                message = say("setting.year_form", year=year.reporting_year, wanted=wanted)
                raise ValueError(message)
        return self

    @model_validator(mode="after")
    def _work_falls_in_a_reporting_year(self) -> Program:
        known = [year.reporting_year for year in self.reporting_years]
        for work in self.in_kind:
            if work.reporting_year not in known:
                message = say("setting.work_year", year=work.reporting_year, known=", ".join(known))
                raise ValueError(message)
        return self

    @model_validator(mode="after")
    def _no_bin_is_paid_for_twice(self) -> Program:
        if found := paid_twice(self.funders):
            raise ValueError(found)
        return self

    @model_validator(mode="after")
    def _prices_of_scenarios_follow_the_years(self) -> Program:
        first_month = self.council.reporting_year_first_month
        known = {label_start(year.reporting_year) for year in self.reporting_years}
        refuse_twice("scenarios", [one.name for one in self.scenarios])
        for one in self.scenarios:
            if not one.changes_prices:
                continue
            if one.begins.month != first_month:
                message = say("setting.price_day", name=one.name, day=str(one.begins))
                raise ValueError(message)
            if one.begins.year in known:
                message = say("setting.price_known", name=one.name, day=str(one.begins))
                raise ValueError(message)
            known.add(one.begins.year)
        return self

    def prices(self) -> dict[int, tuple[float, float]]:
        """Levy and gate fee by the year in which a reporting year begins, as stated [per t].

        Those of the blocks of reporting years, and after them those of scenarios; what a
        scenario does not name stays as it was.
        """
        stated = {
            label_start(year.reporting_year) or 0: (
                year.landfill_levy_per_t,
                year.gate_fee_per_t,
            )
            for year in self.reporting_years
        }
        for one in sorted(self.scenarios, key=lambda one: one.begins):
            if not one.changes_prices:
                continue
            earlier = [year for year in stated if year < one.begins.year] or [min(stated)]
            levy, fee = stated[max(earlier)]
            stated[one.begins.year] = (
                levy if one.landfill_levy_per_t is None else one.landfill_levy_per_t,
                fee if one.gate_fee_per_t is None else one.gate_fee_per_t,
            )
        return stated

    def year(self, label: str) -> ReportingYear:
        """Find the block of one reporting year.

        Raises
        ------
        ProgramError
            The program file has no such block.
        """
        for year in self.reporting_years:
            if year.reporting_year == label:
                return year
        known = ", ".join(year.reporting_year for year in self.reporting_years)
        raise ProgramError(say("setting.no_year", year=label, known=known))

    def year_to_add(self, day: dt.date | None) -> str | None:
        """Name the year after the blocks of the file where a day lies in it, or beyond."""
        last = max(year.reporting_year for year in self.reporting_years)
        return next_label(last) if day is not None and day >= self.months(last)[1] else None

    def months(self, label: str) -> tuple[dt.date, dt.date]:
        """First day of the reporting year and first day after it."""
        self.year(label)
        start = label_start(label) or 0
        first_month = self.council.reporting_year_first_month
        return dt.date(start, first_month, 1), dt.date(start + 1, first_month, 1)


def open_program(path: Path) -> Program:
    """Read the program file that a command works on, and write its papers in its language."""
    program = read_program(path)
    write_papers_in(program.council.country_locale, program.council.report_language)
    return program


def written_language(path: Path) -> str:
    """Find the council's language in a file that may not be sound otherwise; English without."""
    try:
        found = _LOCALE.search(path.read_text(encoding="utf-8-sig"))
    except (OSError, UnicodeDecodeError):
        return FIRST_LANGUAGE
    return found[1] if found and found[1] in languages() else FIRST_LANGUAGE


def read_program(path: Path) -> Program:
    """Read program.toml.

    Raises
    ------
    ProgramError
        The file is missing, is not TOML, or holds a wrong key, type, unit or range; the
        message lists every case with the key's path and what is allowed.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        message = say("setting.file.missing", path=str(path))
        raise ProgramError(message, path=str(path)) from None
    except (OSError, UnicodeDecodeError) as error:
        message = say("setting.file.unreadable", path=str(path), why=str(error))
        raise ProgramError(message, path=str(path)) from error
    return _sound(path, text)


@lru_cache(maxsize=8)
def _sound(path: Path, text: str) -> Program:
    """Check a program file once, though a command asks for its language first and then for all."""
    try:
        content = read_settings(text)
    except UnsoundSettingsError as error:
        message = say("setting.file.unsound", path=str(path), why=str(error))
        raise ProgramError(message, path=str(path)) from None
    except tomllib.TOMLDecodeError as error:
        raise ProgramError(toml_fault(path, text, error), path=str(path)) from error
    try:
        return Program.model_validate(content)
    except ValidationError as error:
        message = model_faults(path, error, Program, content)
        raise ProgramError(message, path=str(path)) from error
