"""The flight engineer's arithmetic: units, tables, formulas and the sheet."""
