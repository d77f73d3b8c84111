"""Lifting, three-point estimates, stock and earned value."""

import math

from scipy.stats import norm


def lifting(rows):
    """Revised NIOSH lifting equation in inches and pounds."""
    made = []
    for row in rows:
        reach, height, travel, twist, often, grip, load = (
            float(row[name]) for name in ("H_in", "V_in", "D_in", "A_deg", "FM", "CM", "load_lb")
        )
        parts = {
            "HM": 10 / reach,
            "VM": 1 - 0.0075 * abs(height - 30),
            "DM": 0.82 + 1.8 / travel,
            "AM": 1 - 0.0032 * twist,
        }
        full = 51 * math.prod(parts.values()) * often * grip
        made.append({**parts, "RWL_full_lb": full, "LI_full": load / full})
    return made


def activities(rows):
    made = {}
    for net in {row["net"] for row in rows}:
        made.update(scheduled([row for row in rows if row["net"] == net]))
    return [made[row["net"], row["id"]] for row in rows]


def scheduled(rows):
    """Earliest from the front and latest from the back; each stands behind what comes before it."""
    expected, variance, early, late = {}, {}, {}, {}
    for row in rows:
        low, likely, high = (float(row[name]) for name in ("a", "m", "b"))
        name = row["id"]
        expected[name] = (low + 4 * likely + high) / 6
        variance[name] = ((high - low) / 6) ** 2
        early[name] = max((early[before] + expected[before] for before in row["pred"].split()), default=0.0)
    end = max(early[name] + expected[name] for name in early)
    for row in reversed(rows):
        behind = [late[other["id"]] for other in rows if row["id"] in other["pred"].split()]
        late[row["id"]] = min(behind, default=end) - expected[row["id"]]
    made = {}
    for row in rows:
        name = row["id"]
        slack = late[name] - early[name]
        made[row["net"], name] = {
            "te": expected[name],
            "var": variance[name],
            "ES": early[name],
            "EF": early[name] + expected[name],
            "LS": late[name],
            "LF": late[name] + expected[name],
            "slack": slack,
            "critical": "yes" if abs(slack) < 1e-9 else "no",
        }
    return made


def totals(rows):
    made = []
    for row in rows:
        deviation = math.sqrt(float(row["variance"]))
        z = (float(row["due"]) - float(row["te_total"])) / deviation
        made.append({"sd": deviation, "z": z, "P_on_time": float(norm.cdf(z))})
    return made


def reorder(rows):
    made = []
    for row in rows:
        demand, spread, lead, lead_spread, service = (
            float(row[name]) for name in ("mean_demand", "sd_demand", "lead_time", "sd_lead_time", "service")
        )
        z = float(norm.ppf(service))
        sigma = math.hypot(spread * math.sqrt(lead), demand * lead_spread)
        made.append({
            "z": z,
            "sigma_lead": sigma,
            "safety_stock": z * sigma,
            "ROP": demand * lead + z * sigma,
        })
    return made


def order_quantity(rows):
    made = []
    for row in rows:
        demand, order, holding = (float(row[name]) for name in ("annual_demand", "order_cost", "holding_cost"))
        lot = math.sqrt(2 * demand * order / holding)
        made.append({
            "EOQ": lot,
            "orders_per_year": demand / lot,
            "ordering_plus_holding": demand / lot * order + lot / 2 * holding,
        })
    return made


def earned(rows):
    made = []
    for row in rows:
        planned, done, spent, budget = (float(row[name]) for name in ("PV", "EV", "AC", "BAC"))
        schedule, cost = done / planned, done / spent
        likely = budget / cost
        made.append({
            "SV": done - planned,
            "CV": done - spent,
            "SPI": schedule,
            "CPI": cost,
            "EAC_cpi": likely,
            "EAC_budget_rate": spent + budget - done,
            "EAC_spi_cpi": spent + (budget - done) / (schedule * cost),
            "ETC": likely - spent,
            "VAC": budget - likely,
            "TCPI": (budget - done) / (budget - spent),
        })
    return made


TABLES = {
    "niosh_lifting": lifting,
    "pert_activities": activities,
    "pert_totals": totals,
    "reorder_point": reorder,
    "eoq": order_quantity,
    "earned_value": earned,
    "normal_z": lambda rows: [{"z": float(norm.ppf(float(row["p"])))} for row in rows],
    "normal_cdf": lambda rows: [{"Phi": float(norm.cdf(float(row["z"])))} for row in rows],
}
