"""The year-end workbook: one sheet a module, real numbers in the cells, no macros."""
