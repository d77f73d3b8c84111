//! A figure in the unit in which the question was typed, beside its own.

use super::{Answer, Figure, Rounding};
use crate::quantity::{converted, written};

/// A figure in another unit.
#[derive(Debug, Clone, PartialEq)]
pub struct Beside {
    /// In full.
    pub value: f64,
    /// The UCUM code of the other unit.
    pub unit: &'static str,
    /// As it is shown: rounded as the figure is, to as many digits, without its unit.
    pub shown: String,
}

impl Answer {
    /// The figure in the unit in which the first input of its kind was typed; nothing where that is its own.
    pub fn beside(&self, figure: &Figure) -> Option<Beside> {
        let typed = self.inputs.iter().filter_map(|input| input.unit);
        let mut same = typed.filter(|unit| converted(0.0, figure.unit, unit).is_some());
        same.next().filter(|unit| *unit != figure.unit).and_then(|unit| figure.in_unit(unit))
    }
}

impl Figure {
    /// In another unit of its kind, by its UCUM code.
    pub fn in_unit(&self, unit: &'static str) -> Option<Beside> {
        let value = converted(self.value, self.unit, unit)?;
        let own = self.shown();
        // Nothing is nothing in any unit without an offset: what a subtraction left in the last bits is not told.
        if own.bytes().all(|byte| b"-0.".contains(&byte)) && converted(0.0, self.unit, unit) == Some(0.0) {
            return Some(Beside { value: 0.0, unit, shown: "0".to_owned() });
        }
        let digits = digits_of(&own);
        // Noughts behind the point are no digits: 0.60 mm are 0.023 in. Of a scale that begins elsewhere they are.
        let lead = if converted(0.0, self.unit, unit) == Some(0.0) { noughts(value) } else { 0 };
        let shown = match self.rounding {
            // Zeros behind the last digit that is known say nothing.
            Rounding::Digits(known) => Rounding::Digits(known),
            // A scale that begins elsewhere has other digits: 0 °C is 32 °F.
            Rounding::Places(_) if converted(0.0, self.unit, unit) != Some(0.0) => self.rounding,
            Rounding::Places(_) => Rounding::Digits(digits),
            Rounding::Up(_) => Rounding::Up(places(value, digits) + lead),
            Rounding::Down(_) => Rounding::Down(places(value, digits) + lead),
            Rounding::Chance => Rounding::Chance,
        };
        Some(Beside { value, unit, shown: shown.of(value) })
    }

    /// As it is shown, with its unit as people write it.
    pub fn text(&self) -> String {
        written(&self.shown(), self.unit)
    }
}

impl Beside {
    /// As it is shown, with its unit as people write it.
    pub fn text(&self) -> String {
        written(&self.shown, self.unit)
    }
}

/// The digits that a shown number has, from its first that is not 0.
fn digits_of(shown: &str) -> u8 {
    let digits = shown.chars().filter(char::is_ascii_digit).skip_while(|digit| *digit == '0').count();
    u8::try_from(digits).unwrap_or(u8::MAX).max(1)
}

/// The decimal places that leave a value so many digits.
fn places(value: f64, digits: u8) -> u8 {
    let mut places = digits.saturating_sub(1);
    let mut rest = value.abs();
    while rest >= 10.0 && places > 0 {
        rest /= 10.0;
        places -= 1;
    }
    places
}

/// The noughts before the first digit of a value below 1; of what is next to nothing no more than are worth a look.
fn noughts(value: f64) -> u8 {
    const MOST: u8 = 6;
    let (mut noughts, mut rest) = (0, value.abs());
    while rest > 0.0 && rest < 1.0 && noughts < MOST {
        rest *= 10.0;
        noughts += 1;
    }
    noughts
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{Amount, Kind};

    /// Factor of lbf.ft: NIST SP 811, Appendix B, 1.355 818 N.m.
    #[test]
    fn a_figure_is_given_in_the_unit_that_was_typed() {
        let mut answer = Answer::new("t", "f", &[]);
        answer.given("torque", &Amount::read(Kind::Torque, "torque", "59 lbf.ft").expect("reads"));
        answer.add("setting", "s", 71.1, "N.m", Rounding::Digits(3));
        answer.add("angle", "a", 90.0, "deg", Rounding::Places(0));
        let beside = answer.beside(&answer.figures[0]).expect("is of the kind");
        assert_eq!(beside.text(), "52.4 lbf.ft");
        assert!((beside.value - 71.1 / 1.355_818).abs() < 1e-4);
        assert_eq!(answer.beside(&answer.figures[1]), None);
        assert_eq!(answer.figures[1].text(), "90°");
        // Three digits of 36105 N are three digits of any unit.
        answer.add("force", "f", 36_105.0, "N", Rounding::Digits(3));
        assert_eq!(answer.figures[2].in_unit("kN").expect("is of the kind").shown, "36.1");
    }

    #[test]
    fn what_was_typed_in_the_figures_own_unit_is_not_said_twice() {
        let mut answer = Answer::new("t", "f", &[]);
        answer.given("torque", &Amount::read(Kind::Torque, "torque", "80 Nm").expect("reads"));
        answer.add("setting", "s", 71.1, "N.m", Rounding::Digits(3));
        assert_eq!(answer.beside(&answer.figures[0]), None);
    }

    /// What a subtraction of doubles leaves is no hundredth of a millionth of a gallon. 0 °C is 32 °F all the same.
    #[test]
    fn what_is_shown_as_nothing_is_nothing_in_the_other_unit() {
        let figure = |value, unit, rounding| {
            let mut answer = Answer::new("t", "f", &[]);
            answer.add("x", "x", value, unit, rounding);
            answer.figures[0].clone()
        };
        for rounding in [Rounding::Places(2), Rounding::Up(1), Rounding::Down(2)] {
            let water = figure(3.0 * 1.1 - 3.3, "L", rounding);
            assert_eq!(water.in_unit("[gal_us]").expect("is a volume").text(), "0 US gal");
        }
        let freezes = figure(0.0, "Cel", Rounding::Places(0)).in_unit("[degF]").expect("is a temperature");
        assert_eq!(freezes.text(), "32 °F");
    }

    /// A freezing point is to be taken warmer, and a limit lower, in any unit.
    #[test]
    fn the_way_of_rounding_goes_along() {
        let figure = |value, unit, rounding| {
            let mut answer = Answer::new("t", "f", &[]);
            answer.add("x", "x", value, unit, rounding);
            answer.figures[0].clone()
        };
        let freezes = figure(-37.115, "Cel", Rounding::Up(0)).in_unit("[degF]").expect("is a temperature");
        assert_eq!(freezes.text(), "-34 °F");
        let limit = figure(15.79, "kg", Rounding::Down(1)).in_unit("[lb_av]").expect("is a mass");
        assert_eq!(limit.text(), "34.8 lb");
        // 0.60 mm / 25.4 = 0.023 62 in: arithmetic.
        for (rounding, shown) in [(Rounding::Down(2), "0.023 in"), (Rounding::Up(2), "0.024 in")] {
            let skim = figure(0.6, "mm", rounding).in_unit("[in_i]").expect("is a length");
            assert_eq!(skim.text(), shown);
        }
    }
}
