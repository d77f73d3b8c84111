//! The one way from an error to a status. Codes follow AIP-193 and AIP-194: a client may repeat
//! UNAVAILABLE by itself, and nothing else.

use leadhand_app::AppError;
use leadhand_domain::refusal::{Class, Refusal};
use std::collections::HashMap;
use std::time::Duration;
use tonic::{Code, Status};
use tonic_types::{ErrorDetails, FieldViolation, StatusExt};

/// Whose reasons these are, in `google.rpc.ErrorInfo`.
pub use leadhand_proto::codec::DOMAIN;

/// Bytes of faults that one answer names. They travel in the trailers, which a client takes up to
/// a limit; whoever has more to mend starts with these.
const FAULTS_BYTES_MAX: usize = 200 * 1024;
/// Lines of a hand-over list that an answer names one by one; `CheckHandOver` has them all.
const LINES_MAX: usize = 200;
/// Characters of a message.
const MESSAGE_MAX: usize = 2_000;
/// Under which name an `ErrorInfo` tells who may overrule the refusal with a reason: `lead`, where anybody may.
const MAY_OVERRULE: &str = "may_overrule";
/// How long a client is asked to wait before it comes again.
const COME_AGAIN: Duration = Duration::from_millis(500);

/// A status with its reason.
pub fn refused(code: Code, reason: &str, message: &str) -> Status {
    with(code, message, info(reason))
}

/// The status of a request whose message does not come whole, or is too long: the client's mistake.
pub fn unfit_request(why: &str) -> Status {
    refused(Code::InvalidArgument, leadhand_proto::codec::UNREADABLE, &format!("the request can't be taken: {why}"))
}

/// The status of an error.
pub fn status(error: &AppError) -> Status {
    let message = error.to_string();
    match error {
        AppError::Refused { refusal, .. } => with(code_of(refusal.class()), &message, details_of(refusal, &message)),
        AppError::Reckoner(refusal) => unreckoned(refusal, &message),
        AppError::Unauthenticated(_) => refused(Code::Unauthenticated, "TOKEN_INVALID", &message),
        AppError::TooManyFailures { wait } => after(Code::ResourceExhausted, *wait, "TOO_MANY_FAILURES", &message),
        // Clients come again by themselves for this code alone.
        AppError::ComeAgain { wait } => after(Code::Unavailable, *wait, "COME_AGAIN", &message),
        AppError::SignInRefused => refused(Code::PermissionDenied, "SIGN_IN_REFUSED", &message),
        AppError::TooManyTries { wait } => after(Code::ResourceExhausted, *wait, "TOO_MANY_TRIES", &message),
        AppError::Denied { .. } => refused(Code::PermissionDenied, "ROLE_NOT_ALLOWED", &message),
        AppError::RequestReused(_) => {
            let mut details = info("REQUEST_ID_REUSED");
            details.add_bad_request_violation("write.request_id", &message);
            with(Code::InvalidArgument, &message, details)
        }
        AppError::DeadlineQueued => refused(Code::DeadlineExceeded, "DEADLINE_BEFORE_TURN", &message),
        AppError::Busy => later(Code::ResourceExhausted, "SHOP_BUSY", &message),
        AppError::PlannerBusy => later(Code::ResourceExhausted, "PLANNER_BUSY", &message),
        AppError::Unavailable => later(Code::Unavailable, "DATABASE_UNAVAILABLE", &message),
        AppError::DatabaseFull => later(Code::ResourceExhausted, "DATABASE_FULL", &message),
        // Another server may be of the newer version.
        AppError::ServerTooOld => later(Code::Unavailable, "SERVER_TOO_OLD", &message),
        AppError::Stopping => later(Code::Unavailable, "SHUTTING_DOWN", &message),
        AppError::Unknown => later(Code::Unavailable, "OUTCOME_UNKNOWN", &message),
        AppError::Conflict(_) => refused(Code::FailedPrecondition, "CONFLICT", &message),
        AppError::OutOfRange(_) => refused(Code::OutOfRange, "OUT_OF_RANGE", &message),
        AppError::Internal(_) => refused(Code::Internal, "INTERNAL", &message),
    }
}

fn code_of(class: Class) -> Code {
    match class {
        Class::Invalid => Code::InvalidArgument,
        Class::NotFound => Code::NotFound,
        Class::Exists => Code::AlreadyExists,
        Class::Precondition => Code::FailedPrecondition,
        Class::Aborted => Code::Aborted,
        Class::Denied => Code::PermissionDenied,
        Class::Internal => Code::Internal,
    }
}

