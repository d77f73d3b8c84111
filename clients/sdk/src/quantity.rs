//! Quantities as people write and read them. Books hold whole numbers of an item's unit; "4.5L"
//! of an item in millilitres is 4500, exactly, or it is refused.

/// What a unit measures, and how many of the smallest one it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Scale {
    measures: Measures,
    smallest: i128,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Measures {
    Count,
    Volume,
    Mass,
    Length,
}

/// Units by their code in UCUM (The Unified Code for Units of Measure), which allows both `L`
/// and `l`.
fn scale(code: &str) -> Option<Scale> {
    let (measures, smallest) = match code {
        "1" => (Measures::Count, 1),
        "mL" | "ml" => (Measures::Volume, 1),
        "cL" | "cl" => (Measures::Volume, 10),
        "dL" | "dl" => (Measures::Volume, 100),
        "L" | "l" => (Measures::Volume, 1000),
        "mg" => (Measures::Mass, 1),
        "g" => (Measures::Mass, 1000),
        "kg" => (Measures::Mass, 1_000_000),
        "mm" => (Measures::Length, 1),
        "cm" => (Measures::Length, 10),
        "m" => (Measures::Length, 1000),
        _ => return None,
    };
    Some(Scale { measures, smallest })
}

/// A quantity as it was typed: digits, a decimal point perhaps, a unit perhaps.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Typed {
    text: String,
    digits: i128,
    decimals: u32,
    unit: Option<String>,
}

impl Typed {
    /// Whether it means a number of the item's own unit, whatever that is.
    pub fn is_plain(&self) -> bool {
        self.unit.is_none()
    }

    /// Whether it is nothing, in whatever unit.
    pub fn is_zero(&self) -> bool {
        self.digits == 0
    }

    /// As it was typed.
    pub fn shown(&self) -> &str {
        self.text.trim()
    }

    /// The whole number of the item's unit that it is.
    pub fn in_unit(&self, unit: &str) -> Result<i64, String> {
        let Self { text, .. } = self;
        let whole = |divided: i128, by: i128| {
            if divided % by != 0 {
                return Err(format!("'{text}' is not a whole number of {}", unit_name(unit)));
            }
            i64::try_from(divided / by).map_err(|_| format!("'{text}' is too much"))
        };
        let tenths = 10_i128.pow(self.decimals);
        let Some(typed) = &self.unit else { return whole(self.digits, tenths) };
        let (Some(from), Some(to)) = (scale(typed), scale(unit)) else {
            return Err(format!("'{typed}' in '{text}' can't be turned into {}", unit_name(unit)));
        };
        if from.measures != to.measures {
            return Err(format!(
                "the item is kept in {}, and '{typed}' in '{text}' is something else",
                unit_name(unit)
            ));
        }
        whole(self.digits * from.smallest, tenths * to.smallest)
    }
}

/// Reads a typed quantity, for clap.
pub fn parse(text: &str) -> Result<Typed, String> {
    let trimmed = text.trim();
    let split = trimmed.find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(trimmed.len());
    let (number, unit) = (&trimmed[..split], trimmed[split..].trim());
    if let Some(pointed) = with_point(trimmed) {
        return Err(format!("'{trimmed}' has a comma; type decimals with a point: {pointed}"));
    }
    let (before, after) = number.split_once('.').unwrap_or((number, ""));
    let pointed_at_nothing = number.contains('.') && after.is_empty();
    if before.is_empty() || pointed_at_nothing || after.contains('.') || before.len() > 15 || after.len() > 6 {
        return Err("not a quantity; write a number such as 4, 4500 or 4.5L, with a point for decimals".to_owned());
    }
    let digits: i128 = format!("{before}{after}").parse().map_err(|_| "not a number".to_owned())?;
    let unit = (!unit.is_empty()).then(|| unit.to_owned());
    if let Some(unit) = &unit
        && scale(unit).is_none()
    {
        return Err(format!("'{unit}' is not a unit; use mL, L, g, kg, mm, m, or none for pieces"));
    }
    let decimals = u32::try_from(after.len()).unwrap_or(0);
    Ok(Typed { text: trimmed.to_owned(), digits, decimals, unit })
}

