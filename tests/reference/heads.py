"""Compression, leak-down, flatness and compression ratio."""

import csv
import math
from pathlib import Path

import numpy as np
from scipy.optimize import linprog

VECTORS = Path(__file__).resolve().parents[2] / "services" / "reckoner" / "tests" / "vectors"


def compression(rows):
    made = []
    for row in rows:
        readings = [float(row[f"c{number}_bar"]) for number in range(1, 5)]
        low, high = min(readings), max(readings)
        made.append({"low_over_high": low / high, "spread_percent": 100 * (1 - low / high)})
    return made


# The standard atmosphere in psi.
ATMOSPHERE = 101.325 / 6.894757293168


def air(before, behind):
    """Mass of air by area and second at 293.15 K in SI but for the pressures' unit: by the Mach number that the pressures
    leave, at most 1."""
    kappa, gas, kelvin = 1.4, 287.05, 293.15
    mach = min(1.0, math.sqrt(2 / (kappa - 1) * ((before / behind) ** ((kappa - 1) / kappa) - 1)))
    still = 1 + (kappa - 1) / 2 * mach**2
    return before * mach * math.sqrt(kappa / (gas * kelvin)) * still ** (-(kappa + 1) / (2 * (kappa - 1)))


def leak_down(rows):
    made = []
    for row in rows:
        before, behind = float(row["P1"]), float(row["P2"])
        # What flows through both is the same; areas go with the square of the diameter.
        hole = 0.040 * math.sqrt(air(before + ATMOSPHERE, behind + ATMOSPHERE) / air(behind + ATMOSPHERE, ATMOSPHERE))
        made.append({
            "leak_percent": 100 * (before - behind) / before,
            "equal_flow_hole_in_for_0.040_orifice": hole,
        })
    return made


def zone(points):
    """Least distance of two parallel planes with all points between them, and the plane in the middle."""
    x, y, z = np.asarray(points, dtype=float).T
    ones = np.ones_like(x)
    # Unknown: slope along, slope across, height, width.
    above = np.column_stack([-x, -y, -ones, -ones / 2])
    below = np.column_stack([x, y, ones, -ones / 2])
    found = linprog(
        [0, 0, 0, 1],
        A_ub=np.vstack([above, below]),
        b_ub=np.concatenate([-z, z]),
        bounds=[(None, None)] * 3 + [(0, None)],
        method="highs",
    )
    if not found.success:
        raise ArithmeticError(found.message)
    return found.x


def least_squares_span(points):
    x, y, z = np.asarray(points, dtype=float).T
    plane = np.column_stack([x, y, np.ones_like(x)])
    coefficients, *_ = np.linalg.lstsq(plane, z, rcond=None)
    off = z - plane @ coefficients
    return float(off.max() - off.min())


def gap(line):
    """The widest gap under a straight-edge that rests on the highest points of a line from above."""
    line = sorted(line)
    widest = 0.0
    for at, height in line:
        rest = [
            low + (high - low) * (at - left) / (right - left)
            for left, low in line
            for right, high in line
            if left <= at <= right and left < right
        ]
        widest = max([widest, *(level - height for level in rest)])
    return widest


def faces():
    with open(VECTORS / "flatness_grid.csv", encoding="utf-8", newline="") as file:
        found = {}
        for row in csv.DictReader(file):
            found.setdefault(row["case"], []).append(tuple(float(row[name]) for name in ("x_mm", "y_mm", "z_um")))
        return found


def straight_edge(quantity, points):
    where = quantity.removeprefix("straightedge_gap_").removesuffix("_um")
    kind, _, place = where.partition("_")
    right, far = max(x for x, _, _ in points), max(y for _, y, _ in points)
    if kind == "along":
        return gap([(x, z) for x, y, z in points if y == float(place[1:])])
    if kind == "across":
        return gap([(y, z) for x, y, z in points if x == float(place[1:])])
    rises = place == "up"
    on = lambda x, y: x * far == (y if rises else far - y) * right
    return gap([(x, z) for x, y, z in points if on(x, y)])


def flatness(rows):
    known = faces()
    made = []
    for row in rows:
        points, quantity = known[row["case"]], row["quantity"]
        heights = [z for _, _, z in points]
        along, across, level, width = zone(points)
        simple = {
            "minimum_zone_um": width,
            "lp_highs_um": width,
            "least_squares_peak_to_valley_um": least_squares_span(points),
            "raw_range_um": max(heights) - min(heights),
            "plane_a_um_per_mm": along,
            "plane_b_um_per_mm": across,
            "plane_c_um": level,
        }
        value = simple[quantity] if quantity in simple else straight_edge(quantity, points)
        made.append({"value": float(value)})
    return made


def random_faces(rows):
    made = []
    for row in rows:
        points = [tuple(float(part) for part in point.split("/")) for point in row["points"].split()]
        made.append({"minimum_zone_um": float(zone(points)[3])})
    return made


def ratio(rows):
    made = []
    for row in rows:
        bore, stroke, before, skim, share, gasket = (
            float(row[name])
            for name in (
                "bore_mm", "stroke_mm", "CR_before", "skim_mm", "chamber_share_of_bore_area", "extra_gasket_mm",
            )
        )
        disc = math.pi * bore**2 / 4
        swept = disc * stroke / 1000
        clearance = swept / (before - 1)
        after = clearance + disc * (gasket - share * skim) / 1000
        made.append({
            "swept_cc": swept,
            "clearance_before_cc": clearance,
            "clearance_after_cc": after,
            "CR_after": 1 + swept / after,
        })
    return made


TABLES = {
    "compression_test": compression,
    "leakdown": leak_down,
    "flatness_result": flatness,
    "flatness_random": random_faces,
    "compression_ratio": ratio,
}
