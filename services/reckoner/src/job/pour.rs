//! What a reckoned fill comes to for whoever pours it: in words for a step, and in whole millilitres for the stock book.

use super::item::millionths;
use crate::answer::Answer;
use crate::quantity::{Amount, Kind};
use crate::refusal::Refusal;
use leadhand_facts::Mixture;

/// What the last bits of a volume are worth.
const NOISE_L: f64 = 1e-9;
/// What the last bits of a temperature are worth.
const NOISE_C: f64 = 1e-9;

/// What goes in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pour {
    /// In words: `3.65 L at 100 % with 2.45 L of water`; of what is never mixed the amount alone.
    pub recipe: String,
    /// How much has to be there, never less than was reckoned; 0 where nothing goes in.
    pub millilitres: i64,
    /// What it is mixed to, where water goes with it.
    pub mixture: Option<Mixture>,
}

/// What a fill comes to.
pub fn pour(answer: &Answer) -> Result<Pour, Refusal> {
    let Some(add) = answer.figure("add") else {
        return Err(Refusal::contradiction("fill", "the answer says of nothing how much goes in", "ask for a fill"));
    };
    let millilitres = if add.value > 0.0 { whole_millilitres(add.value) } else { 0 };
    let mixture = mixture(answer)?;
    let water = answer.figure("water").filter(|water| water.value > 0.0 || millilitres > 0);
    let recipe = match (water, &mixture) {
        (Some(water), Some(_)) if millilitres == 0 => format!("{} of water alone", water.text()),
        (Some(_), Some(mixture)) if mixture.water_ml == 0 => format!("{} at {} %", add.text(), mixture.poured),
        (Some(water), Some(mixture)) => {
            format!("{} at {} % with {} of water", add.text(), mixture.poured, water.text())
        }
        _ if millilitres == 0 => "nothing goes in".to_owned(),
        _ => add.text(),
    };
    Ok(Pour { recipe, millilitres, mixture })
}

/// What the answer says of strengths, where it is about a mixture.
fn mixture(answer: &Answer) -> Result<Option<Mixture>, Refusal> {
    let poured = answer.inputs.iter().find(|input| input.name == "poured_strength");
    let (Some(poured), Some(water), Some(whole)) = (poured, answer.figure("water"), answer.figure("strength")) else {
        return Ok(None);
    };
    let poured = millionths(&Amount::read(Kind::Share, "poured_strength", &poured.taken)?);
    let whole = millionths(&Amount::of(Kind::Share, whole.value));
    // What a subtraction leaves in the last bits is none.
    let water_ml = if water.value > NOISE_L { whole_millilitres(water.value) } else { 0 };
    // To the warmer side, as it is shown.
    let warmer = |celsius: f64| millionths(&Amount::of(Kind::Temperature, libm::ceil(celsius - NOISE_C)));
    let freezes = answer.figure("freezes").map(|figure| warmer(figure.value));
    Ok(Some(Mixture { poured, water_ml, whole, freezes }))
}

/// Litres in whole millilitres, rounded up, but for what a subtraction of doubles adds.
#[allow(clippy::cast_possible_truncation, reason = "no system holds more than a million litres")]
pub fn whole_millilitres(litres: f64) -> i64 {
    const NOISE_ML: f64 = 1e-6;
    libm::ceil(litres * 1e3 - NOISE_ML).clamp(1.0, 1e9) as i64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::answer::Rounding;
    use leadhand_facts::Measure;

    /// 4.2 L with so much water.
    fn mixed_of(water: f64) -> Answer {
        let mut answer = Answer::new("t", "f", &[]);
        answer.add("add", "Pour in", 4.2, "L", Rounding::Places(2));
        answer.add("water", "Water", water, "L", Rounding::Places(2));
        answer.add("strength", "Strength", 50.0, "%", Rounding::Places(1));
        answer
    }

    /// Mixed: `add` at a strength with water; oil alone. Arithmetic.
    #[test]
    fn what_is_drawn_is_never_less_than_what_is_poured() {
        assert_eq!([3.5, 3.500_2, 0.1 + 0.2, 1e-12].map(whole_millilitres), [3_500, 3_501, 300, 1]);
        let mut answer = Answer::new("t", "f", &[]);
        answer.add("add", "Pour in", 4.2, "L", Rounding::Places(2));
        let oil = pour(&answer).expect("reads");
        assert_eq!(oil, Pour { recipe: "4.20 L".into(), millilitres: 4_200, mixture: None });
        answer.word("poured_strength", "99.5 %");
        answer.add("water", "Water", 2.45, "L", Rounding::Places(2));
        answer.add("strength", "Strength", 52.5, "%", Rounding::Places(1));
        answer.add("freezes", "Freezing point", -39.4, "Cel", Rounding::Up(0));
        let mixed = pour(&answer).expect("reads");
        assert_eq!(mixed.recipe, "4.20 L at 99.5 % with 2.45 L of water");
        let (poured, whole, freezes) = (Measure(99_500_000), Measure(52_500_000), Some(Measure::whole(-39)));
        assert_eq!(mixed.mixture, Some(Mixture { poured, water_ml: 2_450, whole, freezes }));
        assert!(pour(&Answer::new("t", "f", &[])).is_err());
        // No water is no part of a recipe, nor is what a subtraction leaves of it.
        for none in [0.0, 1e-12] {
            let mut ready = mixed_of(none);
            ready.word("poured_strength", "50 %");
            assert_eq!(pour(&ready).expect("reads").recipe, "4.20 L at 50 %");
        }
    }

    /// Where it is strong enough already only water goes in, and where it is full nothing does. Arithmetic.
    #[test]
    fn where_nothing_is_drawn_the_recipe_says_so() {
        let mut answer = Answer::new("t", "f", &[]);
        answer.add("add", "Pour in", 0.0, "L", Rounding::Places(2));
        let none = pour(&answer).expect("reads");
        assert_eq!(none, Pour { recipe: "nothing goes in".into(), millilitres: 0, mixture: None });
        answer.word("poured_strength", "100 %");
        answer.add("water", "Water", 3.5, "L", Rounding::Places(2));
        answer.add("strength", "Strength", 50.0, "%", Rounding::Places(1));
        let water = pour(&answer).expect("reads");
        assert_eq!((water.recipe.as_str(), water.millilitres), ("3.50 L of water alone", 0));
        assert_eq!(water.mixture.map(|mixture| mixture.water_ml), Some(3_500));
    }
}
