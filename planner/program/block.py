"""What every block of program.toml shares: strictness, and kinds of values."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

Share = Annotated[float, Field(ge=0.0, le=1.0)]
Money = Annotated[float, Field(ge=0.0)]
Text = Annotated[str, Field(min_length=1, max_length=200)]


class Block(BaseModel):
    """A block of keys: none unknown, each of its own type, nothing changed once read."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)
