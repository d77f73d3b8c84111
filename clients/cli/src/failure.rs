//! What ends a command without success: one clear sentence on standard error, and an exit code.

use crate::flags::Flags;
use leadhand_sdk::{Code, FieldFault, SdkError};
use std::fmt::Write;

/// What the exit codes mean, for the long help.
pub const EXIT_CODES: &str = "\
Exit codes:
  0  done
  1  refused: where things stand does not allow it, or a value or file is wrong
  2  usage: the command line itself is wrong; nothing was recorded
  3  not found: there is no such job, bay, item, …
  4  not allowed: the token is missing, wrong or expired, or its role does not allow this
  5  not now: the server can't be reached or has too much to do, too many tries were wrong, or
     it is not known whether the request took effect; the sentence says which, and a repeat with
     the --request-id that was named takes effect once
  6  defect: the server or this program did something that it should not";

/// Why a command ends without success.
#[derive(Debug)]
pub enum Failure {
    /// The command line is wrong.
    Usage(String),
    /// What the command line names is not there.
    Missing(String),
    /// The token can't be had.
    Token(String),
    /// Something was found wanting, and said on standard output already.
    Found(String),
    /// The server refused or could not be asked.
    Call(Box<SdkError>),
    /// Something that should not happen here.
    Defect(String),
    /// Whoever read standard output has had enough.
    ReaderLeft,
}

/// How commands end.
pub type Outcome<T = ()> = Result<T, Failure>;

impl From<SdkError> for Failure {
    fn from(error: SdkError) -> Self {
        Self::Call(Box::new(error))
    }
}

impl Failure {
    /// The exit code, as [`EXIT_CODES`] documents it.
    pub fn exit_code(&self) -> u8 {
        match self {
            Self::ReaderLeft => 0,
            Self::Found(_) => 1,
            Self::Usage(_) => 2,
            Self::Missing(_) => 3,
            Self::Token(_) => 4,
            Self::Defect(_) => 6,
            Self::Call(error) if error.is_unknown_outcome() => 5,
            Self::Call(error) => match error.code {
                Code::NotFound => 3,
                Code::PermissionDenied | Code::Unauthenticated => 4,
                Code::Unavailable | Code::DeadlineExceeded | Code::Cancelled | Code::ResourceExhausted => 5,
                Code::InvalidArgument
                | Code::AlreadyExists
                | Code::FailedPrecondition
                | Code::Aborted
                | Code::OutOfRange => 1,
                Code::Ok | Code::Unknown | Code::Unimplemented | Code::Internal | Code::DataLoss => 6,
            },
        }
    }

    /// What is written to standard error; nothing when there is nobody to tell.
    /// Fields are named as `flags` has them in the command that was given.
    pub fn render(&self, flags: &Flags) -> String {
        match self {
            Self::ReaderLeft => String::new(),
            Self::Usage(message) | Self::Missing(message) | Self::Token(message) | Self::Found(message) => {
                format!("leadhand: {message}\n")
            }
            Self::Defect(message) => format!("leadhand: {message}; this is a defect, please report it\n"),
            Self::Call(error) => render_call(error, flags),
        }
    }
}

fn render_call(error: &SdkError, flags: &Flags) -> String {
    if error.reason == "TOKEN_MISSING" {
        let todo = "give --token-file FILE, or set LEADHAND_TOKEN_FILE or LEADHAND_TOKEN; your lead issues one";
        return format!("leadhand: there is no token; {todo}\n");
    }
    let message = if error.message.is_empty() { "the server gave no reason" } else { &error.message };
    let message = &flags.sentence(&without_list(message, error));
    let mut text = format!("leadhand: {}", counted(&typed(&crate::out::clean(message))));
    if let (true, Some(id)) = (error.is_unknown_outcome(), &error.request_id) {
        text.push_str("; give the same command with --request-id ");
        text.push_str(id);
        text.push_str(" to find out");
    }
    text.push('\n');
    for FieldFault { field, message } in worth_saying(error) {
        text.push_str("  ");
        if !field.is_empty() {
            let own = flags.typed(field).unwrap_or_else(|| counted(&typed(&crate::out::clean(field))));
            text.push_str(&own);
            text.push_str(": ");
        }
        text.push_str(&flags.sentence(&crate::out::clean(message)));
        text.push('\n');
    }
    text
}

/// Fields that every write carries, as they are typed here.
fn typed(text: &str) -> String {
    const TYPED: [(&str, &str); 6] = [
        ("write.for_person", "--for"),
        ("write.happened_at", "--at"),
        ("write.request_id", "--request-id"),
        ("happened_at:", "--at:"),
        ("let the lead override with a reason", "let the lead override with --override REASON"),
        ("finish the stage as listed", "finish it with --as-listed"),
    ];
    TYPED.iter().fold(text.to_owned(), |text, (field, option)| text.replace(field, option))
}

/// The sentence without the lines that follow it one by one.
fn without_list(message: &str, error: &SdkError) -> String {
    let (true, [_, .., last]) = (error.reason.starts_with("HAND_OVER_"), error.fields.as_slice()) else {
        return message.to_owned();
    };
    let ends = message.rfind(&last.message).map(|at| at + last.message.len());
    match (message.find(": "), ends) {
        (Some(begins), Some(ends)) if begins < ends => {
            // Who may overrule the last line stands in brackets behind it.
            let rest = &message[ends..];
            let rest = rest.strip_prefix(" (").and_then(|rest| rest.split_once(')')).map_or(rest, |(_, rest)| rest);
            format!("{}{rest}", &message[..begins])
        }
        _ => message.to_owned(),
    }
}

