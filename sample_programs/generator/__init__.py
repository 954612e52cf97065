"""Invented worm-bin giveaways, simulated household by household, with their truth.

Nothing here knows how the planner estimates anything: stopping, feeding, run-in and
season follow formulas of their own, so that estimates can be tested against a truth.

Examples
--------
>>> from sample_programs.generator import TOWNS, records, simulate, true_figures
>>> simulation = simulate(TOWNS["valdorra"], seed=1)
>>> sorted(records(simulation))[:3]
['answers', 'areas', 'audits']
>>> true_figures(simulation).years["kept_out_of_landfill_t"].len()
2
"""

from sample_programs.generator.catalogue import TOWNS, varied
from sample_programs.generator.records import records
from sample_programs.generator.simulation import Simulation, simulate
from sample_programs.generator.towns import Town
from sample_programs.generator.truth import Truth, true_figures
from sample_programs.generator.version import GENERATOR_VERSION

__all__ = [
    "GENERATOR_VERSION",
    "TOWNS",
    "Simulation",
    "Town",
    "Truth",
    "records",
    "simulate",
    "true_figures",
    "varied",
]
