#!/usr/bin/env python3
"""Bounds on the plans of random shops, by CP-SAT (ortools), which shares no code with the planner.

Everything that binds a plan is in the model: calendars of the shop and of people, pauses, overtime, skills, several
hands, shared tools, releases and waits, bays of a kind that are held for a whole stay until the vehicle may leave, closed
bays, rolling out, the time that moving takes in the hours of the shop or in overtime, and places outside. What a random shop never has (started stages, pins,
an accepted plan) is not; nor is overtime in which a vehicle is moved counted, so that of overtime the figure is a bound from
below. All times are multiples of GRAIN, and so are those of some best plan.

    cargo run --release -p leadhand-planner --example cases -- 200 > cases.jsonl
    python3 tests/reference/shops.py cases.jsonl --out bounds.csv --plans plans.txt
    cargo run --release -p leadhand-planner --example cases -- --audit plans.txt

    cargo run --release -p leadhand-planner --example cases -- --tiny 300 > tiny.jsonl
    python3 tests/reference/shops.py tiny.jsonl --whole --out optima.csv --plans plans.txt
    cargo run --release -p leadhand-planner --example cases -- --audit-tiny plans.txt

Bounds hold however long the search went on; the best plans found are as good as the time that they were given. A run
that was ended goes on where it was. The tables are kept as
services/planner/tests/vectors/shop_bounds.csv and tiny_optima.csv.
"""

import argparse
import csv
import json
from datetime import datetime, timedelta
from itertools import combinations
from pathlib import Path

from ortools.sat.python import cp_model

GRAIN = 30
COLUMNS = ["seed", "digest", "stages", "tardiness_bound", "tardiness_best", "makespan_bound", "makespan_best"]


def digest(text):
    """FNV-1a, 64 bits: tells when a shop is no longer the one that a row is about."""
    h = 0xCBF29CE484222325
    for byte in text.encode():
        h = (h ^ byte) * 0x100000001B3 % 2**64
    return f"{h:016x}"


class Clock:
    """Instants in grains from the moment of planning."""

    def __init__(self, shop):
        self.zero = datetime.fromisoformat(shop["at"])
        self.end = self.of(shop["until"])

    def of(self, text):
        minutes = (datetime.fromisoformat(text) - self.zero).total_seconds() / 60
        assert minutes % GRAIN == 0, text
        return int(minutes) // GRAIN

    def slots(self, windows):
        return {t for w in windows for t in range(self.of(w["from"]), self.of(w["until"]))}


def whole(minutes):
    assert minutes % GRAIN == 0, minutes
    return minutes // GRAIN


def ends(slots, minutes, pause):
    """When work that begins at each slot is over, with time in these slots only; nothing where it can't begin."""
    found = []
    for begin in sorted(slots):
        t, left = begin, minutes
        while left > 0 and t <= max(slots) and (t in slots or pause):
            left -= t in slots
            t += 1
        if left == 0:
            found.append((begin, t))
    return found


