"""Plan, run and account for a council's worm-bin giveaway."""

import os

__version__ = "0.1.0"

# The matrices here are small, and OpenBLAS's threads wait for one another at full speed: a fit of
# the hazard of stopping took eleven times the work. numpy reads this when it is first imported.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
