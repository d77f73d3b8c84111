"""Threads, bolts, torque, wrenches, orders and units."""

import math
from fractions import Fraction

INCH_MM = Fraction(254, 10)
POUND_KG = Fraction(45359237, 10**8)
GRAVITY = Fraction(980665, 10**5)
FOOT_M = 12 * INCH_MM / 1000
PSI_KPA = POUND_KG * GRAVITY / (INCH_MM / 1000) ** 2 / 1000
# One of each, in the unit behind the arrow; from the definitions of inch, pound, standard gravity and atmosphere.
FACTORS = {
    ("lbf_ft", "N_m"): POUND_KG * GRAVITY * FOOT_M,
    ("lbf_in", "N_m"): POUND_KG * GRAVITY * INCH_MM / 1000,
    ("kgf_m", "N_m"): GRAVITY,
    ("kgf_cm", "N_m"): GRAVITY / 100,
    ("psi", "kPa"): PSI_KPA,
    ("bar", "kPa"): Fraction(100),
    ("kgf_cm2", "kPa"): GRAVITY * 10,
    ("atm", "kPa"): Fraction(101325, 1000),
    ("psi", "bar"): PSI_KPA / 100,
    ("in", "mm"): INCH_MM,
}
COARSE = {6: 1, 8: 1.25, 10: 1.5, 12: 1.75, 14: 2, 16: 2}
# ISO 898-1 from copies: proof stress up to M16, and the least yield of 10.9.
PROOF_MPA = {"8.8": 580, "10.9": 830, "12.9": 970}
YIELD_10_9_MPA = 940
DEGREE = math.pi / 180


def thread(name):
    """Diameter and pitch of a designation."""
    diameter, _, pitch = name[1:].partition("x")
    return float(diameter), float(pitch) if pitch else float(COARSE[int(diameter)])


def diameters(name):
    """Pitch diameter and minor diameter of the bolt: ISO 724."""
    diameter, pitch = thread(name)
    height = pitch * math.sqrt(3) / 2
    return diameter - 3 * height / 4, diameter - 5 * height / 4 - height / 6


def area(name):
    pitch_diameter, minor = diameters(name)
    return math.pi * ((pitch_diameter + minor) / 2) ** 2 / 4


def three_figures(value):
    return float(f"{value:.3g}")


def stress_areas(rows):
    made = []
    for row in rows:
        diameter, pitch = thread(row["thread"])
        pitch_diameter, minor = diameters(row["thread"])
        exact = area(row["thread"])
        made.append({
            "d_mm": diameter,
            "pitch_mm": pitch,
            "d2_mm": pitch_diameter,
            "d3_mm": minor,
            "As_exact_mm2": exact,
            "As_iso_mm2": three_figures(exact),
        })
    return made


def proof_loads(rows):
    made = []
    for row in rows:
        stress, bearing = PROOF_MPA[row["class"]], three_figures(area(row["thread"]))
        made.append({"Sp_MPa": float(stress), "As_mm2": bearing, "Fp_N": stress * bearing})
    return made


def torques(rows):
    made = []
    for row in rows:
        (diameter, pitch), (pitch_diameter, _) = thread(row["thread"]), diameters(row["thread"])
        force = float(row["share_of_proof"]) * PROOF_MPA[row["class"]] * three_figures(area(row["thread"]))
        own, head, mean = float(row["mu_thread"]), float(row["mu_bearing"]), float(row["Db_mm"])
        under = head * mean / 2
        rounded = 0.159 * pitch + 0.578 * pitch_diameter * own + under
        exact = pitch / (2 * math.pi) + own * pitch_diameter / (2 * math.cos(30 * DEGREE)) + under
        # The thread as a wedge on a slope, with nothing left out.
        slope = math.atan(pitch / (math.pi * pitch_diameter))
        wedge = math.atan(own / math.cos(30 * DEGREE))
        full = pitch_diameter / 2 * math.tan(slope + wedge) + under
        made.append({
            "F_N": force,
            "d2_mm": pitch_diameter,
            "T_0159_0578_Nm": force * rounded / 1000,
            "T_exact_constants_Nm": force * exact / 1000,
            "T_full_form_Nm": force * full / 1000,
            "T_K0.2_Nm": 0.2 * force * diameter / 1000,
            "K_equivalent": rounded / diameter,
        })
    return made


def angles(rows):
    """M10x1.25 of 10.9, 110 mm of it stretching, parts five times as stiff as the bolt, seated to 10 kN."""
    bearing = three_figures(area("M10x1.25"))
    bolt = 205_000 * bearing / 110
    joint = bolt * 5 / 6
    made = []
    for row in rows:
        force = 10_000 + float(row["total_angle_deg"]) / 360 * 1.25 * joint
        made.append({"F_elastic_N": force, "F_capped_at_Rp02_N": min(force, YIELD_10_9_MPA * bearing)})
    return made


def adapters(rows):
    def setting(row):
        torque, wrench, arm = (float(row[name]) for name in ("T_wanted_Nm", "L_mm", "E_mm"))
        return torque * wrench / (wrench + arm * math.cos(float(row["angle_deg"]) * DEGREE))

    return [{"T_set_Nm": setting(row)} for row in rows]


def order(lines, columns):
    """From the middle outwards, opposite bolts in turn. Whole numbers, so that nothing is nearly equal."""
    spots = {
        f"{chr(65 + line)}{column + 1}": (2 * column - (columns - 1), (lines - 1) - 2 * line)
        for line in range(lines)
        for column in range(columns)
    }
    at = {place: name for name, place in spots.items()}
    firsts = [
        (x, y) for x, y in spots.values() if x > 0 or (x == 0 and y >= 0)
    ]
    firsts.sort(key=lambda place: (abs(place[0]), place[1]))
    names = []
    for x, y in firsts:
        names.append(at[x, y])
        if (x, y) != (0, 0):
            names.append(at[-x, -y])
    return names


def sequences(rows):
    made = []
    for row in rows:
        lines, columns = (int(part) for part in row["grid_rows_x_cols"].split("x"))
        names = order(lines, columns)
        made.append({
            "bolts": float(lines * columns),
            "tighten_order": " ".join(names),
            "loosen_order": " ".join(reversed(names)),
        })
    return made


def units(rows):
    made = []
    for row in rows:
        factor = FACTORS[row["from"], row["to"]]
        made.append({"factor": float(factor), "exact_fraction": f"{factor.numerator}/{factor.denominator}"})
    return made


TABLES = {
    "thread_stress_area": stress_areas,
    "proof_load": proof_loads,
    "tightening_torque": torques,
    "torque_angle": angles,
    "torque_adapter": adapters,
    "tightening_sequence": sequences,
    "unit_factors": units,
}
