"""Coolant: freezing points and densities by CoolProp, mixing by the balance of glycol."""

from CoolProp.CoolProp import PropsSI
from scipy.optimize import brentq

KELVIN = 273.15
ATMOSPHERE = 101_325.0
# Densities by which volume and mass are exchanged, at 20 °C: glycol from a copy of a handbook, water by IAPWS.
GLYCOL, WATER = 1113.5, 998.21
# AEG: ASHRAE, by volume. MEG: Melinder, by mass.
BY_VOLUME, BY_MASS = "AEG", "MEG"
LEAST_VOLUME, MOST = 0.10, 0.60


def freezes(fluid, share):
    return PropsSI("T_freeze", "T", 300.0, "P", ATMOSPHERE, f"INCOMP::{fluid}[{share:.12f}]") - KELVIN


def density(fluid, share, celsius):
    return PropsSI("D", "T", celsius + KELVIN, "P", ATMOSPHERE, f"INCOMP::{fluid}[{share:.12f}]")


def volume_of_mass(share):
    glycol, water = share / GLYCOL, (1 - share) / WATER
    return glycol / (glycol + water)


def mass_of_volume(share):
    glycol, water = share * GLYCOL, (1 - share) * WATER
    return glycol / (glycol + water)


def freezing(rows):
    made = []
    for row in rows:
        share = float(row["percent"]) / 100
        mass = mass_of_volume(share)
        made.append({
            "Tf_if_mass_pct_MEG_C": freezes(BY_MASS, share) if share else 0.0,
            "same_mix_vol_pct": 100 * volume_of_mass(share),
            "rho20_MEG_kg_m3": density(BY_MASS, share, 20),
            "Tf_if_vol_pct_AEG_C": freezes(BY_VOLUME, share) if share >= LEAST_VOLUME else None,
            "same_mix_mass_pct": 100 * mass,
            "Tf_if_vol_pct_via_MEG_C": (freezes(BY_MASS, mass) if share else 0.0) if mass <= MOST else None,
        })
    return made


def more(rows):
    made = []
    for row in rows:
        fluid = BY_VOLUME if row["basis"] == "volume" else BY_MASS
        share = float(row["percent"]) / 100
        made.append({"freezes_c": freezes(fluid, share), "density_kg_m3": density(fluid, share, float(row["t_c"]))})
    return made


def needed(rows):
    made = []
    for row in rows:
        celsius = float(row["protect_to_C"])
        strength = lambda fluid, least: 100 * brentq(lambda share: freezes(fluid, share) - celsius, least, MOST)
        made.append({"mass_pct_MEG": strength(BY_MASS, 0.001), "vol_pct_AEG": strength(BY_VOLUME, LEAST_VOLUME)})
    return made


def expansion(rows):
    made = []
    for row in rows:
        share = float(row["vol_pct"]) / 100
        cold, hot = (density(BY_VOLUME, share, float(row[name])) for name in ("T1_C", "T2_C"))
        made.append({
            "rho1": cold,
            "rho2": hot,
            "expansion_fraction": cold / hot - 1,
            "litres_for_7_L_fill": 7 * (cold / hot - 1),
        })
    return made


def concentrate(rows):
    made = []
    for row in rows:
        whole, left, weak, target, strong = (
            float(row[name]) for name in ("V_L", "left_L", "c_left", "c_target", "c_added")
        )
        glycol_short = target * whole - weak * left
        add = glycol_short / strong
        water = whole - left - add
        made.append({
            "add_L": add,
            "water_L": water,
            "c_max": (weak * left + strong * (whole - left)) / whole,
            "verdict": "ok" if 0 <= add and water >= 0 else "unreachable",
        })
    return made


def drain_fill(rows):
    """Round by round and not by the power, which the server uses."""
    made = []
    for row in rows:
        whole, out, strength, filled = (float(row[name]) for name in ("V_L", "drain_L", "c0", "c_fill"))
        old = 1.0
        for _ in range(int(row["n"])):
            strength = (strength * (whole - out) + filled * out) / whole
            old *= (whole - out) / whole
        made.append({"c_n": strength, "old_fluid_share": old})
    return made


def swap(rows):
    def litres(row):
        whole, now, target, added = (float(row[name]) for name in ("V_L", "c0", "c_target", "c_added"))
        # What is in after taking some out and putting as much in has to hold the wanted glycol.
        return brentq(lambda out: now * (whole - out) + added * out - target * whole, 0.0, whole)

    return [{"swap_L": litres(row)} for row in rows]


TABLES = {
    "coolant_freeze": freezing,
    "coolant_more": more,
    "coolant_needed": needed,
    "coolant_expansion": expansion,
    "coolant_concentrate": concentrate,
    "coolant_drain_fill": drain_fill,
    "coolant_swap": swap,
}
