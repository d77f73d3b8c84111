//! One row of every table, and the same row with every column changed that may change.

use leadhand_domain::state::AnyRow;
use serde_json::{Value, json};

/// A row of a table from its columns.
pub fn row(table: &str, columns: &Value) -> AnyRow {
    AnyRow::from_value(table, columns.clone()).expect("a known table").expect("the table's columns")
}

/// `columns` with some of them replaced.
pub fn with(columns: &Value, changed: &Value) -> Value {
    let mut all = columns.clone();
    for (column, value) in changed.as_object().unwrap() {
        assert!(all.get(column).is_some(), "there is no column '{column}'");
        all[column] = value.clone();
    }
    all
}

/// The columns of the sample row of a table.
pub fn sample(table: &str) -> Value {
    samples().into_iter().find(|(name, ..)| *name == table).expect("a sample of the table").1
}

/// Every sample row.
pub fn first_rows() -> Vec<AnyRow> {
    samples().into_iter().map(|(table, first, _)| row(table, &first)).collect()
}

pub fn id(n: u8) -> String {
    format!("00000000-0000-4000-8000-0000000000{n:02x}")
}

/// A morning in spring, at this hour and minute.
pub fn at(clock: &str) -> String {
    format!("2027-03-01T{clock}:00.000001Z")
}

fn hash(digit: char) -> String {
    digit.to_string().repeat(64)
}

