//! What the search chooses for a stage beside its turn, in the bits of a gene.

/// Which person, counted from whoever is finished earliest.
pub(super) fn person(gene: u16) -> usize {
    usize::from(gene & 3)
}

/// Which bay, counted from the one that is free earliest.
pub(super) fn bay(gene: u16) -> usize {
    usize::from(gene >> 2 & 3)
}

/// How many finishes of others it waits for though it could start: delay of admission.
pub(super) fn delay(gene: u16) -> u16 {
    gene >> 4 & 7
}

/// The gene without that delay.
pub(super) fn at_once(gene: u16) -> u16 {
    gene & !(7 << 4)
}

const ROLL_OUT: u16 = 1 << 7;
const OVERTIME: u16 = 1 << 8;
const STICK: u16 = 1 << 9;
const ROLL_OUT_NOW: u16 = 1 << 10;
const CHANGE: u16 = 1 << 11;

/// Whether the vehicle leaves the bay after it where it may.
pub(super) fn rolls_out(gene: u16) -> bool {
    gene & ROLL_OUT != 0
}

/// Whether a vehicle that is in a bay leaves it at once where it may; read at a job's first stage in a bay.
pub(super) fn rolls_out_now(gene: u16) -> bool {
    gene & ROLL_OUT_NOW != 0
}

/// Whether the vehicle goes on to another bay before it, though it could be done where it stands.
pub(super) fn changes(gene: u16) -> bool {
    gene & CHANGE != 0
}

/// Whether overtime that the lead opened is used.
pub(super) fn overtime(gene: u16) -> bool {
    gene & OVERTIME != 0
}

/// The same, with overtime used.
pub(super) fn with_overtime(gene: u16) -> u16 {
    gene | OVERTIME
}

/// Whether it keeps to the accepted plan: not earlier, the same bay, the same people.
pub(super) fn sticks(gene: u16) -> bool {
    gene & STICK != 0
}

/// A gene without delay or second choices.
pub(super) fn plain(roll_out: bool, overtime: bool, stick: bool) -> u16 {
    let choice = |on: bool, bits: u16| if on { bits } else { 0 };
    choice(roll_out, ROLL_OUT | ROLL_OUT_NOW) | choice(overtime, OVERTIME) | choice(stick, STICK)
}

/// The gene with one choice made anew; `dice` are random bits.
pub(super) fn varied(gene: u16, dice: u64) -> u16 {
    let low = u16::try_from(dice >> 8 & 0xff).unwrap_or(0);
    match dice % 14 {
        0 | 1 => gene & !3 | (low & 3),
        2 | 3 => gene & !(3 << 2) | (low & 3) << 2,
        4 | 5 => gene & !(7 << 4) | (low & 7).saturating_sub(2) << 4,
        6 => gene & !(7 << 4) | (low & 1) << 4,
        7 => gene ^ ROLL_OUT,
        8 => gene ^ ROLL_OUT_NOW,
        9 => gene ^ STICK,
        10 => gene ^ OVERTIME,
        11 | 12 => gene ^ CHANGE,
        _ => gene & (ROLL_OUT | OVERTIME | STICK | ROLL_OUT_NOW),
    }
}

/// The choices that whole jobs make alike.
pub(super) fn of_jobs(dice: u64) -> u16 {
    match dice % 3 {
        0 => OVERTIME,
        1 => STICK,
        _ => ROLL_OUT,
    }
}
