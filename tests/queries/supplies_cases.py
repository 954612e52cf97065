"""Cases of the query that counts what was given out with the bins."""

from __future__ import annotations

import datetime as dt

from tests.queries.given import Case

D = dt.date
BEFORE = D(2026, 7, 1)

CASES = [
    Case(
        "supplies_by_month",
        "a bin that went out again counts where it came back; the day itself is left out",
        {
            "households": [{"household_id": "H1"}],
            "handovers": [
                {"handover_id": "1", "handover_date": D(2026, 5, 2), "bedding_kg": 2.0},
                {"handover_id": "2", "handover_date": D(2026, 5, 30), "worms_kg": 0.25},
                {"handover_id": "3", "handover_date": D(2026, 5, 3), "model_id": "tube"},
                {"handover_id": "4", "handover_date": BEFORE},
            ],
            "givebacks": [
                {"handover_id": "1", "giveback_date": D(2026, 6, 30), "is_reissued": True},
                {"handover_id": "2", "giveback_date": D(2026, 5, 31)},
                {"handover_id": "3", "giveback_date": BEFORE, "is_reissued": True},
            ],
        },
        ("model_id", "supply_month", "bins_given", "reissued_count", "bedding_kg", "worms_kg"),
        [
            ("tube", D(2026, 5, 1), 1, 0, 1.0, 0.5),
            ("two_tray", D(2026, 5, 1), 2, 0, 3.0, 0.75),
            ("two_tray", D(2026, 6, 1), 0, 1, 0.0, 0.0),
        ],
        {"before_date": BEFORE},
    ),
]