class Shop:
    """The model of one shop, whose days are all alike and whose shifts begin with them."""

    def __init__(self, shop):
        self.shop = shop
        self.clock = Clock(shop)
        self.model = cp_model.CpModel()
        self.start, self.end, self.team, self.bay_of = {}, {}, {}, {}
        self.at_person = {p: [] for p in range(len(shop["technicians"]))}
        self.with_tool = {t["tool"]: [] for t in shop["tools"]}
        self.in_bay = {b: [] for b in range(len(shop["bays"]))}
        self.outside, self.overtime, self.visits, self.finish = [], [], {}, {}
        opened = self.clock.slots(shop["shop"])
        self.normal = [opened & self.clock.slots(t["shifts"]) for t in shop["technicians"]]
        self.day = self.clock.of(shop["shop"][1]["from"])
        self.days = len(shop["shop"])
        self.hours = [
            [sum(d * self.day <= t < (d + 1) * self.day for t in normal) for d in range(self.days)]
            for normal in self.normal
        ]
        for normal, hours in zip(self.normal, self.hours):
            assert normal == {d * self.day + t for d, n in enumerate(hours) for t in range(n)}, "shifts of another kind"
        self.extra_slots = [self.clock.slots(t.get("overtime", [])) for t in shop["technicians"]]
        self.moved_in = opened.union(*self.extra_slots)
        for j in range(len(shop["jobs"])):
            self.job(j)
        for intervals in [*self.at_person.values(), *self.with_tool.values(), *self.in_bay.values()]:
            self.model.add_no_overlap(intervals)
        self.model.add_cumulative(self.outside, [1] * len(self.outside), max(shop["places_outside"], 0))

    def var(self, name):
        return self.model.new_int_var(0, self.clock.end, name)

    def job(self, j):
        job = self.shop["jobs"][j]
        keys = {}
        for k, stage in enumerate(job["stages"]):
            i = (j, k)
            keys[stage["stage"]] = i
            assert stage["now"] == "open" and "pin" not in stage, "a shop that is under way"
            self.start[i], self.end[i] = self.var(f"s{i}"), self.var(f"e{i}")
            release = [job["here_from"], stage["parts_from"], (stage["blocker"] or {}).get("until")]
            self.model.add(self.start[i] >= max(0, *[self.clock.of(t) for t in release if t]))
            minutes = stage["minutes"]
            assert minutes["low"] == minutes["likely"] == minutes["high"], "an estimate that is not certain"
            if stage["kind"] == "wait":
                self.model.add(self.end[i] == self.start[i] + whole(minutes["likely"]))
            else:
                self.work(i, stage, whole(minutes["likely"]))
        for k, stage in enumerate(job["stages"]):
            for before in stage["after"]:
                wait = whole(max(before["wait_minutes"], 0))
                self.model.add(self.start[(j, k)] >= self.end[keys[before["stage"]]] + wait)
        self.finish[j] = self.var(f"f{j}")
        self.model.add_max_equality(self.finish[j], [self.end[i] for i in keys.values()])
        self.stays(j, job)

    def work(self, i, stage, minutes):
        """Who is on a stage, on which day it begins, and when it is over by their hours, with overtime or without."""
        m, people = self.model, self.shop["technicians"]
        able = [p for p, t in enumerate(people) if all(s in t["skills"] for s in stage["skills"])]
        on = {p: m.new_bool_var(f"on{i}{p}") for p in able}
        days = [m.new_bool_var(f"day{i}{d}") for d in range(self.days)]
        begin, length = m.new_int_var(0, self.day - 1, f"o{i}"), m.new_int_var(minutes, 2 * self.day, f"l{i}")
        m.add_exactly_one(days)
        m.add(self.start[i] == sum(d * self.day * literal for d, literal in enumerate(days)) + begin)
        m.add(self.end[i] == self.start[i] + length)
        # A mode is how long the team's day is, or that the team uses its overtime on the first day.
        lengths = range(self.day + 1)
        modes, rows = {n: m.new_bool_var(f"mode{i}{n}") for n in lengths}, []
        pause = stage["may_pause"]
        for n in lengths:
            slots = set(range(n)) | set(range(self.day, 2 * self.day))
            rows += [(n, o, e - o, 0) for o, e in ends(slots, minutes, pause)]
        teams = []
        for team in combinations(able, stage["hands"]):
            together = m.new_bool_var(f"team{i}{team}")
            teams.append(together)
            for p in able:
                m.add_implication(together, on[p] if p in team else ~on[p])
            if any(self.extra_slots[p] for p in team):
                mode = len(modes)
                modes[mode] = m.new_bool_var(f"mode{i}{mode}")
                slots = set.intersection(*[self.normal[p] | self.extra_slots[p] for p in team])
                for o, e in ends(slots, minutes, pause):
                    usual = [len(self.normal[p] & set(range(o, e))) for p in team]
                    rows += [(mode, o, e - o, sum(max(0, minutes - n) for n in usual))] if o < self.day else []
                m.add_implication(modes[mode], together)
                m.add_implication(modes[mode], days[0])
            for d, literal in enumerate(days):
                usual = modes[min(self.hours[p][d] for p in team)]
                extra = [modes[mode]] if d == 0 and any(self.extra_slots[p] for p in team) else []
                m.add_bool_or([~together, ~literal, usual, *extra])
        m.add_exactly_one(teams)
        m.add_exactly_one(list(modes.values()))
        which = m.new_int_var(0, len(modes) - 1, f"which{i}")
        m.add(which == sum(n * literal for n, literal in modes.items()))
        extra = m.new_int_var(0, max(row[3] for row in rows), f"extra{i}")
        m.add_allowed_assignments([which, begin, length, extra], rows)
        self.overtime.append(extra)
        self.team[i] = on
        for p, literal in on.items():
            interval = m.new_optional_interval_var(self.start[i], length, self.end[i], literal, f"i{i}{p}")
            self.at_person[p].append(interval)
        whole_time = m.new_interval_var(self.start[i], length, self.end[i], f"t{i}")
        for tool in stage.get("tools", []):
            self.with_tool[tool].append(whole_time)

    def stays(self, j, job):
        """The stays of a vehicle in bays, one after the other, and which stages are in which of them."""
        stages = {(j, k): s for k, s in enumerate(job["stages"]) if s["in_bay"]}
        if not stages:
            return
        here = next((b for b, bay in enumerate(self.shop["bays"]) if job["vehicle"] == {"bay": bay["bay"]}), None)
        assert here is not None or job["vehicle"] == "away", "a vehicle that is outside"
        leaves = sum(s["may_leave"] for s in job["stages"] if s["kind"] == "work")
        most = min(len(stages), 1 + leaves) + (here is not None)
        m, moving = self.model, whole(job["moving_minutes"])
        inside = {i: [m.new_bool_var(f"in{i}{v}") for v in range(most)] for i in stages}
        for i in stages:
            m.add_exactly_one(inside[i])
        before = None
        for v in range(most):
            visit = self.stay(j, v, stages, {i: inside[i][v] for i in stages}, here if v == 0 else None)
            held, arrived, left = visit["held"], visit["from"], visit["until"]
            brought = moving if v > 0 else 0
            self.moved(arrived, brought, held)
            for i in stages:
                m.add(arrived + brought <= self.start[i]).only_enforce_if(inside[i][v])
                m.add(self.end[i] <= left).only_enforce_if(inside[i][v])
            if before is not None:
                m.add_implication(held, before["held"])
                self.move(j, v, stages, inside, before, visit, moving)
                self.stays_last(j, before, visit["held"])
            before = visit
        self.stays_last(j, before, None)

    def stay(self, j, v, stages, mine, here):
        m, name = self.model, f"{j}.{v}"
        held = m.new_bool_var(f"held{name}")
        visit = {"held": held, "from": self.var(f"a{name}"), "until": self.var(f"z{name}"), "here": here is not None}
        if here is None:
            m.add_bool_or(list(mine.values())).only_enforce_if(held)
        else:
            m.add(held == 1)
            m.add(visit["from"] == 0)
        for literal in mine.values():
            m.add_implication(literal, held)
        length = m.new_int_var(0, self.clock.end, f"n{name}")
        bays = []
        for b, bay in enumerate(self.shop["bays"]):
            at = m.new_bool_var(f"bay{name}.{b}")
            bays.append(at)
            if here is not None:
                m.add(at == (b == here))
            interval = m.new_optional_interval_var(visit["from"], length, visit["until"], at, f"v{name}.{b}")
            self.in_bay[b].append(interval)
            for i, stage in stages.items():
                if stage["bays"] and bay["kind"] not in stage["bays"]:
                    m.add_bool_or([~mine[i], ~at])
                for closed in bay.get("closed", []):
                    early, late = m.new_bool_var(""), m.new_bool_var("")
                    m.add(self.end[i] <= self.clock.of(closed["from"])).only_enforce_if(early)
                    m.add(self.start[i] >= self.clock.of(closed["until"])).only_enforce_if(late)
                    m.add_bool_or([~mine[i], ~at, early, late])
        m.add(sum(bays) == held)
        visit["bays"] = bays
        self.visits[(j, v)] = visit
        return visit

    def move(self, j, v, stages, inside, left, entered, moving):
        """From one stay to the next, when it may leave: at once or by way of a place outside."""
        m, goes = self.model, entered["held"]
        m.add(entered["from"] >= left["until"]).only_enforce_if(goes)
        out, at_once = m.new_bool_var(f"out{j}.{v}"), m.new_bool_var(f"once{j}.{v}")
        m.add(out + at_once == goes)
        m.add(entered["from"] == left["until"]).only_enforce_if(at_once)
        m.add(left["until"] >= moving).only_enforce_if(out)
        self.leaves(j, left["until"], at_once)
        self.leaves(j, left["until"] - moving, out)
        self.moved(left["until"] - moving, moving, out)
        for i in stages:
            m.add(left["until"] >= self.end[i] + moving).only_enforce_if([out, inside[i][v - 1]])
        length = m.new_int_var(0, self.clock.end, f"w{j}.{v}")
        stay = m.new_optional_interval_var(left["until"], length, entered["from"], out, f"o{j}.{v}")
        self.outside.append(stay)

    def moved(self, begins, moving, goes):
        """A move lies in hours; what takes no time is bound to none."""
        slots = [t for t in self.moved_in if all(t + k in self.moved_in for k in range(moving))]
        if moving > 0:
            hours = cp_model.Domain.from_values(slots)
            self.model.add_linear_expression_in_domain(begins, hours).only_enforce_if(goes)

    def stays_last(self, j, visit, following):
        """A stay after which none follows ends when the vehicle may leave; then it is outside until all is over."""
        last = self.model.new_bool_var(f"final{j}")
        behind = [] if following is None else [following]
        self.model.add_bool_or([last, ~visit["held"], *behind])
        self.leaves(j, visit["until"], last)
        length, over = self.var(f"p{j}"), self.var(f"q{j}")
        self.model.add(over >= self.finish[j])
        stay = self.model.new_optional_interval_var(visit["until"], length, over, last, f"g{j}")
        self.outside.append(stay)

    def leaves(self, j, at, goes):
        """No work of the job is under way then, and what was finished last lets the vehicle go, or all is over."""
        m, rows = self.model, self.shop["jobs"][j]["stages"]
        done = {(j, k): m.new_bool_var("") for k, stage in enumerate(rows) if stage["kind"] == "work"}
        for i, literal in done.items():
            m.add(self.end[i] <= at).only_enforce_if([literal, goes])
            m.add(self.start[i] >= at).only_enforce_if([~literal, goes])
        nothing, over, lets = m.new_bool_var(""), m.new_bool_var(""), []
        for i, literal in done.items():
            m.add_implication(nothing, ~literal)
            if rows[i[1]]["may_leave"]:
                last = m.new_bool_var("")
                lets.append(last)
                m.add_implication(last, literal)
                for other, finished in done.items():
                    m.add(self.end[other] <= self.end[i]).only_enforce_if([last, finished])
        for k in range(len(rows)):
            m.add(self.end[(j, k)] <= at).only_enforce_if(over)
        m.add_bool_or([~goes, nothing, over, *lets])

    def late(self):
        terms = []
        for j, job in enumerate(self.shop["jobs"]):
            if job["promised"] is not None:
                late = self.var(f"late{j}")
                self.model.add(late >= self.finish[j] - self.clock.of(job["promised"]))
                terms.append(job["weight"] * late)
        return sum(terms) if terms else None

    def extra(self):
        return sum(self.overtime)

    def last(self):
        last = self.var("last")
        self.model.add_max_equality(last, list(self.finish.values()))
        return last

    def plan(self, solver):
        """What was found, in the form of a plan."""

        def text(grains):
            return (self.clock.zero + timedelta(minutes=grains * GRAIN)).strftime("%Y-%m-%dT%H:%M:%SZ")

        visits, rows = [], []
        for (j, v), visit in self.visits.items():
            for b, literal in enumerate(visit["bays"]):
                if solver.value(literal):
                    span = solver.value(visit["from"]), solver.value(visit["until"])
                    visits.append((j, b, *span))
        for (j, k), start in self.start.items():
            job = self.shop["jobs"][j]
            stage, begun, over = job["stages"][k], solver.value(start), solver.value(self.end[(j, k)])
            held = [b for i, b, a, z in visits if i == j and a <= begun and over <= z] if stage["in_bay"] else []
            people = [p for p, literal in self.team.get((j, k), {}).items() if solver.value(literal)]
            rows.append(
                {
                    "job": job["job"],
                    "stage": stage["stage"],
                    "bay": self.shop["bays"][held[0]]["bay"] if held else None,
                    "people": [self.shop["technicians"][p]["person"] for p in people],
                    "tools": stage.get("tools", []),
                    "from": text(begun),
                    "until": text(over),
                }
            )
        stays = [
            {
                "job": self.shop["jobs"][j]["job"],
                "bay": self.shop["bays"][b]["bay"],
                "from": text(a),
                "until": text(z),
            }
            for j, b, a, z in visits
        ]
        return {"number": self.shop["number"], "stages": rows, "visits": stays}


