//! The contract's closed vocabularies as people type and read them: `TWO_POST_LIFT` is
//! "two-post-lift".

use leadhand_sdk::v1::{
    AttemptOutcome, AuditBy, BayKind, Cause, Decision, FluidKind, Grip, Hazard, HeardAt, Ignition, JobState, Keep,
    Label, Lasting, LeadsDirection, LessonKind, LiftCircumstance, Manner, PositionKind, PositionStanding, PromiseState,
    Reach, ReadingKind, RemarkKind, Renew, Role, SignalWord, StageKind, StageState, StepState, Tightness, VehicleState,
};

/// A vocabulary of the contract.
pub trait Word: Copy + Sized {
    /// What every name of it begins with in the contract.
    const PREFIX: &'static str;
    /// The word with this number.
    fn from_number(number: i32) -> Option<Self>;
    /// Its name in the contract.
    fn contract_name(self) -> &'static str;

    /// The word as people read it.
    fn word(self) -> String {
        plain(self.contract_name(), Self::PREFIX)
    }

    /// Every word but "unspecified", in the contract's order.
    fn all() -> Vec<Self> {
        (1..).map_while(Self::from_number).collect()
    }
}

/// A name of the contract without its prefix. Signal words stay in capitals, as the standards
/// write them.
pub fn plain(name: &str, prefix: &str) -> String {
    let bare = name.strip_prefix(prefix).unwrap_or(name);
    if prefix == SignalWord::PREFIX { bare.to_owned() } else { bare.to_lowercase().replace('_', "-") }
}

/// The word with this number; empty when nothing was said.
pub fn word<W: Word>(number: i32) -> String {
    if number == 0 {
        return String::new();
    }
    W::from_number(number).map_or_else(|| format!("unknown ({number})"), Word::word)
}

/// The meaning of a typed word, for clap.
pub fn parse<W: Word>(text: &str) -> Result<W, String> {
    let known = W::all();
    known.iter().copied().find(|known| known.word().eq_ignore_ascii_case(text)).ok_or_else(|| {
        let words: Vec<String> = known.into_iter().map(Word::word).collect();
        format!("not one of {}", words.join(", "))
    })
}

macro_rules! words {
    ($($name:ident $prefix:literal)+) => {$(
        impl Word for $name {
            const PREFIX: &'static str = $prefix;

            fn from_number(number: i32) -> Option<Self> {
                Self::try_from(number).ok()
            }

            fn contract_name(self) -> &'static str {
                self.as_str_name()
            }
        }
    )+};
}

words! {
    AttemptOutcome "ATTEMPT_OUTCOME_"
    AuditBy "AUDIT_BY_"
    BayKind "BAY_KIND_"
    Cause "CAUSE_"
    Decision "DECISION_"
    FluidKind "FLUID_KIND_"
    Grip "GRIP_"
    Hazard "HAZARD_"
    HeardAt "HEARD_AT_"
    Ignition "IGNITION_"
    JobState "JOB_STATE_"
    Keep "KEEP_"
    Label "LABEL_"
    Lasting "LASTING_"
    LeadsDirection "LEADS_DIRECTION_"
    LessonKind "LESSON_KIND_"
    LiftCircumstance "LIFT_CIRCUMSTANCE_"
    Manner "MANNER_"
    PositionKind "POSITION_KIND_"
    PositionStanding "POSITION_STANDING_"
    PromiseState "PROMISE_STATE_"
    Reach "REACH_"
    ReadingKind "READING_KIND_"
    RemarkKind "REMARK_KIND_"
    Renew "RENEW_"
    Role "ROLE_"
    SignalWord "SIGNAL_WORD_"
    StageKind "STAGE_KIND_"
    StageState "STAGE_STATE_"
    StepState "STEP_STATE_"
    Tightness "TIGHTNESS_"
    VehicleState "VEHICLE_STATE_"
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_read_as_they_are_written() {
        assert_eq!(BayKind::TwoPostLift.word(), "two-post-lift");
        assert_eq!(Cause::SeizedOrDamaged.word(), "seized-or-damaged");
        // ISO 3864-2 and ANSI Z535.4 write signal words in capitals.
        assert_eq!(SignalWord::Danger.word(), "DANGER");
        for cause in Cause::all() {
            assert_eq!(parse::<Cause>(&cause.word()), Ok(cause));
        }
        assert_eq!(Cause::all().len(), 9);
    }

    #[test]
    fn an_unknown_word_is_answered_with_the_known_ones() {
        assert_eq!(parse::<Role>("boss"), Err("not one of lead, technician, parts, viewer".to_owned()));
        assert_eq!(word::<Role>(77), "unknown (77)");
        assert_eq!(word::<Role>(0), "");
    }
}
