#!/usr/bin/env python3
"""Makes the reckoner's vectors anew and compares them with those that are committed.

The inputs of every table stand in the table; everything else in it is computed here, apart from the server's own code:
freezing points and densities by CoolProp, zones by the linear programming of scipy, quantiles by numpy and scipy,
what is left of a set that still runs by lifelines and statsmodels. What a table
quotes from print (a printed proof load, where an area was read) is left as it is.

    python3 tests/reference/remake.py            compares, and ends with 1 where a cell differs
    python3 tests/reference/remake.py --can      ends with 0 when the packages of requirements.txt are there, with 3
                                                 when one is missing, and with another number when something else is wrong
"""

import csv
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
VECTORS = HERE.parents[1] / "services" / "reckoner" / "tests" / "vectors"
# What nobody has to have here: without it nothing is made anew.
PACKAGES = {line.partition("==")[0] for line in (HERE / "requirements.txt").read_text(encoding="utf-8").split()}


def decimals(cell):
    """How many digits stand behind the point of a cell."""
    return len(cell.split("e")[0].partition(".")[2])


def same(made, kept, step):
    """Whether what was made is what is kept, as far as its column was printed."""
    if made is None:
        return kept == ""
    if isinstance(made, str):
        return made == kept
    if kept == "":
        return False
    should = float(kept)
    # Little more than half of the last digit, and what two programs may differ by.
    return abs(made - should) <= 0.7 * step + 1e-8 * abs(should)


def compare(name, remake):
    """The cells of a table that differ from what is made anew, and how many were compared."""
    with open(VECTORS / f"{name}.csv", encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    made = remake(rows)
    if len(made) != len(rows):
        return [f"{name}: {len(made)} lines were made, {len(rows)} are kept"], 0
    steps = {column: 10.0 ** -max(decimals(row[column]) for row in rows) for column in rows[0]}
    wrong, cells = [], 0
    for line, (row, anew) in enumerate(zip(rows, made), start=2):
        for column, value in anew.items():
            cells += 1
            if not same(value, row[column], steps[column]):
                wrong.append(f"{name}.csv line {line} {column}: made {value}, kept {row[column]}")
    return wrong, cells


def main():
    try:
        import coolant
        import durations
        import fasteners
        import formulas
        import heads
    except ModuleNotFoundError as missing:
        # A module of this folder that is missing is a fault and no reason to skip.
        if (missing.name or "").partition(".")[0] not in PACKAGES:
            raise
        print(f"reference: {missing}; install what tests/reference/requirements.txt names", file=sys.stderr)
        return 3
    if "--can" in sys.argv[1:]:
        return 0
    wrong, cells = [], 0
    tables = {**fasteners.TABLES, **coolant.TABLES, **heads.TABLES, **formulas.TABLES, **durations.TABLES}
    for name, remake in sorted(tables.items()):
        faults, count = compare(name, remake)
        wrong += faults
        cells += count
    kept = {path.stem for path in VECTORS.glob("*.csv")}
    wrong += [f"{name}.csv is made by nothing here" for name in sorted(kept - set(tables) - INPUTS)]
    for fault in wrong:
        print(fault, file=sys.stderr)
    print(f"reference: {cells} cells of {len(tables)} tables made anew, {len(wrong)} differ")
    return 1 if wrong else 0


# Readings that are inputs of another table.
INPUTS = {"flatness_grid", "kaplan_meier_input"}

if __name__ == "__main__":
    sys.exit(main())
