"""The program file: program.toml read into a frozen, validated Program."""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from typing import TYPE_CHECKING, Annotated, Literal

import babel
from babel.numbers import is_currency
from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator, model_validator

from planner.errors import ProgramError
from planner.program_faults import model_faults, toml_fault
from planner.units import MONTHS_PER_YEAR

if TYPE_CHECKING:
    from pathlib import Path

Share = Annotated[float, Field(ge=0.0, le=1.0)]
Money = Annotated[float, Field(ge=0.0)]
Text = Annotated[str, Field(min_length=1, max_length=200)]

JANUARY = 1
_YEAR_LABEL = re.compile(r"(?P<start>\d{4})(?:-(?P<end>\d{2}))?")


class _Block(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)


class Council(_Block):
    """Who runs the program and how its country writes dates, numbers and money."""

    name: Text
    country_locale: Text
    currency: Text
    reporting_year_first_month: Annotated[int, Field(ge=1, le=12)]

    @field_validator("country_locale")
    @classmethod
    def _known_locale(cls, value: str) -> str:
        try:
            locale = babel.Locale.parse(value.strip().replace("-", "_"))
        except (babel.UnknownLocaleError, ValueError):
            locale = None
        if locale is None or locale.territory is None:
            message = 'expected a language and a country, as "en_AU" or "es_ES"'
            raise ValueError(message)
        if str(locale) != value:
            message = f'did you mean "{locale}"? Expected a language and a country'
            raise ValueError(message)
        return value

    @field_validator("currency")
    @classmethod
    def _known_currency(cls, value: str) -> str:
        if not is_currency(value):
            known = value.strip().upper()
            near = f'did you mean "{known}"? Expected' if is_currency(known) else "expected"
            message = f'{near} three capital letters after ISO 4217, as "AUD" or "EUR"'
            raise ValueError(message)
        return value


class GasCapture(_Block):
    """Share of methane that wells catch from waste of at least this age."""

    from_age_years: Annotated[int, Field(ge=0, le=100)]
    captured_share: Share


class Landfill(_Block):
    """Where the residual waste goes in the end."""

    climate: Literal["boreal_temperate_dry", "boreal_temperate_wet", "tropical_dry", "tropical_wet"]
    management: Literal[
        "managed_anaerobic",
        "managed_semi_aerobic_well",
        "unmanaged_deep",
        "unmanaged_shallow",
        "uncategorised",
    ]
    cover: Literal["oxidising", "none"]
    landfilled_share_of_residual_waste: Share
    gas_capture: Annotated[tuple[GasCapture, ...], Field(min_length=1, strict=False)]

    @model_validator(mode="after")
    def _ages_rise_from_zero(self) -> Landfill:
        ages = [step.from_age_years for step in self.gas_capture]
        if ages[0] != 0 or ages != sorted(set(ages)):
            message = "gas_capture: expected ages that begin at 0 and rise from line to line"
            raise ValueError(message)
        return self


class Method(_Block):
    """Edition of the method and what fixes the draws."""

    edition: Literal["ipcc_2006", "ipcc_2019"]
    gwp_set: Literal["ar4", "ar5", "ar6"]
    draws_count: Annotated[int, Field(ge=100, le=20_000)]
    seed: Annotated[int, Field(ge=0, lt=2**63)]


class Climate(_Block):
    """Monthly mean temperatures, January first."""

    monthly_mean_temperature_c: Annotated[
        tuple[Annotated[float, Field(ge=-40.0, le=50.0)], ...], Field(strict=False)
    ]

    @field_validator("monthly_mean_temperature_c")
    @classmethod
    def _twelve_months(cls, value: tuple[float, ...]) -> tuple[float, ...]:
        if len(value) != MONTHS_PER_YEAR:
            message = f"expected a list of {MONTHS_PER_YEAR}, one for each month, January first"
            raise ValueError(message)
        return value


class Privacy(_Block):
    """What is not shown, what is encrypted, and how long personal details are kept."""

    small_cell_threshold: Annotated[int, Field(ge=3, le=100)]
    encrypt_records: bool = False
    contacts_retention_months: Annotated[int, Field(ge=1, le=1200)] | None = None


