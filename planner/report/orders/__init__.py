"""The order as it is written: summary, purchase orders, calendar, checklist, cautions."""