/// Places in lists as people count them: `figures[0]` is figure 1, `lines[1].left_out` is line 2, left out.
fn counted(text: &str) -> String {
    let mut said = String::new();
    let mut rest = text;
    while let Some(open) = rest.find('[') {
        let name = &rest[..open];
        let begins = name.rfind(|c: char| !(c.is_ascii_lowercase() || c == '_' || c == '.')).map_or(0, |at| at + 1);
        let number = rest[open + 1..].split(']').next().and_then(|digits| digits.parse::<usize>().ok());
        let (Some(number), true) = (number, begins < open) else {
            said.push_str(&rest[..=open]);
            rest = &rest[open + 1..];
            continue;
        };
        said.push_str(&rest[..begins]);
        let list = rest[begins..open].rsplit('.').next().unwrap_or_default();
        let one = list.strip_suffix('s').unwrap_or(list).replace('_', " ");
        let _ = write!(said, "{one} {}", number + 1);
        rest = &rest[open + 1..];
        rest = rest.find(']').map_or("", |close| &rest[close + 1..]);
        let field = rest.strip_prefix('.').map(|rest| {
            let ends = rest.find(|c: char| !(c.is_ascii_lowercase() || c == '_')).unwrap_or(rest.len());
            rest.split_at(ends)
        });
        if let Some((field, after)) = field.filter(|(field, _)| !field.is_empty()) {
            let _ = write!(said, ", {}", field.replace('_', " "));
            rest = after;
        }
    }
    said.push_str(rest);
    said
}

/// Field faults, unless the one there is says what the sentence said.
fn worth_saying(error: &SdkError) -> &[FieldFault] {
    match error.fields.as_slice() {
        [only] if error.message.contains(&only.message) => &[],
        faults => faults,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use leadhand_sdk::Client;
    use leadhand_sdk::Endpoint;

    /// An error such as the server's, made the only way there is from outside: by a client.
    fn error(code: Code, message: &str, fields: &[(&str, &str)]) -> SdkError {
        let mut error = Client::connect(Endpoint::new("nowhere")).unwrap_err();
        error.code = code;
        message.clone_into(&mut error.message);
        error.fields = fields.iter().map(|(f, m)| FieldFault { field: (*f).into(), message: (*m).into() }).collect();
        error
    }

    #[test]
    fn places_in_lists_are_told_as_people_count() {
        assert_eq!(counted("figures[3]: 12 bar is far off"), "figure 4: 12 bar is far off");
        assert_eq!(counted("lines[1].left_out: say why"), "line 2, left out: say why");
        assert_eq!(counted("detail.labels[0] and needs[2].item."), "label 1 and need 3, item.");
        assert_eq!(counted("nothing in [brackets] or a[x] changes"), "nothing in [brackets] or a[x] changes");
    }

    #[test]
    fn a_refusal_is_one_sentence_and_then_its_faults_a_line_each() {
        let faults = [("csv line 3, quantity", "not a number"), ("csv line 9", "too few columns")];
        let failure = Failure::from(error(Code::InvalidArgument, "2 rows can't be taken over", &faults));
        assert_eq!(
            failure.render(&Flags::default()),
            "leadhand: 2 rows can't be taken over\n  csv line 3, quantity: not a number\n  csv line 9: too few columns\n"
        );
        assert_eq!(failure.exit_code(), 1);
    }

    #[test]
    fn one_fault_that_the_sentence_names_is_not_said_twice() {
        let failure = Failure::from(error(Code::InvalidArgument, "bay: too long", &[("bay", "too long")]));
        assert_eq!(failure.render(&Flags::default()), "leadhand: bay: too long\n");
    }

    #[test]
    fn a_field_of_every_write_is_named_as_it_is_typed() {
        let message = "write.for_person: there is no person 'Nobody'";
        let told = error(Code::FailedPrecondition, "wait, or let the lead override with a reason", &[]);
        assert_eq!(
            Failure::from(told).render(&Flags::default()),
            "leadhand: wait, or let the lead override with --override REASON\n"
        );
        let failure = Failure::from(error(Code::NotFound, message, &[("write.for_person", message)]));
        assert_eq!(failure.render(&Flags::default()), "leadhand: --for: there is no person 'Nobody'\n");
    }

    #[test]
    fn a_terminal_takes_no_orders_from_the_server() {
        let failure = Failure::from(error(Code::NotFound, "no \u{1b}[2Jjob\nhere", &[]));
        assert!(!failure.render(&Flags::default()).contains('\u{1b}'), "an escape sequence got through");
        assert_eq!(failure.render(&Flags::default()).lines().count(), 1);
        assert_eq!(failure.exit_code(), 3);
    }

    #[test]
    fn every_code_has_a_documented_exit_code() {
        for number in 1..=16 {
            let failure = Failure::from(error(Code::from_i32(number), "no", &[]));
            let documented = format!("\n  {}  ", failure.exit_code());
            assert!(EXIT_CODES.contains(&documented), "{number} gives {}", failure.exit_code());
        }
        assert_eq!(Failure::from(error(Code::Unauthenticated, "no", &[])).exit_code(), 4);
        assert_eq!(Failure::from(error(Code::Unavailable, "no", &[])).exit_code(), 5);
        assert_eq!(Failure::from(error(Code::Internal, "no", &[])).exit_code(), 6);
    }
}