class BinModel(_Block):
    """A bin model that is given away."""

    model_id: Annotated[str, Field(min_length=1, max_length=60)]
    model_name: Text
    trays_count: Annotated[int, Field(ge=1, le=12)]
    tray_area_m2: Annotated[float, Field(gt=0.0, le=5.0)]
    plastic_kg: Annotated[float, Field(ge=0.0, le=100.0)]
    plastic_recycled_share: Share
    service_life_years: Annotated[int, Field(ge=1, le=50)]
    unit_price: Money


class ReportingYear(_Block):
    """Budget, prices and targets of one reporting year."""

    reporting_year: str
    budget: Money | None = None
    landfill_levy_per_t: Money
    gate_fee_per_t: Money
    bins_given_target: Annotated[int, Field(ge=0)] | None = None
    kept_out_of_landfill_t_target: Annotated[float, Field(ge=0.0)] | None = None


OwnWords = dict[str, dict[str, Annotated[str, Field(min_length=1, max_length=60)]]]
"""For a table or column, the council's own words and what each stands for."""


class Program(_Block):
    """Everything that program.toml says."""

    council: Council
    landfill: Landfill
    method: Method
    climate: Climate
    privacy: Privacy
    bin_models: Annotated[tuple[BinModel, ...], Field(min_length=1, strict=False)]
    reporting_years: Annotated[tuple[ReportingYear, ...], Field(min_length=1, strict=False)]
    columns: OwnWords = {}
    synonyms: OwnWords = {}

    @model_validator(mode="after")
    def _one_block_each(self) -> Program:
        for block, names in (
            ("bin_models", [model.model_id for model in self.bin_models]),
            ("reporting_years", [year.reporting_year for year in self.reporting_years]),
        ):
            repeated = sorted({name for name in names if names.count(name) > 1})
            if repeated:
                message = f"{block}: found {repeated[0]!r} twice, expected one block each"
                raise ValueError(message)
        return self

    @model_validator(mode="after")
    def _years_are_reporting_years(self) -> Program:
        first_month = self.council.reporting_year_first_month
        for year in self.reporting_years:
            start = _label_start(year.reporting_year)
            if start is None or year_label(start, first_month) != year.reporting_year:
                digits = re.match(r"\d{4}", year.reporting_year)
                wanted = year_label(int(digits[0]) if digits else 2026, first_month)
                message = (
                    f"reporting_years: found {year.reporting_year!r}, "
                    f"expected a year written as {wanted!r}"
                )
                raise ValueError(message)
        return self

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
        message = (
            f"program.toml: no [[reporting_years]] block for {label}; it has {known}. "
            f'Add a block with reporting_year = "{label}", or name one of those with --year.'
        )
        raise ProgramError(message)

    def months(self, label: str) -> tuple[dt.date, dt.date]:
        """First day of the reporting year and first day after it."""
        self.year(label)
        start = _label_start(label) or 0
        first_month = self.council.reporting_year_first_month
        return dt.date(start, first_month, 1), dt.date(start + 1, first_month, 1)


def year_label(start_year: int, first_month: int) -> str:
    """Write a reporting year as councils do.

    Parameters
    ----------
    start_year
        Calendar year in which it begins.
    first_month
        Month in which it begins, 1 to 12.

    Examples
    --------
    >>> year_label(2025, 1), year_label(2025, 7)
    ('2025', '2025-26')
    """
    if first_month == JANUARY:
        return str(start_year)
    return f"{start_year}-{(start_year + 1) % 100:02d}"


def label_of_date(day: dt.date, first_month: int) -> str:
    """Name the reporting year in which a day falls.

    Examples
    --------
    >>> label_of_date(dt.date(2026, 6, 30), 7)
    '2025-26'
    """
    start = day.year if day.month >= first_month else day.year - 1
    return year_label(start, first_month)


def _label_start(label: str) -> int | None:
    match = _YEAR_LABEL.fullmatch(label)
    return int(match["start"]) if match else None


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
        message = (
            f"{path}: found no program file. Stand in a program folder or name it with "
            "--program DIR; `planner new DIR` starts one."
        )
        raise ProgramError(message, path=str(path)) from None
    except (OSError, UnicodeDecodeError) as error:
        message = f"{path}: cannot be read ({error}). Save it as plain text in UTF-8."
        raise ProgramError(message, path=str(path)) from error
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ProgramError(toml_fault(path, text, error), path=str(path)) from error
    try:
        return Program.model_validate(content)
    except ValidationError as error:
        message = model_faults(path, error, Program, content)
        raise ProgramError(message, path=str(path)) from error
