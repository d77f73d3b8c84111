//! How times and quantities are said in a sentence: on the shop's clock, in the item's unit.

use crate::hand_over::Line;
use crate::refusal::{BadRow, Refusal};
use crate::state::State;
use crate::template::Fault;
use jiff::tz::TimeZone;
use leadhand_facts::instant::MINUTE_US;
use leadhand_facts::words::{JobState, ProofKind, StageState, StepState};
use leadhand_facts::{
    BayKey, BlockerNo, FluidKey, Instant, ItemKey, JobNo, OptionKey, PlaceKey, PositionKey, Quantity, ReadingKey,
    StageKey, StepNo, TemplateKey, ToolKey, Unit,
};

/// What a sentence needs to know of the shop.
#[derive(Debug, Clone)]
pub struct Telling {
    zone: TimeZone,
    unit: Option<Unit>,
    /// Whether times are told to the second.
    seconds: bool,
}

impl Default for Telling {
    fn default() -> Self {
        Self { zone: TimeZone::UTC, unit: None, seconds: false }
    }
}

/// The time from which on something is free again. It is told rounded up, so that whoever gives what was told is not
/// refused once more.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FreeFrom(pub Instant);

impl Telling {
    /// As this shop tells a refusal. What is not loaded is told in UTC and without a unit.
    pub fn of(state: &State, refusal: &Refusal) -> Self {
        let zone = state.shop.get(&()).and_then(|shop| TimeZone::get(&shop.zone).ok()).unwrap_or(TimeZone::UTC);
        let unit = refusal.item().and_then(|item| state.items.get(&(item.clone(),))).map(|row| row.unit);
        Self { zone, unit, seconds: false }
    }

    /// The same for a sentence with these times: to the second, where two of them are in one minute.
    pub(crate) fn fine_enough(&self, times: &[Option<(Instant, bool)>]) -> Self {
        let told: Vec<(Instant, String)> =
            times.iter().flatten().map(|(at, free_from)| (*at, self.said(*at, *free_from))).collect();
        let same = |(at, one): &(Instant, String)| told.iter().any(|(other, two)| at != other && one == two);
        Self { seconds: told.iter().any(same), ..self.clone() }
    }

    /// Day and minute on the shop's clock; the second where the minute says too little.
    pub fn time(&self, at: Instant) -> String {
        self.said(at, false)
    }

    fn said(&self, at: Instant, free_from: bool) -> String {
        let step = if self.seconds { SECOND_US } else { MINUTE_US };
        let begun = at.0.div_euclid(step) + i64::from(free_from && at.0.rem_euclid(step) > 0);
        let Some(exact) = begun.checked_mul(step).and_then(|us| Instant(us).timestamp()) else { return at.to_string() };
        let format = if self.seconds { "%Y-%m-%d %H:%M:%S" } else { "%Y-%m-%d %H:%M" };
        let zone = if self.zone == TimeZone::UTC { " UTC" } else { "" };
        format!("{}{zone}", exact.to_zoned_datetime(self.zone.clone()).strftime(format))
    }
}

const SECOND_US: i64 = 1_000_000;

/// A quantity as people say it: `3`, `750 mL`, `4.5 L`.
pub fn amount(quantity: Quantity, unit: Option<Unit>) -> String {
    let (unit, larger) = match unit {
        None | Some(Unit::Piece) => return quantity.to_string(),
        Some(unit @ Unit::Millilitre) => (unit, Unit::Litre),
        Some(unit @ Unit::Gram) => (unit, Unit::Kilogram),
        Some(unit @ Unit::Millimetre) => (unit, Unit::Metre),
        Some(unit) => return format!("{quantity} {}", unit.code()),
    };
    let (whole, rest) = (quantity.0 / 1000, (quantity.0 % 1000).unsigned_abs());
    match (whole, rest) {
        (0, _) => format!("{quantity} {}", unit.code()),
        (_, 0) => format!("{whole} {}", larger.code()),
        _ => format!("{whole}.{} {}", format!("{rest:03}").trim_end_matches('0'), larger.code()),
    }
}

/// A value as it stands in a sentence.
pub(crate) trait Tell {
    /// What stands in its place.
    type Told<'a>
    where
        Self: 'a;

    fn tell(&self, telling: &Telling) -> Self::Told<'_>;

    /// The time that it is, and whether it is told rounded up.
    fn instant(&self) -> Option<(Instant, bool)> {
        None
    }
}

impl Tell for Instant {
    type Told<'a> = String;

    fn tell(&self, telling: &Telling) -> String {
        telling.time(*self)
    }

    fn instant(&self) -> Option<(Instant, bool)> {
        Some((*self, false))
    }
}

impl Tell for FreeFrom {
    type Told<'a> = String;

    fn tell(&self, telling: &Telling) -> String {
        telling.said(self.0, true)
    }

    fn instant(&self) -> Option<(Instant, bool)> {
        Some((self.0, true))
    }
}

impl Tell for Quantity {
    type Told<'a> = String;

    fn tell(&self, telling: &Telling) -> String {
        amount(*self, telling.unit)
    }
}

