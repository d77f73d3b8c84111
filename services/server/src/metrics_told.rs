//! What each metric counts, in its own words (`# HELP`), and those that are 0 until something happens: a rule over a metric
//! that is not there yet would never fire, and a panel would say that there are no data.

use metrics::{counter, describe_counter, describe_gauge, describe_histogram, gauge};

/// Why a token did not let anybody in.
const WHY: [&str; 6] = ["unknown", "revoked", "expired", "unreadable", "too_many", "put_off"];

/// Tells the recorder about them; it has to be there already.
pub(crate) fn begin() {
    describe_counter!("leadhand_rpc_requests_total", "Calls answered, by path and code.");
    describe_histogram!("leadhand_rpc_duration_seconds", "How long calls took, by path.");
    describe_counter!("leadhand_commands_total", "Commands decided, by command and outcome.");
    describe_histogram!("leadhand_batch_commands", "Commands that shared one commit.");
    describe_histogram!("leadhand_batch_duration_seconds", "How long a batch took, from the lock to the commit.");
    describe_gauge!("leadhand_queued_commands", "Commands that wait for their shop's writer.");
    describe_counter!("leadhand_facts_total", "Facts written.");
    describe_counter!("leadhand_foreign_facts_followed_total", "Facts of other servers that were followed.");
    describe_gauge!(
        "leadhand_head_lag_facts",
        "Facts that the last look at the heads found unheard of, in the shop furthest behind."
    );
    describe_gauge!("leadhand_streams", "Streams that are open, by rpc.");
    describe_counter!("leadhand_failed_attempts_total", "Calls with a token that is not valid, by why.");
    describe_counter!("leadhand_sign_ins_refused_total", "Sign-ins refused after too many wrong tries.");
    describe_counter!("leadhand_rule_defects_total", "What a rule let through and the database refused.");
    for name in [
        "leadhand_facts_total",
        "leadhand_foreign_facts_followed_total",
        "leadhand_sign_ins_refused_total",
        "leadhand_rule_defects_total",
    ] {
        counter!(name).increment(0);
    }
    for why in WHY {
        counter!("leadhand_failed_attempts_total", "why" => why).increment(0);
    }
    for rpc in ["FollowJournal", "WatchBoard"] {
        gauge!("leadhand_streams", "rpc" => rpc).increment(0);
    }
    for name in ["leadhand_queued_commands", "leadhand_head_lag_facts"] {
        gauge!(name).increment(0);
    }
}
