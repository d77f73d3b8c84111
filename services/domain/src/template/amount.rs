//! Quantities as people write them, turned exactly into whole numbers of a unit.

use super::fields::shorten;
use leadhand_facts::Unit;

/// The smallest unit of the same kind, and how many of it make one of this.
pub fn smallest(unit: Unit) -> (Unit, i64) {
    match unit {
        Unit::Piece => (Unit::Piece, 1),
        Unit::Millilitre => (Unit::Millilitre, 1),
        Unit::Litre => (Unit::Millilitre, 1000),
        Unit::Gram => (Unit::Gram, 1),
        Unit::Kilogram => (Unit::Gram, 1000),
        Unit::Millimetre => (Unit::Millimetre, 1),
        Unit::Metre => (Unit::Millimetre, 1000),
    }
}

/// Why a quantity can't be had in another unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Inexact {
    /// The units measure different things.
    OtherKind,
    /// The result is not a whole number.
    NotWhole,
    /// The result is too large.
    TooLarge,
}

/// A quantity in another unit, when that is a whole number.
pub fn convert(quantity: i64, from: Unit, to: Unit) -> Result<i64, Inexact> {
    let ((small, from_factor), (other, to_factor)) = (smallest(from), smallest(to));
    if small != other {
        return Err(Inexact::OtherKind);
    }
    let in_small = quantity.checked_mul(from_factor).ok_or(Inexact::TooLarge)?;
    if in_small % to_factor == 0 { Ok(in_small / to_factor) } else { Err(Inexact::NotWhole) }
}

/// Reads `4.5 L` as a whole number of the smallest unit of its kind: 4500 mL. The error says
/// what is wrong, without its subject.
pub(super) fn read(text: &str) -> Result<(i64, Unit), String> {
    let (number, code) = text.split_once(' ').ok_or("has to be a number, one blank and a unit, such as \"4.5 L\"")?;
    let unit =
        Unit::from_code(code).ok_or_else(|| format!("has the unknown unit '{}'; use {}", shorten(code), codes()))?;
    let (small, factor) = smallest(unit);
    let scaled = decimal(number, factor).map_err(|wrong| match wrong {
        Wrong::Form => format!("has '{}' where plain digits belong, with at most one point", shorten(number)),
        Wrong::Rest => format!("is not a whole number of {}", small.code()),
        Wrong::Size => "is too large".to_owned(),
    })?;
    Ok((scaled, small))
}

/// The unit codes that are allowed, as a list.
pub(super) fn codes() -> String {
    Unit::ALL.map(Unit::code).join(", ")
}

/// A decimal number in thousandths, exactly; `None` when it is none, too fine or too large.
pub(super) fn thousandths(number: &str) -> Option<i64> {
    decimal(number, 1000).ok()
}

enum Wrong {
    Form,
    Rest,
    Size,
}

/// A decimal number times a power of ten, exactly.
fn decimal(number: &str, factor: i64) -> Result<i64, Wrong> {
    let (whole, rest) = number.split_once('.').unwrap_or((number, "0"));
    let digits = |part: &str| !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit());
    if !digits(whole) || !digits(rest) {
        return Err(Wrong::Form);
    }
    let whole: i64 = whole.parse().map_err(|_| Wrong::Size)?;
    let mut sum = whole.checked_mul(factor).ok_or(Wrong::Size)?;
    let mut place = factor;
    for digit in rest.bytes().map(|byte| i64::from(byte - b'0')) {
        if place % 10 != 0 && digit != 0 {
            return Err(Wrong::Rest);
        }
        place /= 10;
        sum = sum.checked_add(digit * place).ok_or(Wrong::Size)?;
    }
    Ok(sum)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_or_not_at_all() {
        assert_eq!(read("4.5 L"), Ok((4500, Unit::Millilitre)));
        assert_eq!(read("0.001 kg"), Ok((1, Unit::Gram)));
        assert_eq!(read("2.50 m"), Ok((2500, Unit::Millimetre)));
        assert_eq!(read("3 1"), Ok((3, Unit::Piece)));
        assert_eq!(read("3.0 1"), Ok((3, Unit::Piece)));
        assert_eq!(read("0.0005 L"), Err("is not a whole number of mL".to_owned()));
        assert_eq!(read("1.5 1"), Err("is not a whole number of 1".to_owned()));
        assert_eq!(read("9223372036854775807 L"), Err("is too large".to_owned()));
        assert_eq!(read("4 gal"), Err("has the unknown unit 'gal'; use 1, mL, L, g, kg, mm, m".to_owned()));
        let told = read(&format!("4 {}\n", "x".repeat(99))).unwrap_err();
        assert!(told.contains(&format!("'{}…'", "x".repeat(40))) && !told.contains('\n'), "{told}");
        assert!(!read("4\n5 L").unwrap_err().contains('\n'));
        for wrong in ["4.5L", "-1 L", ".5 L", "1. L", "1e3 L", "", " L", "+1 L", "1.2.3 L", "٣ L"] {
            assert!(read(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn conversions() {
        assert_eq!(convert(4, Unit::Litre, Unit::Millilitre), Ok(4000));
        assert_eq!(convert(4000, Unit::Millilitre, Unit::Litre), Ok(4));
        assert_eq!(convert(4500, Unit::Millilitre, Unit::Litre), Err(Inexact::NotWhole));
        assert_eq!(convert(1, Unit::Litre, Unit::Kilogram), Err(Inexact::OtherKind));
        assert_eq!(convert(i64::MAX, Unit::Metre, Unit::Millimetre), Err(Inexact::TooLarge));
    }
}