def least(shop, what, seconds, workers):
    """Bound and best of one measure, in minutes, and the plan; empty where nothing was found."""
    made = Shop(shop)
    goal = getattr(made, what)()
    if goal is None:
        return 0, 0, None
    made.model.minimize(goal)
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = seconds
    solver.parameters.num_workers = workers
    solver.parameters.random_seed = 1
    status = solver.solve(made.model)
    assert status != cp_model.INFEASIBLE and status != cp_model.MODEL_INVALID, solver.status_name()
    found = status in (cp_model.OPTIMAL, cp_model.FEASIBLE)
    bound = max(0, int(-(-solver.best_objective_bound // 1))) * GRAIN
    return bound, int(solver.objective_value) * GRAIN if found else "", made.plan(solver) if found else None


def optimum(shop):
    """The least lateness, with that the least overtime, and with both the least last finish, in minutes; all proved."""
    made, found = Shop(shop), []
    for what in ["late", "extra", "last"]:
        goal = getattr(made, what)()
        if goal is None or isinstance(goal, int):
            found.append(0)
            continue
        made.model.minimize(goal)
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 2
        status = solver.solve(made.model)
        assert status == cp_model.OPTIMAL, solver.status_name()
        found.append(int(solver.objective_value) * GRAIN)
        made.model.add(goal <= int(solver.objective_value))
    return found, made.plan(solver)


def optima(asked):
    """Rows for shops so small that everything can be proved."""
    with asked.out.open("w") as out, asked.plans.open("w") as plans:
        out.write("seed,digest,tardiness,overtime,makespan\n")
        for seed, line in enumerate(asked.cases.read_text().splitlines()):
            found, plan = optimum(json.loads(line))
            out.write(",".join(map(str, [seed, digest(line), *found])) + "\n")
            plans.write(f"{seed} {json.dumps(plan)}\n")


def main():
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("cases", type=Path)
    words.add_argument("--seconds", type=float, default=7.0, help="for the lateness of a shop")
    words.add_argument("--seconds-last", type=float, default=2.5, help="for its last finish")
    words.add_argument("--workers", type=int, default=2)
    words.add_argument("--out", type=Path, required=True)
    words.add_argument("--plans", type=Path, required=True)
    words.add_argument("--whole", action="store_true", help="prove everything, for tiny shops")
    asked = words.parse_args()
    if asked.whole:
        optima(asked)
        return
    done = set()
    if asked.out.exists():
        done = {row["seed"] for row in csv.DictReader(asked.out.open())}
    with asked.out.open("a") as out, asked.plans.open("a") as plans:
        if not done:
            out.write(",".join(COLUMNS) + "\n")
        for seed, line in enumerate(asked.cases.read_text().splitlines()):
            if str(seed) in done:
                continue
            shop = json.loads(line)
            row = [seed, digest(line), sum(len(job["stages"]) for job in shop["jobs"])]
            for what, seconds in [("late", asked.seconds), ("last", asked.seconds_last)]:
                bound, best, plan = least(shop, what, seconds, asked.workers)
                row += [bound, best]
                if plan is not None:
                    plans.write(f"{seed} {json.dumps(plan)}\n")
            out.write(",".join(map(str, row)) + "\n")
            out.flush()
            plans.flush()


if __name__ == "__main__":
    main()
