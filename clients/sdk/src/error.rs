//! What went wrong, in the words of the server where it spoke.

use std::fmt;
use tonic::{Code, Status};
use tonic_types::StatusExt;

/// A fault of one field of a request.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FieldFault {
    /// The field's path, or a line of a file.
    pub field: String,
    /// What is wrong and what to do.
    pub message: String,
}

/// Why a call gave no answer.
#[derive(Debug, Clone)]
pub struct SdkError {
    /// The standard code.
    pub code: Code,
    /// The server's stable reason in `UPPER_SNAKE_CASE`; empty when the server did not speak.
    pub reason: String,
    /// Who may overrule the refusal by a reason with the same request, such as `lead`; nobody where nothing is said.
    pub may_overrule: Option<Box<str>>,
    /// One sentence.
    pub message: String,
    /// Faults field by field, and preconditions that failed.
    pub fields: Vec<FieldFault>,
    /// The request id of a write, to repeat it safely.
    pub request_id: Option<String>,
    pub(crate) unknown: bool,
}

impl SdkError {
    /// An error of the client's own.
    pub(crate) fn local(code: Code, message: impl Into<String>) -> Self {
        Self {
            code,
            reason: String::new(),
            may_overrule: None,
            message: message.into(),
            fields: Vec::new(),
            request_id: None,
            unknown: false,
        }
    }

    /// Whether a write may or may not have taken effect. Repeating it with the same request id
    /// finds out, and does it at most once.
    pub fn is_unknown_outcome(&self) -> bool {
        self.unknown
    }
}

impl From<&Status> for SdkError {
    fn from(status: &Status) -> Self {
        let details = status.get_error_details();
        let mut fields: Vec<FieldFault> = Vec::new();
        for fault in details.bad_request().map_or(&[][..], |bad| &bad.field_violations) {
            fields.push(FieldFault { field: fault.field.clone(), message: fault.description.clone() });
        }
        for fault in details.precondition_failure().map_or(&[][..], |failed| &failed.violations) {
            fields.push(FieldFault { field: fault.subject.clone(), message: fault.description.clone() });
        }
        let overruler = details.error_info().and_then(|info| info.metadata.get("may_overrule"));
        Self {
            code: status.code(),
            reason: details.error_info().map(|info| info.reason.clone()).unwrap_or_default(),
            may_overrule: overruler.map(|who| who.as_str().into()),
            message: status.message().to_owned(),
            fields,
            request_id: None,
            unknown: false,
        }
    }
}

impl fmt::Display for SdkError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)
    }
}

impl std::error::Error for SdkError {}