fn details_of(refusal: &Refusal, message: &str) -> ErrorDetails {
    let overruler = refusal.may_overrule().map(|by| (MAY_OVERRULE.to_owned(), by.word().to_owned()));
    let mut details = ErrorDetails::with_error_info(refusal.reason(), DOMAIN, HashMap::from_iter(overruler));
    match refusal {
        Refusal::TemplateFaults { faults } => {
            let told = faults
                .iter()
                .map(|fault| (format!("source: line {} column {}", fault.line, fault.column), fault.message.as_str()));
            details.set_bad_request(violations(told));
        }
        Refusal::BadRows { rows } => {
            let told = rows.iter().map(|row| {
                let column = if row.column.is_empty() { String::new() } else { format!(" {}", row.column) };
                (format!("csv: line {}{column}", row.line), row.message.as_str())
            });
            details.set_bad_request(violations(told));
        }
        Refusal::HandOverForGood { lines, .. }
        | Refusal::HandOverUnfinished { lines, .. }
        | Refusal::HandOverOpen { lines, .. }
        | Refusal::GoesApart { lines, .. } => {
            for line in lines.iter().take(LINES_MAX) {
                details.add_precondition_failure_violation(line.kind(), line.key(), line.open());
            }
        }
        Refusal::Invalid { field, why } => {
            details.add_bad_request_violation(field, why);
        }
        other if other.class() == Class::Precondition => {
            details.add_precondition_failure_violation(other.reason(), "", message);
        }
        other => {
            if let Some(field) = other.field() {
                details.add_bad_request_violation(field, message);
            }
        }
    }
    details
}

/// What can't be understood is a wrong field; what lies beyond the data or the method is understood, and has no answer.
fn unreckoned(refusal: &leadhand_reckoner::Refusal, message: &str) -> Status {
    let mut details = info(refusal.reason());
    let field = refusal.field().unwrap_or_default();
    if refusal.is_beyond_data() {
        details.add_precondition_failure_violation(refusal.reason(), field, message);
        return with(Code::FailedPrecondition, message, details);
    }
    details.add_bad_request_violation(field, message);
    with(Code::InvalidArgument, message, details)
}

/// As many faults as one answer can carry; of the others, how many there are.
fn violations<'a>(faults: impl Iterator<Item = (String, &'a str)>) -> Vec<FieldViolation> {
    let (mut told, mut bytes, mut untold) = (Vec::new(), 0, 0_usize);
    for (field, message) in faults {
        bytes += field.len() + message.len() + 8;
        if bytes <= FAULTS_BYTES_MAX {
            told.push(FieldViolation::new(field, message));
        } else {
            untold += 1;
        }
    }
    if untold > 0 {
        let more = format!("{untold} more faults are not listed; mend these first and send it again");
        told.push(FieldViolation::new("", more));
    }
    told
}

fn info(reason: &str) -> ErrorDetails {
    ErrorDetails::with_error_info(reason, DOMAIN, HashMap::<String, String>::new())
}

/// What is taken again after so many seconds.
fn after(code: Code, wait: u64, reason: &str, message: &str) -> Status {
    let mut details = info(reason);
    details.set_retry_info(Some(Duration::from_secs(wait)));
    with(code, message, details)
}

fn later(code: Code, reason: &str, message: &str) -> Status {
    let mut details = info(reason);
    details.set_retry_info(Some(COME_AGAIN));
    with(code, message, details)
}

fn with(code: Code, message: &str, details: ErrorDetails) -> Status {
    let message: String = message.chars().take(MESSAGE_MAX).collect();
    Status::with_error_details(code, message, details)
}

#[cfg(test)]
mod tests {
    use super::*;
    use leadhand_domain::refusal::BadRow;
    use leadhand_domain::template::Fault;
    use leadhand_facts::{BayKey, JobNo, RequestId};
    use uuid::Uuid;

    fn said(error: impl Into<AppError>) -> (Code, String, ErrorDetails) {
        let status = status(&error.into());
        let details = status.get_error_details();
        let info = details.error_info().expect("every status has its reason");
        assert_eq!(info.domain, DOMAIN);
        (status.code(), info.reason.clone(), details)
    }

