//! Numbers as people type them: a point or a comma for the decimals, a fraction of an inch, any minus sign.

/// The most digits that a number may have: what programs write out of a double has no more.
const MOST_DIGITS: usize = 20;

/// The number at the beginning of a text, and what stands behind it.
pub(super) fn leading(text: &str) -> Result<(f64, &str), &'static str> {
    let (negative, rest) = sign(text);
    let (whole, behind) = decimal(rest)?;
    let (value, behind) = match fraction(whole, behind)? {
        Some(found) => found,
        None => (whole.value, behind),
    };
    Ok((if negative { -value } else { value }, behind.trim()))
}

fn sign(text: &str) -> (bool, &str) {
    for minus in ['-', '\u{2212}', '\u{2013}'] {
        if let Some(rest) = text.strip_prefix(minus) {
            return (true, rest.trim_start());
        }
    }
    (false, text.strip_prefix('+').map_or(text, str::trim_start))
}

#[derive(Clone, Copy)]
struct Decimal {
    value: f64,
    whole: bool,
}

fn decimal(text: &str) -> Result<(Decimal, &str), &'static str> {
    let end =
        text.find(|letter: char| !letter.is_ascii_digit() && letter != '.' && letter != ',').unwrap_or(text.len());
    // A point or comma at the end belongs to no number.
    let (number, behind) = text.split_at(end);
    if !number.bytes().any(|byte| byte.is_ascii_digit()) {
        return Err("it does not begin with a number");
    }
    if number.bytes().filter(u8::is_ascii_digit).count() > MOST_DIGITS {
        return Err("it has more digits than anything measured");
    }
    let marks = number.bytes().filter(|byte| !byte.is_ascii_digit()).count();
    if marks > 1 {
        return Err("leave out the marks between thousands, and write one decimal point");
    }
    // `.05` is what it is; behind `5.` something may have been left out.
    if number.ends_with(['.', ',']) {
        return Err("behind a decimal point stand digits");
    }
    if thousand_or_not(number) {
        return Err("the comma may stand for thousands or for decimals; write it with a point, or without the comma");
    }
    let value = format!("0{}", number.replace(',', ".")).parse().map_err(|_| "it is no number")?;
    Ok((Decimal { value, whole: marks == 0 }, behind))
}

/// `1,500` is one and a half to some and fifteen hundred to others; `0,050` and `1,50` are not.
fn thousand_or_not(number: &str) -> bool {
    number
        .split_once(',')
        .is_some_and(|(before, after)| after.len() == 3 && before.len() <= 3 && !before.starts_with('0'))
}

/// `1/2` or `1 1/2`, where one stands there.
fn fraction(first: Decimal, behind: &str) -> Result<Option<(f64, &str)>, &'static str> {
    if let Some(rest) = behind.trim_start().strip_prefix('/') {
        let rest = rest.trim_start();
        if !rest.starts_with(|letter: char| letter.is_ascii_digit()) {
            return Err("a fraction has a number under its line");
        }
        let (under, behind) = decimal(rest)?;
        return Ok(Some((divided(first, under)?, behind)));
    }
    let next = behind.trim_start();
    if !next.starts_with(|letter: char| letter.is_ascii_digit()) {
        return Ok(None);
    }
    if next.len() == behind.len() {
        return Err("it is no number");
    }
    let (over, rest) = decimal(next)?;
    let Some(rest) = rest.strip_prefix('/') else {
        return Err("leave out the space inside the number");
    };
    let (under, rest) = decimal(rest)?;
    let part = divided(over, under)?;
    if !first.whole || part >= 1.0 {
        return Err("a whole number and a fraction below one go together");
    }
    Ok(Some((first.value + part, rest)))
}

fn divided(over: Decimal, under: Decimal) -> Result<f64, &'static str> {
    if !over.whole || !under.whole || under.value == 0.0 {
        return Err("a fraction has whole numbers, and no nought under its line");
    }
    Ok(over.value / under.value)
}