/// Table, a row, and what of it may change with the values that it changes to.
type Sample = (&'static str, Value, Value);

pub fn samples() -> Vec<Sample> {
    let mut all = of_the_calendar();
    all.extend(of_persons_and_things());
    all.extend(of_jobs());
    all.extend(of_stages());
    all.extend(of_tools());
    all.extend(of_condition());
    all.extend(of_measures());
    all.extend(of_plans());
    all.extend(of_stock());
    all.extend(of_wants());
    all
}

fn of_the_calendar() -> Vec<Sample> {
    vec![
        (
            "shop",
            json!({"name": id(1), "zone": "Europe/Berlin", "calendar_revision": 1, "last_job": 7,
            "opened_at": at("07:00"), "opened_n": 1, "places_outside": 4, "moving_minutes": 10}),
            json!({"name": id(2), "zone": "UTC", "calendar_revision": 2, "last_job": 8, "opened_at": at("07:01"),
            "opened_n": 2, "places_outside": 0, "moving_minutes": 15}),
        ),
        (
            "text_ref",
            json!({"text": id(1), "hash": hash('a'), "erased_n": null}),
            json!({"hash": hash('b'), "erased_n": 9}),
        ),
        (
            "calendar",
            json!({"revision": 1, "change": {"what": "hours", "from_day": "2027-03-01", "week":
            [[{"from_minute": 480, "until_minute": 1020}], [], [], [], [], [], []]}, "person": null,
            "from_at": at("00:00"), "until_at": "2027-04-01T00:00:00Z", "set_n": 2}),
            json!({}),
        ),
        (
            "open_window",
            json!({"from_at": at("08:00"), "until_at": at("17:00"), "set_n": 2}),
            json!({"until_at": at("16:00"), "set_n": 3}),
        ),
        (
            "shift_window",
            json!({"person": id(3), "from_at": at("08:00"), "until_at": at("17:00"), "set_n": 2}),
            json!({"until_at": at("16:00"), "set_n": 3}),
        ),
    ]
}

fn of_persons_and_things() -> Vec<Sample> {
    vec![
        (
            "bay",
            json!({"bay": "lift-1", "name": "First lift", "kind": "two-post-lift", "rated_kg": 3500,
            "added_n": 3}),
            json!({"name": "Lift", "kind": "pit", "rated_kg": 0, "added_n": 4}),
        ),
        (
            "person",
            json!({"person": id(3), "name": id(4), "skills": ["engine"], "forgotten": false, "added_n": 4}),
            json!({"name": id(5), "skills": [], "forgotten": true, "added_n": 5}),
        ),
        (
            "token",
            json!({"token": id(6), "principal": id(7), "person": id(3), "label": id(8), "role": "lead",
            "prefix": "lh_ab", "hash": hash('c'), "issued_at": at("07:00"), "expires_at": at("18:00"),
            "revoked_at": null, "issued_n": 5}),
            json!({"principal": id(9), "person": null, "label": null, "role": "viewer", "prefix": "lh_cd",
            "hash": hash('d'), "issued_at": at("07:01"), "expires_at": null, "revoked_at": at("09:00"),
            "issued_n": 6}),
        ),
        (
            "proof",
            json!({"person": id(3), "proof": "badge", "role": "technician", "hash": hash('e'), "secret": null,
            "set_at": at("07:10"), "set_n": 6, "withdrawn_at": null}),
            json!({"role": "lead", "hash": null, "secret": id(80), "set_at": at("07:11"), "set_n": 7,
            "withdrawn_at": at("07:12")}),
        ),
        (
            "sign_in",
            json!({"session": id(81), "device": id(6), "principal": id(7), "person": id(3), "role": "technician",
            "proof": "badge", "proof_n": 6, "prefix": "lhs_a", "hash": hash('f'), "begun_at": at("07:20"),
            "expires_at": at("07:30"), "ended_at": null, "begun_n": 7}),
            json!({"device": id(82), "principal": id(83), "person": id(84), "role": "lead", "proof": "pin",
            "proof_n": 7, "prefix": "lhs_b", "hash": hash('0'), "begun_at": at("07:21"), "expires_at": at("07:31"),
            "ended_at": at("07:25"), "begun_n": 8}),
        ),
        (
            "template_revision",
            json!({"template": "head-gasket-20", "revision": 1, "title": "Head gasket", "doc":
            {"key": "head-gasket-20", "title": "Head gasket", "options": [], "stages": []},
            "published_at": at("07:30"), "published_n": 6}),
            json!({}),
        ),
        (
            "vehicle",
            json!({"vehicle": id(10), "label": id(11), "plate": id(90), "weight_kg": 1450, "customer": id(91),
            "added_n": 7}),
            json!({"label": id(12), "plate": null, "weight_kg": null, "customer": null, "added_n": 8}),
        ),
        (
            "customer",
            json!({"customer": id(91), "name": id(92), "contact": id(93), "about": null, "forgotten": false,
            "added_n": 7}),
            json!({"name": id(94), "contact": null, "about": id(95), "forgotten": true, "added_n": 8}),
        ),
    ]
}

fn of_jobs() -> Vec<Sample> {
    vec![
        (
            "job",
            json!({"job": 7, "template": "head-gasket-20", "revision": 1, "title": "Head gasket",
            "title_text": null, "vehicle": id(10), "customer": id(91), "priority": 2, "promised_at": at("16:00"), "state": "open",
            "options": ["machine-shop"], "opened_at": at("08:00"), "closed_at": null, "reason": null,
            "last_blocker": 1, "last_stage": 2, "overridden": null, "overruled": [], "version": 8,
            "apart": false, "came_apart": null}),
            json!({"template": null, "revision": null, "title": null, "title_text": id(13), "vehicle": id(14),
            "customer": null, "priority": -1, "promised_at": null, "state": "cancelled", "options": [], "opened_at": at("08:01"),
            "closed_at": at("12:00"), "reason": id(15), "last_blocker": 2, "last_stage": 3, "overridden": id(16),
            "overruled": [{"line": "places:hose", "reason": id(16), "by": id(3)}], "version": 9,
            "apart": true, "came_apart": 1}),
        ),
        (
            "stay",
            json!({"stay": id(16), "bay": "lift-1", "vehicle": id(10), "job": 7, "from_at": at("08:00"),
            "until_at": null, "why_left": null, "from_n": 9, "until_n": null}),
            json!({"bay": "lift-2", "vehicle": id(17), "job": 8, "from_at": at("08:01"), "until_at": at("11:00"),
            "why_left": "rolled-out", "from_n": 10, "until_n": 11}),
        ),
        (
            "blocker",
            json!({"job": 7, "blocker": 1, "stage": "drain", "cause": "part", "owner": id(3),
"expected_at": at("10:00"), "note": id(18), "step": 1, "item": "hg-set-20", "reading": null, "tool": null, "since": at("08:30"),
            "raised_n": 12, "cleared_at": null, "cleared_n": null, "cleared_note": null}),
            json!({"stage": "strip", "cause": "sent-out", "owner": null, "expected_at": null, "note": null,
"step": null, "item": null, "reading": "compression", "tool": "cam-lock-20", "since": at("08:31"), "raised_n": 13, "cleared_at": at("09:30"),
            "cleared_n": 14, "cleared_note": id(19)}),
        ),
        (
            "clocking",
            json!({"clocking": id(20), "person": id(3), "job": 7, "stage": "drain",
            "from_at": at("08:05"), "until_at": null, "on_n": 15, "off_n": null}),
            json!({"person": id(21), "job": 8, "stage": "strip", "from_at": at("08:06"), "until_at": at("09:00"),
            "on_n": 16, "off_n": 17}),
        ),
    ]
}

fn of_stages() -> Vec<Sample> {
    vec![
        (
            "stage",
            json!({"job": 7, "stage": "drain", "ordinal": 1, "title": "Drain", "title_text": null,
            "kind": "work", "low": 10, "likely": 20, "high": 40, "bays": ["floor"], "skills": ["fluids"],
            "hands": 1, "tools": ["19 mm socket"], "may_leave": false, "in_one_go": false, "unplanned": false, "state": "pending",
            "ready_at": at("09:00"), "ready_n": 10, "waiting": true, "started_at": null, "started_n": null,
            "ended_at": null, "ended_n": null, "reason": null, "last_step": 1}),
            json!({"ordinal": 2, "title": null, "title_text": id(22), "kind": "wait", "low": 0, "likely": 1,
            "high": 2, "bays": [], "skills": [], "hands": 0, "tools": [], "may_leave": true, "in_one_go": true, "unplanned": true,
            "state": "skipped", "ready_at": null, "ready_n": null, "waiting": false, "started_at": at("09:05"),
            "started_n": 11, "ended_at": at("09:30"), "ended_n": 12, "reason": id(23), "last_step": 2}),
        ),
        (
            "stage_after",
            json!({"job": 7, "stage": "drain", "after": "arrive", "wait_minutes": 60}),
            json!({"wait_minutes": 0}),
        ),
        (
            "strip_position",
            json!({"job": 7, "position": "hose", "stage": "drain", "step": 1, "what": "Lower hose", "what_text": null,
            "detail": {"kind": "hose", "manner": "off", "count": 2, "renew": "reuse", "second_check": false},
            "unplanned": false, "added_n": 7, "off_at": null, "off_by": null, "off_n": null, "found": 0, "missing": 0,
            "damaged": 0, "keep": null, "kept_at": null, "note": null, "back_at": null, "back_by": null, "back_n": null,
            "refitted": 0, "renewed": 0, "left_out": 0, "scrapped": 0, "kept": 0, "tightness": null, "reason": null,
            "checked_at": null, "checked_by": null, "checked_n": null, "repair": null, "soak_until": null,
            "soak_n": null, "hands": [], "unnamed": false, "off_overruled": [], "back_overruled": [],
            "taken_back": false}),
            json!({"stage": "fill", "step": null, "what": null, "what_text": id(40), "detail": {"kind": "clip",
            "manner": "aside", "count": 3, "renew": "check", "check": "springs back", "second_check": true},
            "unplanned": true, "added_n": 8, "off_at": at("09:01"), "off_by": id(3), "off_n": 9, "found": 4,
            "missing": 1, "damaged": 1, "keep": "tray", "kept_at": id(41), "note": id(42), "back_at": at("09:02"),
            "back_by": id(3), "back_n": 10, "refitted": 1, "renewed": 2, "left_out": 1, "scrapped": 1, "kept": 1,
            "tightness": "final", "reason": id(43), "checked_at": at("09:03"), "checked_by": id(4), "checked_n": 11,
            "repair": id(44), "soak_until": at("08:30"), "soak_n": 8, "hands": [id(3), id(5)], "unnamed": true,
            "off_overruled": [{"line": "off-order:clips", "reason": id(45), "by": id(3)}],
            "back_overruled": [{"line": "back-order:clips", "reason": id(46), "by": null}], "taken_back": true}),
        ),
        (
            "strip_attempt",
            json!({"job": 7, "position": "hose", "attempt": 1, "rung": 1, "measure": "Let it soak", "last_safe": false,
            "outcome": "not-moved", "pieces": 1, "person": null, "at": at("08:40"), "n": 9, "plan": null, "note": null,
            "overridden": null}),
            json!({"rung": 5, "measure": "Heat it", "last_safe": true, "outcome": "broken", "pieces": 2,
            "person": id(3), "at": at("08:50"), "n": 10, "plan": id(45), "note": id(46), "overridden": id(47)}),
        ),
    ]
}

fn of_measures() -> Vec<Sample> {
    vec![
        (
            "reading",
            json!({"job": 7, "reading": "compression", "stage": "drain", "step": 1, "what": "Compression",
            "what_text": null, "detail": {"kind": "compression", "unit": "bar", "labels": ["1", "2"], "low": 9_000_000},
            "unplanned": false, "added_n": 7, "taken_at": null, "taken_by": null, "taken_n": null, "figures": [],
            "verdict": null, "off_limits": [], "instrument": null, "note": null, "decided_at": null,
            "decided_by": null, "decided_n": null, "decision": null, "decided_reason": null}),
            json!({"stage": "fill", "step": null, "what": null, "what_text": id(44), "detail": {"kind": "run-out",
            "unit": "mm", "high": 50_000}, "unplanned": true, "added_n": 8, "taken_at": at("09:01"), "taken_by": id(3),
            "taken_n": 9, "figures": [60_000], "verdict": "out-of-limits", "off_limits": [{"high": 0}],
            "instrument": id(45), "note": id(46), "decided_at": at("09:02"), "decided_by": id(4), "decided_n": 10,
            "decision": "accept", "decided_reason": id(47)}),
        ),
        (
            "job_remark",
            json!({"job": 7, "remark": 1, "what": "follow-up", "words": id(48), "said_at": at("09:00"),
            "said_by": id(3), "said_n": 9, "withdrawn_n": null, "withdrawn_reason": null}),
            json!({"what": "advice-declined", "words": id(49), "said_at": at("09:01"), "said_by": null, "said_n": 10,
            "withdrawn_n": 11, "withdrawn_reason": id(50)}),
        ),
        (
            "job_told",
            json!({"job": 7, "told": 1, "customer": null, "whom": id(51), "words": id(48), "promised_at": null,
            "told_at": at("09:00"), "told_by": id(3), "told_n": 9, "withdrawn_n": null, "withdrawn_reason": null}),
            json!({"customer": id(91), "whom": null, "words": id(49), "promised_at": at("17:00"),
            "told_at": at("09:01"), "told_by": null, "told_n": 10, "withdrawn_n": 11, "withdrawn_reason": id(50)}),
        ),
        (
            "asked_correction",
            json!({"job": 7, "ask": 1, "clocking": id(70), "entry": 6, "person": id(3), "to_job": null,
            "to_stage": null, "from_at": null, "until_at": null, "reason": id(48), "asked_at": at("09:00"),
            "asked_n": 9, "taken": null, "decided_by": null, "decided_at": null, "decided_n": null, "answer": null}),
            json!({"clocking": id(71), "entry": 7, "person": id(4), "to_job": 8, "to_stage": "drain",
            "from_at": at("08:00"), "until_at": at("08:30"), "reason": id(49), "asked_at": at("09:01"), "asked_n": 10,
            "taken": true, "decided_by": id(4), "decided_at": at("09:02"), "decided_n": 11, "answer": id(50)}),
        ),
        (
            "step",
            json!({"job": 7, "stage": "drain", "step": 1, "instruction": "Open the drain plug", "instruction_text": null, "tools": ["19 mm socket"], "shared_tools": ["cam-lock-20"], "cautions": [{"word": "WARNING", "text": "Hot coolant scalds: let it cool"}], "needs": [{"item": "hg-set-20", "quantity": 1, "unit": "1"}], "follow_up": null, "safety": {"needs": ["battery isolated"], "hold": {"what": "cold", "second": true}, "fill": {"fluid": "coolant", "reckoned": {"recipe": "2 L of it", "from": ["hg-set-20"]}}}, "unplanned": false, "fits": null, "state": "pending", "done_at": null, "done_by": null, "done_n": null, "reason": null, "overridden": null}),
            json!({"instruction": null, "instruction_text": id(24), "tools": [], "shared_tools": [], "cautions": [], "needs": [], "follow_up": "Look again after a day", "safety": {}, "unplanned": true, "fits": "clips", "state": "skipped", "done_at": at("09:10"), "done_by": id(3), "done_n": 13, "reason": id(25), "overridden": id(26)}),
        ),
    ]
}

fn of_condition() -> Vec<Sample> {
    vec![
        (
            "vehicle_state",
            json!({"job": 7, "feature": "battery", "state": "battery isolated", "before": "battery connected", "person": id(3), "stage": "drain", "step": 1, "reason": null, "set_at": at("09:04"), "set_n": 14}),
            json!({"state": "battery connected", "before": "battery isolated", "person": null, "stage": null, "step": null, "reason": id(44), "set_at": at("09:05"), "set_n": 15}),
        ),
        (
            "fluid",
            json!({"job": 7, "fluid": "coolant", "stage": "drain", "step": 1, "what": "Coolant", "expected_ml": 7000, "back": "fill", "drained_ml": 0, "filled_ml": 0, "person": null, "said_at": null, "said_n": null, "note": null, "added_n": 7}),
            json!({"stage": null, "step": null, "what": null, "expected_ml": null, "back": null, "drained_ml": 5200, "filled_ml": 5000, "person": id(3), "said_at": at("09:06"), "said_n": 16, "note": id(45), "added_n": 8}),
        ),
        (
            "own_way",
            json!({"job": 7, "stage": "drain", "step": 1, "note": id(46), "reason": id(47), "person": id(3), "proposed_at": at("09:07"), "proposed_n": 17, "approved": null, "decided_by": null, "decided_at": null, "decided_n": null, "decided_note": null}),
            json!({"note": id(48), "reason": id(49), "person": null, "proposed_at": at("09:08"), "proposed_n": 18, "approved": true, "decided_by": id(4), "decided_at": at("09:09"), "decided_n": 19, "decided_note": id(50)}),
        ),
    ]
}

fn of_tools() -> Vec<Sample> {
    vec![
        (
            "shared_tool",
            json!({"tool": "cam-lock-20", "name": "Camshaft lock", "what": "20 mm", "calibration_due": "2027-06-30", "added_n": 5, "retired_n": null, "reason": null}),
            json!({"name": "Lock", "what": null, "calibration_due": null, "added_n": 6, "retired_n": 7, "reason": id(97)}),
        ),
        (
            "tool_loan",
            json!({"loan": id(98), "tool": "cam-lock-20", "job": 7, "stage": "drain", "bay": "lift-1", "person": null, "from_at": at("08:10"), "until_at": null, "from_n": 16, "until_n": null}),
            json!({"tool": "puller", "job": null, "stage": null, "bay": null, "person": id(3), "from_at": at("08:11"), "until_at": at("08:40"), "from_n": 17, "until_n": 18}),
        ),
    ]
}

fn of_plans() -> Vec<Sample> {
    vec![
        (
            "plan",
            json!({"made_n": 15, "made_at": at("08:00"), "accepted_at": at("08:05"), "accepted_n": 16}),
            json!({"made_n": 16, "made_at": at("08:01"), "accepted_at": at("08:06"), "accepted_n": 17}),
        ),
        (
            "plan_stage",
            json!({"job": 7, "stage": "strip", "bay": "lift-1", "people": [id(3)], "from_at": at("09:00"),
            "until_at": at("10:00")}),
            json!({"bay": null, "people": [id(3), id(4)], "from_at": at("09:01"), "until_at": at("10:01")}),
        ),
        (
            "plan_visit",
            json!({"job": 7, "from_at": at("09:00"), "bay": "lift-1", "until_at": at("10:00")}),
            json!({"bay": "lift-2", "until_at": at("10:01")}),
        ),
        (
            "plan_job",
            json!({"job": 7, "ready_at": at("10:00"), "likely_at": at("10:00"), "safe_at": at("10:30"),
            "nowhere": [], "hangs_on": []}),
            json!({"ready_at": null, "likely_at": null, "safe_at": null,
            "nowhere": [{"stage": "strip", "why": "no-time"}], "hangs_on": [{"job": 8, "stage": "refit"}]}),
        ),
        (
            "stage_pin",
            json!({"job": 7, "stage": "strip", "bay": "lift-1", "people": [], "from_at": null, "pinned_n": 9}),
            json!({"bay": null, "people": [id(3)], "from_at": at("10:00"), "pinned_n": 10}),
        ),
        (
            "overtime_window",
            json!({"person": id(3), "from_at": at("18:00"), "until_at": at("20:00"), "opened_n": 9}),
            json!({"until_at": at("19:00"), "opened_n": 10}),
        ),
    ]
}

fn of_stock() -> Vec<Sample> {
    vec![
        (
            "supplier",
            json!({"supplier": "north", "name": "North Parts", "rounds": [{"weekdays": [1, 5], "order_by_minute": 630,
            "here_minute": 840, "days_later": 0}], "set_n": 16}),
            json!({"name": "North", "rounds": [], "set_n": 17}),
        ),
        (
            "item",
            json!({"item": "hg-set-20", "name": "Gasket set", "unit": "1", "added_n": 16, "supplier": null,
            "fluid": null}),
            json!({"name": "Set", "unit": "mL", "added_n": 17, "supplier": "north",
            "fluid": {"kind": "coolant", "strength": 50_000_000}}),
        ),
        (
            "place",
            json!({"place": "bin-a3", "kind": "bin", "name": "Bin A3", "job": null, "added_n": 17}),
            json!({"kind": "job", "name": "Job", "job": 7, "added_n": 18}),
        ),
        (
            "lot",
            json!({"lot": id(26), "item": "hg-set-20", "received_at": at("07:40"), "expires_on": "2027-02-28",
            "expired": false, "made_n": 18}),
            json!({"item": "coolant", "received_at": at("07:41"), "expires_on": "2027-02-27", "expired": true,
            "made_n": 19}),
        ),
        (
            "balance",
            json!({"item": "hg-set-20", "lot": id(26), "place": "bin-a3", "quantity": 4, "held": true}),
            json!({"quantity": -5, "held": false}),
        ),
        (
            "hold",
            json!({"item": "hg-set-20", "place": "bin-a3", "on_hand": 4, "expired": 1, "reserved": 3}),
            json!({"on_hand": 9, "expired": 2, "reserved": 1}),
        ),
        (
            "stock_move",
            json!({"n": 19, "item": "hg-set-20", "lot": id(26), "from_place": "supplier",
            "to_place": "bin-a3", "quantity": 4, "why": "receipt", "job": 7, "stage": "drain", "step": 1,
            "at": at("07:40"), "reason": id(27)}),
            json!({}),
        ),
    ]
}

fn of_wants() -> Vec<Sample> {
    let wanter = json!({"job": 7, "stage": "drain", "step": 1, "item": "hg-set-20"});
    let wanted = |more: &Value| {
        let mut all = wanter.clone();
        all.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        all
    };
    let elsewhere = json!({"job": 8, "stage": "strip", "step": 2, "item": "coolant"});
    let moved = |more: &Value| {
        let mut all = elsewhere.clone();
        all.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        all
    };
    vec![
        (
            "demand",
            wanted(&json!({"wanted": 5, "reserved": 3, "issued": 1, "short": 1})),
            json!({"wanted": 6, "reserved": 0, "issued": 2, "short": 4}),
        ),
        (
            "reservation",
            wanted(&json!({"reservation": id(28), "place": "bin-a3", "quantity": 3, "made_n": 20})),
            moved(&json!({"place": "bin-a4", "quantity": 0, "made_n": 21})),
        ),
        (
            "shortage",
            wanted(&json!({"shortage": id(29), "quantity": 1, "since": at("08:00"), "opened_n": 21,
            "closed_n": null})),
            moved(&json!({"quantity": 0, "since": at("08:01"), "opened_n": 22, "closed_n": 23})),
        ),
    ]
}