    // google.rpc.Code, and the test of UNAVAILABLE, ABORTED and FAILED_PRECONDITION written there.
    #[test]
    fn every_error_has_its_code_and_reason() {
        let cases: [(AppError, Code, &str); 17] = [
            (AppError::PlannerBusy, Code::ResourceExhausted, "PLANNER_BUSY"),
            (AppError::ComeAgain { wait: 1 }, Code::Unavailable, "COME_AGAIN"),
            (AppError::TooManyFailures { wait: 9 }, Code::ResourceExhausted, "TOO_MANY_FAILURES"),
            (AppError::SignInRefused, Code::PermissionDenied, "SIGN_IN_REFUSED"),
            (AppError::TooManyTries { wait: 9 }, Code::ResourceExhausted, "TOO_MANY_TRIES"),
            (AppError::Unauthenticated("unknown"), Code::Unauthenticated, "TOKEN_INVALID"),
            (AppError::DeadlineQueued, Code::DeadlineExceeded, "DEADLINE_BEFORE_TURN"),
            (AppError::Busy, Code::ResourceExhausted, "SHOP_BUSY"),
            (AppError::Unavailable, Code::Unavailable, "DATABASE_UNAVAILABLE"),
            (AppError::DatabaseFull, Code::ResourceExhausted, "DATABASE_FULL"),
            (AppError::Stopping, Code::Unavailable, "SHUTTING_DOWN"),
            (AppError::Unknown, Code::Unavailable, "OUTCOME_UNKNOWN"),
            (AppError::OutOfRange("x".into()), Code::OutOfRange, "OUT_OF_RANGE"),
            (AppError::RequestReused(RequestId(Uuid::nil())), Code::InvalidArgument, "REQUEST_ID_REUSED"),
            (Refusal::Changed { job: JobNo(1), version: 2 }.into(), Code::Aborted, "JOB_CHANGED"),
            (Refusal::LeadOnly { what: "do this" }.into(), Code::PermissionDenied, "LEAD_ONLY"),
            (Refusal::Defect { why: "x".into() }.into(), Code::Internal, "DEFECT"),
        ];
        for (error, code, reason) in cases {
            let found = said(error);
            assert_eq!((found.0, found.1.as_str()), (code, reason));
        }
    }

    #[test]
    fn a_wrong_field_is_named() {
        let (code, reason, details) = said(Refusal::invalid("week[2].hours", "they overlap; join them"));
        assert_eq!((code, reason.as_str()), (Code::InvalidArgument, "INVALID_FIELD"));
        let violations = &details.bad_request().unwrap().field_violations;
        assert_eq!(violations[0].field, "week[2].hours");
        assert_eq!(violations[0].description, "they overlap; join them");
    }

    #[test]
    fn a_precondition_is_named_by_its_reason() {
        let overruled = |refusal: Refusal| {
            let (_, _, details) = said(refusal);
            details.error_info().and_then(|info| info.metadata.get("may_overrule").cloned())
        };
        assert_eq!(overruled(Refusal::LeadOnly { what: "do this" }).as_deref(), Some("lead"));
        assert_eq!(overruled(Refusal::BayTaken { bay: BayKey::from("lift-1"), job: JobNo(4) }), None);
        let (code, reason, details) = said(Refusal::BayTaken { bay: BayKey::from("lift-1"), job: JobNo(4) });
        assert_eq!((code, reason.as_str()), (Code::FailedPrecondition, "BAY_TAKEN"));
        let violation = &details.precondition_failure().unwrap().violations[0];
        assert!(violation.r#type == "BAY_TAKEN" && violation.description.contains("lift-1"));
    }

    #[test]
    fn every_fault_of_a_file_is_told_with_its_place() {
        let fault = |line| Fault { line, column: 3, message: "no such key; leave it out".to_owned() };
        let (_, _, details) = said(Refusal::TemplateFaults { faults: vec![fault(1), fault(9)] });
        let violations = &details.bad_request().unwrap().field_violations;
        assert_eq!(violations.len(), 2);
        assert_eq!(violations[1].field, "source: line 9 column 3");

        let row = |line, column: &str| BadRow { line, column: column.to_owned(), message: "bad".to_owned() };
        let (_, _, details) = said(Refusal::BadRows { rows: vec![row(2, "unit"), row(3, "")] });
        let fields: Vec<&str> =
            details.bad_request().unwrap().field_violations.iter().map(|found| found.field.as_str()).collect();
        assert_eq!(fields, ["csv: line 2 unit", "csv: line 3"]);
    }

    #[test]
    fn more_faults_than_an_answer_carries_are_counted() {
        let row = |line| BadRow { line, column: "unit".to_owned(), message: "m".repeat(90) };
        let (_, _, details) = said(Refusal::BadRows { rows: (1..=20_000).map(row).collect() });
        let violations = &details.bad_request().unwrap().field_violations;
        let told = violations.len() - 1;
        let expected = format!("{} more faults", 20_000 - told);
        assert!(violations[told].description.starts_with(&expected), "{}", violations[told].description);
        assert!(told > 1_000);
    }
}
