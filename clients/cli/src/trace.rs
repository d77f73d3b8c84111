//! The place of this program's calls in a trace: W3C Trace Context, version 00.

use crate::out;
use uuid::Uuid;

/// The variable in which programs hand their place on, by the convention of OpenTelemetry ("Environment Variables as
/// Context Propagation Carriers").
const VARIABLE: &str = "TRACEPARENT";

/// What is sent as `traceparent`: what the environment says, or a trace of its own where that is asked for, whose id is told.
#[expect(clippy::disallowed_methods, reason = "a client draws the ids of its traces itself")]
pub fn parent(own: bool) -> Option<String> {
    let said = std::env::var(VARIABLE).ok().filter(|said| is_traceparent(said));
    if said.is_some() || !own {
        return said;
    }
    let (trace, span) = (Uuid::new_v4().simple().to_string(), Uuid::new_v4().simple().to_string());
    out::note(&format!("trace {trace}"));
    // 01: it is to be collected.
    Some(format!("00-{trace}-{}-01", &span[..16]))
}

/// Version, trace, span and flags in lower hexadecimal, neither id all zeros.
fn is_traceparent(text: &str) -> bool {
    let parts: Vec<&str> = text.split('-').collect();
    let hex = |part: &&str, length| {
        part.len() == length && part.bytes().all(|letter| matches!(letter, b'0'..=b'9' | b'a'..=b'f'))
    };
    let id = |part: &&str, length| hex(part, length) && part.bytes().any(|letter| letter != b'0');
    matches!(&parts[..], [version, trace, span, flags]
        if *version == "00" && id(trace, 32) && id(span, 16) && hex(flags, 2))
}

#[cfg(test)]
mod tests {
    use super::*;

    // The examples of W3C Trace Context, 3.2, and what it calls invalid there.
    #[test]
    fn what_the_standard_allows_is_passed_on() {
        assert!(is_traceparent("00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01"));
        assert!(is_traceparent("00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-00"));
        for wrong in [
            "",
            "00-00000000000000000000000000000000-00f067aa0ba902b7-01",
            "00-4bf92f3577b34da6a3ce929d0e0e4736-0000000000000000-01",
            "00-4BF92F3577B34DA6A3CE929D0E0E4736-00f067aa0ba902b7-01",
            "00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7",
            "ff-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01",
        ] {
            assert!(!is_traceparent(wrong), "{wrong}");
        }
    }

    #[test]
    fn one_of_its_own_is_such_a_text() {
        assert!(is_traceparent(&parent(true).unwrap()));
    }
}