macro_rules! as_they_are {
    ($($ty:ty),+ $(,)?) => {
        $(impl Tell for $ty {
            type Told<'a> = &'a Self where Self: 'a;

            fn tell(&self, _: &Telling) -> &Self {
                self
            }
        })+
    };
}

as_they_are!(
    String,
    &'static str,
    i32,
    i64,
    usize,
    Vec<Fault>,
    Vec<BadRow>,
    Vec<Line>,
    JobState,
    StageState,
    StepState,
    ProofKind,
    BayKey,
    BlockerNo,
    FluidKey,
    ItemKey,
    JobNo,
    OptionKey,
    PlaceKey,
    PositionKey,
    ReadingKey,
    StageKey,
    StepNo,
    TemplateKey,
    ToolKey,
);

#[cfg(test)]
mod tests {
    use super::*;

    fn at(text: &str) -> Instant {
        Instant(text.parse::<jiff::Timestamp>().unwrap().as_microsecond())
    }

    fn lisbon() -> Telling {
        Telling { zone: TimeZone::get("Europe/Lisbon").unwrap(), ..Telling::default() }
    }

    fn too_early(at_text: &str, earliest: &str) -> Refusal {
        Refusal::TooEarly { what: "the end of stage 'strip'".into(), at: at(at_text), earliest: at(earliest) }
    }

    /// Lisbon is at UTC+1 in summer (IANA time zone database, Europe/Lisbon).
    #[test]
    fn a_refusal_tells_times_on_the_shops_clock() {
        let summer = too_early("2031-06-10T08:00:00Z", "2031-06-10T08:03:07.123456Z");
        assert_eq!(
            summer.told(&lisbon()),
            "the end of stage 'strip' can't be at 2031-06-10 09:00: it comes after 2031-06-10 09:03"
        );
        assert!(summer.to_string().contains("2031-06-10 08:00 UTC"), "{summer}");
    }

    #[test]
    fn seconds_are_told_where_a_minute_is_not_enough_and_fractions_never() {
        let close = too_early("2031-06-10T08:00:00.5Z", "2031-06-10T08:00:07.123456Z");
        assert_eq!(
            close.told(&lisbon()),
            "the end of stage 'strip' can't be at 2031-06-10 09:00:00: it comes after 2031-06-10 09:00:07"
        );
        let same = too_early("2031-06-10T08:00:07Z", "2031-06-10T08:00:07Z");
        assert!(same.told(&lisbon()).ends_with("at 2031-06-10 09:00: it comes after 2031-06-10 09:00"), "{same}");
    }

    /// Whoever gives the end that was told is not refused once more.
    #[test]
    fn a_time_from_which_on_something_is_free_is_rounded_up() {
        let taken = |until: &str| Refusal::BayTakenThen {
            bay: BayKey::from("lift-1"),
            job: JobNo(4),
            from_at: at("2031-06-10T07:59:59.9Z"),
            until_at: FreeFrom(at(until)),
        };
        let told = |until| taken(until).told(&lisbon());
        assert!(told("2031-06-10T08:20:33.1Z").contains("from 2031-06-10 08:59 to 2031-06-10 09:21;"));
        assert!(told("2031-06-10T08:20:00Z").contains("to 2031-06-10 09:20;"));
        assert!(told("2031-06-10T07:59:59.95Z").contains("from 2031-06-10 08:59 to 2031-06-10 09:00;"));
    }

    #[test]
    fn a_refusal_tells_quantities_in_the_items_unit() {
        let short = Refusal::NotEnough {
            item: ItemKey::from("coolant"),
            wanted: Quantity(5_000),
            free: Quantity(250),
            held_by: String::new(),
        };
        let litres = Telling { unit: Some(Unit::Millilitre), ..Telling::default() };
        assert!(short.told(&litres).starts_with("5 L of 'coolant' are asked for and 250 mL are free;"));
        let pieces = Telling { unit: Some(Unit::Piece), ..Telling::default() };
        assert!(short.told(&pieces).starts_with("5000 of 'coolant'"));
    }

    /// Factors of the SI prefixes (BIPM, The International System of Units, 9th edition, table 7).
    #[test]
    fn quantities_are_told_in_the_larger_unit_when_there_is_that_much() {
        let told = |quantity, unit| amount(Quantity(quantity), Some(unit));
        assert_eq!(told(999, Unit::Millilitre), "999 mL");
        assert_eq!(told(1_000, Unit::Gram), "1 kg");
        assert_eq!(told(4_050, Unit::Millilitre), "4.05 L");
        assert_eq!(told(-2_500, Unit::Millimetre), "-2.5 m");
        assert_eq!(told(i64::MIN, Unit::Gram), "-9223372036854775.808 kg");
        assert_eq!(told(1_500, Unit::Litre), "1500 L");
    }

    #[test]
    fn what_is_not_loaded_is_told_all_the_same() {
        let refusal = Refusal::InTheFuture { happened_at: at("2031-06-10T08:00:00Z"), now: at("2031-06-10T07:00:00Z") };
        assert_eq!(refusal.told(&Telling::of(&State::default(), &refusal)), refusal.to_string());
    }
}
