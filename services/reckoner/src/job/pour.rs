//! What a reckoned fill comes to for whoever pours it: in words for a step, and in whole millilitres for the stock book.

use crate::answer::Answer;
use crate::refusal::Refusal;

/// What goes in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pour {
    /// In words: `3.65 L at 100 % with 2.45 L of water`; of what is never mixed the amount alone.
    pub recipe: String,
    /// How much has to be there, never less than was reckoned.
    pub millilitres: i64,
    /// Whether water goes with it.
    pub mixed: bool,
}

/// What a fill comes to; nothing where nothing is to be poured in.
pub fn pour(answer: &Answer) -> Result<Option<Pour>, Refusal> {
    let Some(add) = answer.figure("add") else {
        return Err(Refusal::contradiction("fill", "the answer says of nothing how much goes in", "ask for a fill"));
    };
    if add.value <= 0.0 {
        return Ok(None);
    }
    let water = answer.figure("water");
    let at = answer.inputs.iter().find(|input| input.name == "poured_strength");
    let at = at.map(|input| format!(" at {}", input.taken)).unwrap_or_default();
    let recipe = match water {
        Some(water) => format!("{}{at} with {} of water", add.text(), water.text()),
        None => add.text(),
    };
    Ok(Some(Pour { recipe, millilitres: whole_millilitres(add.value), mixed: water.is_some() }))
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

    /// Mixed: `add` at a strength with water; oil alone. Arithmetic.
    #[test]
    fn what_is_drawn_is_never_less_than_what_is_poured() {
        assert_eq!([3.5, 3.500_2, 0.1 + 0.2, 1e-12].map(whole_millilitres), [3_500, 3_501, 300, 1]);
        let mut answer = Answer::new("t", "f", &[]);
        answer.add("add", "Pour in", 4.2, "L", Rounding::Places(2));
        let oil = pour(&answer).expect("reads").expect("goes in");
        assert_eq!(oil, Pour { recipe: "4.20 L".into(), millilitres: 4_200, mixed: false });
        answer.word("poured_strength", "100 %");
        answer.add("water", "Water", 2.45, "L", Rounding::Places(2));
        let mixed = pour(&answer).expect("reads").expect("goes in");
        assert_eq!(mixed.recipe, "4.20 L at 100 % with 2.45 L of water");
        let mut none = Answer::new("t", "f", &[]);
        none.add("add", "Pour in", 0.0, "L", Rounding::Places(2));
        assert_eq!(pour(&none), Ok(None));
        assert!(pour(&Answer::new("t", "f", &[])).is_err());
    }
}
