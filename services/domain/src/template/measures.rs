//! Figures of readings as people write them, turned exactly into millionths.

use super::fields::shorten;
use leadhand_facts::Measure;

/// Most digits behind the point.
const PLACES: usize = 6;

/// Reads `12.4`, `-0.05` or `9`.
pub fn read_measure(text: &str) -> Result<Measure, String> {
    if let Some((before, after)) = text.split_once(',').filter(|(before, after)| is_decimal(before, after)) {
        return Err(format!(
            "'{}' has a comma; write decimals with a point: {}.{}",
            shorten(text),
            shorten(before),
            shorten(after)
        ));
    }
    let wrong = || format!("'{}' is no figure; write plain digits with at most one point, such as 12.4", shorten(text));
    let (negative, size) = text.strip_prefix('-').map_or((false, text), |size| (true, size));
    let (whole, rest) = size.split_once('.').unwrap_or((size, "0"));
    let digits = |part: &str| !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit());
    if !digits(whole) || !digits(rest) {
        return Err(wrong());
    }
    let rest = rest.trim_end_matches('0');
    if rest.len() > PLACES {
        return Err(format!("'{}' has more than {PLACES} digits behind its point", shorten(text)));
    }
    let most = || format!("'{}' is too large; at most 1000000000 either way can be kept", shorten(text));
    let units: i64 = whole.parse().map_err(|_| most())?;
    let parts: i64 = format!("{rest:0<PLACES$}").parse().map_err(|_| wrong())?;
    let all = units.checked_mul(Measure::ONE).and_then(|all| all.checked_add(parts));
    let all = all.filter(|all| *all <= Measure::MAX).ok_or_else(most)?;
    Ok(Measure(if negative { -all } else { all }))
}

fn is_decimal(before: &str, after: &str) -> bool {
    let digits = |part: &str| !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit());
    digits(before.strip_prefix('-').unwrap_or(before)) && digits(after)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_are_read_exactly_or_not_at_all() {
        for (text, millionths) in [
            ("12.4", 12_400_000),
            ("9", 9_000_000),
            ("-0.05", -50_000),
            ("0.02875", 28_750),
            ("0.000001", 1),
            ("1.10000000", 1_100_000),
            ("1000000000", Measure::MAX),
            ("-0", 0),
        ] {
            assert_eq!(read_measure(text), Ok(Measure(millionths)), "{text}");
        }
        for wrong in ["", "-", ".5", "1.", "1e3", "+1", "1,5,2", "1.2.3", "--1", " 1", "٣", "NaN", "0x1"] {
            assert!(read_measure(wrong).unwrap_err().contains("no figure"), "{wrong}");
        }
        let comma = read_measure("-1,5").unwrap_err();
        assert_eq!(comma, "'-1,5' has a comma; write decimals with a point: -1.5");
        assert!(read_measure("0.0000001").unwrap_err().contains("digits behind"));
        for large in ["1000000000.1", "99999999999999999999"] {
            assert!(read_measure(large).unwrap_err().contains("too large"), "{large}");
        }
        assert!(!read_measure("1\n2").unwrap_err().contains('\n'));
    }

    #[test]
    fn what_is_shown_reads_back_the_same() {
        for millionths in [0, 1, -1, 10, 28_750, 999_999, 1_000_000, -12_400_000, Measure::MAX, -Measure::MAX] {
            assert_eq!(read_measure(&Measure(millionths).to_string()), Ok(Measure(millionths)));
        }
    }
}
