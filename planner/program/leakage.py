"""Block [leakage] of program.toml: scraps that count as kept out of landfill and were not."""

from __future__ import annotations

from planner.program.block import Block, Share


class Leakage(Block):
    """Shares that the council takes as certain; left out, answers or the factor tables tell.

    Parameters
    ----------
    would_have_composted_anyway_share
        Of the scraps that went to the residual bin before, share that would have been
        composted or fed to animals by now had there been no worm bin.
    contents_binned_share
        Of the scraps fed, share that was thrown in the residual bin after all.
    """

    would_have_composted_anyway_share: Share | None = None
    contents_binned_share: Share | None = None