/// What was meant, where one comma stands between digits in the place of a point.
fn with_point(text: &str) -> Option<String> {
    let (before, after) = text.split_once(',').filter(|(_, after)| !after.contains([',', '.']))?;
    let digits = before.bytes().all(|byte| byte.is_ascii_digit());
    let goes_on = after.starts_with(|c: char| c.is_ascii_digit());
    (digits && !before.is_empty() && goes_on).then(|| format!("{before}.{after}"))
}

/// The unit of a reading as people write it, where that is not its UCUM code.
pub fn shown_unit(code: &str) -> &str {
    match code {
        "[psi]" => "psi",
        "um" => "µm",
        "Cel" => "°C",
        "1" => "",
        other => other,
    }
}

/// A quantity as people read it: 4500 mL is "4.5 L", pieces have no unit.
pub fn show(quantity: i64, unit: &str) -> String {
    let larger = match unit {
        "mL" => "L",
        "g" => "kg",
        "mm" => "m",
        "1" | "" => return quantity.to_string(),
        _ => return format!("{quantity} {unit}"),
    };
    if quantity.unsigned_abs() < 1000 {
        return format!("{quantity} {unit}");
    }
    let sign = if quantity < 0 { "-" } else { "" };
    let (whole, rest) = (quantity.unsigned_abs() / 1000, quantity.unsigned_abs() % 1000);
    if rest == 0 {
        return format!("{sign}{whole} {larger}");
    }
    let decimals = format!("{rest:03}");
    format!("{sign}{whole}.{} {larger}", decimals.trim_end_matches('0'))
}

/// The unit in a sentence.
pub fn unit_name(unit: &str) -> &str {
    if unit == "1" { "pieces" } else { unit }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn typed(text: &str, unit: &str) -> Result<i64, String> {
        parse(text)?.in_unit(unit)
    }

    /// Factors of the SI prefixes (BIPM, The International System of Units, 9th edition, table 7).
    #[test]
    fn units_are_turned_into_the_items_own_exactly() {
        assert_eq!(typed("4.5L", "mL"), Ok(4500));
        assert_eq!(typed("4.5 l", "mL"), Ok(4500));
        assert_eq!(typed("4500", "mL"), Ok(4500));
        assert_eq!(typed("4500mL", "L"), Err("'4500mL' is not a whole number of L".to_owned()));
        assert_eq!(typed("5000mL", "L"), Ok(5));
        assert_eq!(typed("0.25kg", "g"), Ok(250));
        assert_eq!(typed("2.5cm", "mm"), Ok(25));
        assert_eq!(typed("3", "1"), Ok(3));
        assert_eq!(typed("3.0", "1"), Ok(3));
        assert_eq!(typed("1.5", "1"), Err("'1.5' is not a whole number of pieces".to_owned()));
        assert_eq!(typed("0.0005L", "mL"), Err("'0.0005L' is not a whole number of mL".to_owned()));
    }

    #[test]
    fn what_is_no_quantity_is_refused() {
        for wrong in ["", "L", "-4", "4,5L", "4.", ".5", "1.2.3", "4e3", "4 gallons", "9999999999999999", "1.0000001"] {
            assert!(parse(wrong).is_err(), "'{wrong}' was taken");
        }
        assert_eq!(parse("1,4L").unwrap_err(), "'1,4L' has a comma; type decimals with a point: 1.4L");
        for other in ["1,4,5L", ",4L", "1,L", "1,4.5L"] {
            assert!(!parse(other).unwrap_err().contains("has a comma"), "'{other}'");
        }
        assert!(typed("4L", "g").is_err(), "litres of something weighed");
        assert!(typed("4L", "1").is_err(), "litres of pieces");
        assert!(typed("999999999999999kg", "g").is_ok());
        assert_eq!(parse("999999999999999").unwrap().in_unit("mL"), Ok(999_999_999_999_999));
    }

    #[test]
    fn quantities_are_shown_in_the_larger_unit_when_that_is_shorter() {
        assert_eq!(show(4500, "mL"), "4.5 L");
        assert_eq!(show(1000, "mL"), "1 L");
        assert_eq!(show(1005, "g"), "1.005 kg");
        assert_eq!(show(999, "mm"), "999 mm");
        assert_eq!(show(-2500, "mL"), "-2.5 L");
        assert_eq!(show(12, "1"), "12");
        assert_eq!(show(7, "L"), "7 L");
        assert_eq!(show(i64::MIN, "mL"), "-9223372036854775.808 L");
    }
}
