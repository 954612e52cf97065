"""Where errors that the officer can mend become a message and exit code 2."""

from __future__ import annotations

from typing import Any

import typer
from typer.core import TyperGroup

from planner.errors import PlannerError

NEEDS_MENDING = 2


class PlannerGroup(TyperGroup):
    """Group of commands that tells PlannerError without a traceback."""

    def invoke(self, ctx: Any) -> Any:  # noqa: ANN401 - typer's own, undeclared types
        """Run the command that was named."""
        try:
            return super().invoke(ctx)
        except PlannerError as error:
            typer.echo(str(error), err=True)
            raise typer.Exit(NEEDS_MENDING) from error
