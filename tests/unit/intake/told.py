"""What the officer is told of problems, as lines."""

from planner.intake.problems import faults


def sentences(problems):
    """Give the line of each cause."""
    return faults(problems).lines["sentence"].to_list()
