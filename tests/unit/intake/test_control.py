"""A row of totals is set against the lines above it; sums by hand."""

from __future__ import annotations

import pytest

AREA = (
    "area_id,area_name,houses_count,townhouses_count,apartments_count,residents_count,"
    "kerbside_service,is_priority\nN,North,1,1,1,3,residual_only,no\n"
)
LEDGER = "cost_id,cost_date,category,amount\n"


def ledger(read, lines):
    (file,) = read({"costs.csv": LEDGER + lines})
    return file


def test_a_total_that_agrees_is_said_to_agree(read):
    file = ledger(read, "C1,2026-04-01,bins,100.10\nC2,2026-05-01,bins,-0.10\nTotal,,,100.00\n")
    (total,) = file.totals
    assert (total.row_number, total.stated, total.difference) == (4, 100.0, 0.0)
    assert file.notes == (
        "costs.csv, row 4: your total row says 100.00, and the lines loaded add up to the same.",
    )


def test_a_refused_line_explains_the_difference(read):
    file = ledger(read, "C1,2026-04-01,bins,100\nC2,2026-04-31,bins,40\nTotal,,,140\n")
    (total,) = file.totals
    assert total.difference == pytest.approx(40.0)
    assert total.unexplained == 0.0
    assert file.notes == (
        "costs.csv, row 4: your total row says 140.00; the lines loaded add up to 100.00, a "
        "difference of 40.00. Refused row 3 holds 40.00. That explains it.",
    )


def test_a_line_that_stands_twice_explains_what_the_total_counts_twice(read):
    line = "C1,2026-04-01,bins,100\n"
    file = ledger(read, f"{line}{line}Total,,,200\n")
    assert "Repeated row 3 holds 100.00. That explains it." in file.notes[0]


def test_what_nothing_explains_is_named(read):
    file = ledger(read, "C1,2026-04-01,bins,100\nC2,2026-04-31,bins,40\nTotal,,,150\n")
    assert file.totals[0].unexplained == pytest.approx(10.0)
    assert "10.00 of it is not explained" in file.notes[0]


def test_an_amount_that_cannot_be_read_takes_the_blame(read):
    file = ledger(read, "C1,2026-04-01,bins,100\nC2,2026-04-02,bins,forty\nTotal,,,140\n")
    assert file.totals[0].unread_count == 1
    assert "40.00 of it must be in refused rows whose amounts cannot be read (1)." in file.notes[0]


def test_subtotals_add_up_what_stands_since_the_last_and_a_grand_total_all(read):
    lines = (
        "C1,2026-04-01,bins,100\nSubtotal,,,100\nC2,2026-05-01,bins,50\nSubtotal,,,50\n"
        "Grand total,,,150\n"
    )
    file = ledger(read, lines)
    assert [total.stated for total in file.totals] == [100.0, 50.0, 150.0]
    assert [total.difference for total in file.totals] == [0.0, 0.0, 0.0]


def test_a_total_is_read_as_the_cells_of_its_column_are(read):
    file = ledger(read, 'C1,2026-04-01,bins,"£1,234.50"\nTotal,,,"£1,234.50"\n')
    assert file.totals[0].stated == pytest.approx(1234.5)


def test_a_total_without_an_amount_is_passed_over_as_before(read):
    file = ledger(read, "C1,2026-04-01,bins,5\nTotal,,,\n")
    assert file.totals == ()
    assert file.notes == ("costs.csv, row 3: a total, not read.",)


def test_a_total_of_the_good_lines_alone_agrees_though_a_line_is_refused(read):
    file = ledger(read, "C1,2026-04-01,bins,100\nC2,2026-04-31,bins,40\nTotal,,,100\n")
    assert (file.totals[0].difference, file.totals[0].unexplained) == (0.0, 0.0)
    assert "add up to the same" in file.notes[0]


def test_a_credit_in_a_column_of_its_own_is_taken_off(read):
    lines = (
        "cost_id,cost_date,category,amount,Crédit\nC1,2026-04-01,bins,100,\n"
        "C2,2026-05-01,bins,,40\nC3,2026-05-02,bins,0,5.50\nTotal,,,100,45.50\n"
    )
    (file,) = read({"costs.csv": lines})
    assert file.sheets[0].good()["amount"].to_list() == [100.0, -40.0, -5.5]
    assert (file.totals[0].stated, file.totals[0].difference) == (54.5, 0.0)


def test_a_unit_in_a_column_of_its_own_is_read_with_its_number(read):
    # a pound is 0.45359237 kg (international yard and pound agreement, 1959)
    households = (
        "household_id,area_id,dwelling,people_count,registered_date,may_contact\n"
        "H1,N,house,2,2026-04-01,yes\n"
    )
    lines = (
        "household_id,week_start_date,fed_kg,Unit\nH1,2026-05-04,1.5,kg\nH1,2026-05-11,800,g\n"
        "H1,2026-05-18,2,lb\nH1,2026-05-25,3,buckets\n"
    )
    found = read({"areas.csv": AREA, "households.csv": households, "weighings.csv": lines})
    (rows,) = found[2].sheets
    assert rows.good()["fed_kg"].to_list() == pytest.approx([1.5, 0.8, 0.90718474])
    assert rows.problems["value"].to_list() == ["3 buckets"]
