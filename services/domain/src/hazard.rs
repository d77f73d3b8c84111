//! What can hurt, with its signal word and the usual measures. Signal words as in ANSI Z535.4 and ISO 3864-2; where the
//! measures come from is said beside each. They are the least that is usual, and end by giving way to whoever knows the
//! vehicle, the place and the trade.

use leadhand_facts::template::Caution;
use leadhand_facts::words::{Hazard, SignalWord};

/// The skill that work on high voltage asks for. Nobody overrules that it is asked for.
pub const HIGH_VOLTAGE_SKILL: &str = "high-voltage";

/// What comes before all of it.
pub const DEFERENCE: &str =
    "The manufacturer's data, local codes and licensed practice come before every caution on this list.";

/// The caution of one hazard.
pub fn caution(hazard: Hazard) -> Caution {
    use SignalWord::{Danger, Notice, Warning};
    let (word, text) = match hazard {
        Hazard::HighVoltage | Hazard::Fuel | Hazard::RaisedVehicle | Hazard::EngineHeldBelow => {
            (Danger, deadly(hazard))
        }
        // HSE INDG139, Using electric storage batteries safely; the order of the leads is common practice.
        Hazard::Battery => (
            Warning,
            "Batteries give off explosive gas. Goggles on, rings off, insulated tools; the earth lead comes off first \
             and goes on last.",
        ),
        // Common practice, no source.
        Hazard::Airbag => (
            Warning,
            "Airbags and pretensioners go off by themselves. Battery off, wait as long as the maker says, measure \
             nothing on them, stay out of their way.",
        ),
        // Common practice, no source.
        Hazard::Spring => {
            (Warning, "What is sprung strikes when it is let go. Lock it before loosening, and stay out of its line.")
        }
        // Common practice, no source.
        Hazard::SprungLever => (
            Warning,
            "A lever that was made up for a sprung tensioner slips and breaks fingers. Use the tool that is made for \
             it; without one, stop and ask the lead.",
        ),
        // Published advice of a local authority on radiator caps: wait 30 to 60 minutes at least.
        Hazard::HotCoolant => (
            Warning,
            "Hot coolant scalds. Never open a hot system; wait 30 to 60 minutes at least, and check all the same.",
        ),
        // Common practice, no source.
        Hazard::Seized => (
            Warning,
            "Fasteners that will not move break without notice. Eye and ear protection, impact sockets; when heating: \
             extraction, and somebody on fire watch.",
        ),
        // NIOSH lifting equation (94-110) says why; the measure is common practice.
        Hazard::Lifting => {
            (Warning, "It is heavy and awkward. A hoist or two people, a clear way, and never a hand below it.")
        }
        // GHS classification of ethylene glycol (H302, H373); that it tastes sweet is common knowledge.
        Hazard::Glycol => (
            Warning,
            "Glycol is toxic when swallowed and tastes sweet. Wipe up what is spilt, and lock it away from children \
             and animals.",
        ),
        // State guidance on used oil and antifreeze (read as a sheet).
        Hazard::UsedFluid => (
            Notice,
            "Used fluids count as hazardous until classed. Never mix them; closed, labelled containers; a licensed \
             carrier.",
        ),
    };
    Caution { word, text: text.to_owned() }
}

/// What will kill or seriously injure.
fn deadly(hazard: Hazard) -> &'static str {
    match hazard {
        // HSE guidance on electric and hybrid vehicles (read as a reprint); that work is refused is common practice.
        Hazard::HighVoltage => {
            "High voltage kills, and parts stay live after switching off. Stop, cordon the vehicle off and call \
             qualified staff; nobody else touches it."
        }
        // HSE guidance on petrol vapour; letting the pressure off first is common practice.
        Hazard::Fuel => {
            "Fuel vapour is heavier than air, gathers in pits and burns from a spark far away. Let the pressure off, \
             keep every source of ignition away, ventilate, catch what runs out in a closed container."
        }
        // HSE INDG434, Working safely under vehicles.
        Hazard::RaisedVehicle => {
            "A vehicle that comes down crushes. Never on jacks alone: rated stands with their own pins, firm level \
             floor, chocks, and only the points that are meant for it."
        }
        // Common practice, no source.
        _ => {
            "An engine that is held from below tips while a mount is out. A support rated for it, a block of wood \
             that spreads the load, and nothing below it that can be hurt; better a beam from above."
        }
    }
}

/// The cautions of a step: its own and those of its hazards, gravest first, with what comes before all of them.
pub fn cautions(own: &[Caution], hazards: &[Hazard]) -> Vec<Caution> {
    let mut all: Vec<Caution> = own.to_vec();
    all.extend(hazards.iter().map(|hazard| caution(*hazard)));
    all.sort_by_key(|caution| caution.word);
    if !hazards.is_empty() {
        all.push(deference());
    }
    all
}

/// The cautions that are a step's own, without those of its hazards.
pub fn own(all: &[Caution], hazards: &[Hazard]) -> Vec<Caution> {
    let mut listed: Vec<Caution> = hazards.iter().map(|hazard| caution(*hazard)).collect();
    listed.extend((!hazards.is_empty()).then(deference));
    all.iter().filter(|caution| !listed.contains(caution)).cloned().collect()
}

fn deference() -> Caution {
    Caution { word: SignalWord::Notice, text: DEFERENCE.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Which word goes with which danger: ANSI Z535.4, DANGER will kill, WARNING could, NOTICE is about property; and
    /// the project's list of hazards.
    #[test]
    fn every_hazard_has_its_word_and_a_measure() {
        for hazard in Hazard::ALL {
            let Caution { word, text } = caution(*hazard);
            let kills =
                matches!(hazard, Hazard::HighVoltage | Hazard::Fuel | Hazard::RaisedVehicle | Hazard::EngineHeldBelow);
            assert_eq!(word == SignalWord::Danger, kills, "{hazard}");
            assert_eq!(word == SignalWord::Notice, *hazard == Hazard::UsedFluid, "{hazard}");
            assert!(text.len() > 60 && !text.contains("  ") && text.ends_with('.'), "{text}");
        }
        assert!(Hazard::ALL.is_sorted_by_key(|hazard| caution(*hazard).word), "gravest first");
    }

    #[test]
    fn hazards_bring_their_cautions_and_the_last_word_is_not_ours() {
        let mine = Caution { word: SignalWord::Caution, text: "Mind the edge.".to_owned() };
        let hazards = [Hazard::Fuel, Hazard::UsedFluid];
        let all = cautions(std::slice::from_ref(&mine), &hazards);
        let words: Vec<SignalWord> = all.iter().map(|caution| caution.word).collect();
        assert_eq!(words, [SignalWord::Danger, SignalWord::Caution, SignalWord::Notice, SignalWord::Notice]);
        assert_eq!(all.last().map(|caution| caution.text.as_str()), Some(DEFERENCE));
        assert_eq!(own(&all, &hazards), std::slice::from_ref(&mine));
        assert_eq!(cautions(std::slice::from_ref(&mine), &[]), [mine], "without a hazard nothing is added");
    }
}
