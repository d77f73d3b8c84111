//! The units, each with its factor as a fraction of two whole numbers that a double holds exactly.
//!
//! From definitions: 1 in = 25.4 mm, 1 lb = 0.453 592 37 kg, standard gravity 9.806 65 m/s², 1 US gallon = 231 in³,
//! 1 imperial gallon = 4.546 09 L. The same factors, rounded, stand in NIST SP 811, Appendix B.

/// What a quantity measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs, reason = "each is its own word")]
pub enum Kind {
    Torque,
    Length,
    Volume,
    Temperature,
    Pressure,
    Force,
    Mass,
    Angle,
    Time,
    Share,
    Number,
}

impl Kind {
    /// All of them.
    pub const ALL: [Self; 11] = [
        Self::Torque,
        Self::Length,
        Self::Volume,
        Self::Temperature,
        Self::Pressure,
        Self::Force,
        Self::Mass,
        Self::Angle,
        Self::Time,
        Self::Share,
        Self::Number,
    ];

    /// The UCUM code of its own unit.
    pub fn unit(self) -> &'static str {
        self.words().1
    }

    /// In words, without an article.
    pub fn name(self) -> &'static str {
        self.words().0
    }

    pub(super) fn example(self) -> &'static str {
        self.words().2
    }

    /// A unit of this kind as people write it.
    pub(super) fn unit_example(self) -> &'static str {
        match self {
            Self::Number => "1",
            _ => shown_unit(self.unit()),
        }
    }

    fn words(self) -> (&'static str, &'static str, &'static str) {
        match self {
            Self::Torque => ("torque", "N.m", "95 N.m or 70 lbf.ft"),
            Self::Length => ("length", "mm", "0.05 mm or 3/8 in"),
            Self::Volume => ("volume", "L", "6.8 L or 500 mL"),
            Self::Temperature => ("temperature", "Cel", "-30 °C or -22 °F"),
            Self::Pressure => ("pressure", "kPa", "12.4 bar or 180 psi"),
            Self::Force => ("force", "N", "36 kN or 250 lbf"),
            Self::Mass => ("mass", "kg", "23 kg or 51 lb"),
            Self::Angle => ("angle", "deg", "90°"),
            Self::Time => ("time", "min", "45 min or 1.5 h"),
            Self::Share => ("share", "%", "50 %"),
            Self::Number => ("number", "1", "0.12"),
        }
    }
}

/// A unit.
#[derive(Debug)]
pub struct Unit {
    /// What it measures.
    pub kind: Kind,
    /// Its UCUM code.
    pub code: &'static str,
    over: f64,
    under: f64,
    offset: f64,
    /// Read as they stand: a capital letter makes another unit of them.
    exact: &'static [&'static str],
    /// Read with any capitals.
    loose: &'static [&'static str],
}

impl Unit {
    /// So many of this unit, in the kind's own one.
    pub fn to_own(&self, value: f64) -> f64 {
        (value - self.offset) * self.over / self.under
    }

    /// So many of the kind's own unit, in this one.
    pub fn out_of_own(&self, value: f64) -> f64 {
        value * self.under / self.over + self.offset
    }
}

/// What a spelling stands for.
pub enum Spelt {
    /// One unit.
    Known(&'static Unit),
    /// One of several; which ones, in words.
    TwoMeanings(&'static str),
    /// No unit of this kind.
    Nothing,
}

impl Spelt {
    /// The unit, where it is one.
    pub fn known(self) -> Option<&'static Unit> {
        match self {
            Self::Known(unit) => Some(unit),
            Self::TwoMeanings(_) | Self::Nothing => None,
        }
    }
}

/// The unit of a kind that is spelt so.
pub fn find(kind: Kind, text: &str) -> Spelt {
    let spelling = tidied(kind, text);
    let low = spelling.to_lowercase();
    for unit in UNITS.iter().filter(|unit| unit.kind == kind) {
        let exact = unit.code == spelling || unit.exact.contains(&spelling.as_str());
        if exact || unit.loose.contains(&low.as_str()) {
            return Spelt::Known(unit);
        }
    }
    TWO_MEANINGS
        .iter()
        .find(|(of, spellings, _)| *of == kind && spellings.contains(&low.as_str()))
        .map_or(Spelt::Nothing, |(_, _, why)| Spelt::TwoMeanings(why))
}

/// A value in one unit, in another of the same kind; nothing where a code is unknown or of another kind.
pub(crate) fn converted(value: f64, from: &str, into: &str) -> Option<f64> {
    let unit = |code: &str| UNITS.iter().find(|unit| unit.code == code);
    let (from, into) = (unit(from)?, unit(into)?);
    (from.kind == into.kind).then(|| into.out_of_own(from.to_own(value)))
}

/// What a unit measures, by its code.
pub(crate) fn kind_of(code: &str) -> Option<Kind> {
    UNITS.iter().find(|unit| unit.code == code).map(|unit| unit.kind)
}

/// UCUM codes that nobody writes on paper, and how people write them.
const SHOWN: &[(&str, &str)] = &[
    ("[lbf_av].[ft_i]", "lbf.ft"),
    ("[lbf_av].[in_i]", "lbf.in"),
    ("um", "µm"),
    ("um/mm", "µm/mm"),
    ("[in_i]", "in"),
    ("[ft_i]", "ft"),
    ("[mil_i]", "thou"),
    ("[mi_i]", "mi"),
    ("m3", "m³"),
    ("mm2", "mm²"),
    ("min2", "min²"),
    ("[gal_us]", "US gal"),
    ("[qt_us]", "US qt"),
    ("[pt_us]", "US pt"),
    ("[foz_us]", "US fl oz"),
    ("[gal_br]", "imp gal"),
    ("[qt_br]", "imp qt"),
    ("[pt_br]", "imp pt"),
    ("[foz_br]", "imp fl oz"),
    ("Cel", "°C"),
    ("[degF]", "°F"),
    ("[psi]", "psi"),
    ("[lbf_av]", "lbf"),
    ("[lb_av]", "lb"),
    ("[oz_av]", "oz"),
    ("deg", "°"),
    ("N/deg", "N/°"),
    ("circ", "turn"),
    ("1", ""),
];

/// A UCUM code as people write it: `[lbf_av].[ft_i]` is `lbf.ft`, `Cel` is `°C`, and a plain number has none.
pub fn shown_unit(code: &str) -> &str {
    SHOWN.iter().find(|(known, _)| *known == code).map_or(code, |(_, shown)| shown)
}

/// One way of writing what is written in many: raised dots, powers, the two letters for micro.
fn tidied(kind: Kind, text: &str) -> String {
    let mut tidy = String::with_capacity(text.len());
    for letter in text.trim().chars() {
        match letter {
            '·' | '⋅' | '∙' | '•' | '×' | '*' => tidy.push('.'),
            '²' => tidy.push('2'),
            '³' => tidy.push('3'),
            '^' => {}
            'µ' | 'μ' => tidy.push('u'),
            'º' | '˚' => tidy.push('°'),
            '′' | '’' => tidy.push('\''),
            '″' | '”' => tidy.push('"'),
            _ => tidy.push(letter),
        }
    }
    if kind == Torque {
        tidy = tidy.replace('-', ".");
    }
    tidy.split_whitespace().collect::<Vec<_>>().join(if kind == Torque { "." } else { " " })
}

use Kind::{Angle, Force, Length, Mass, Number, Pressure, Share, Temperature, Time, Torque, Volume};

const TWO_MEANINGS: &[(Kind, &[&str], &str)] = &[
    (
        Volume,
        &["gal", "gal.", "gallon", "gallons", "qt", "quart", "quarts", "pt", "pint", "pints", "floz", "fl oz", "fl.oz"],
        "the American and the imperial one differ by a fifth; say \"US gal\", \"imp gal\" and so on, or litres",
    ),
    (Pressure, &["mpa"], "MPa is a thousand million times mPa; write the capital letters"),
    (Torque, &["mn.m", "mnm"], "mN.m and MN.m differ by a thousand million; write N.m"),
    (Volume, &["ml"], "mL and ML differ by a thousand million; write mL"),
    (
        Time,
        &["d", "day", "days", "week", "weeks"],
        "a day of the clock and one of work are not as long; write the hours",
    ),
    (Temperature, &["°", "deg", "degree", "degrees"], "it does not say of which scale; write °C or °F"),
];

const fn unit(kind: Kind, code: &'static str, over: f64, under: f64) -> Unit {
    Unit { kind, code, over, under, offset: 0.0, exact: &[], loose: &[] }
}

const fn spelt(mut unit: Unit, exact: &'static [&'static str], loose: &'static [&'static str]) -> Unit {
    unit.exact = exact;
    unit.loose = loose;
    unit
}

const fn scale(code: &'static str, over: f64, under: f64, offset: f64) -> Unit {
    Unit { kind: Temperature, code, over, under, offset, exact: &[], loose: &[] }
}

static UNITS: &[Unit] = &[
    spelt(unit(Torque, "N.m", 1.0, 1.0), &[], &["nm", "n.m", "newton.metre", "newton.metres", "newton.meters"]),
    spelt(unit(Torque, "kN.m", 1e3, 1.0), &["kNm"], &[]),
    spelt(unit(Torque, "daN.m", 10.0, 1.0), &["daNm"], &[]),
    spelt(unit(Torque, "N.cm", 1.0, 100.0), &["Ncm"], &["ncm", "n.cm"]),
    spelt(
        unit(Torque, "[lbf_av].[ft_i]", 3_389_544_870_828_501.0, 2_500_000_000_000_000.0),
        &[],
        &[
            "lbf.ft",
            "lbfft",
            "ft.lbf",
            "ftlbf",
            "ft.lb",
            "ftlb",
            "ft.lbs",
            "ftlbs",
            "lb.ft",
            "lbft",
            "lbs.ft",
            "lbsft",
            "foot.pound",
            "foot.pounds",
            "pound.foot",
            "pound.feet",
            "pounds.feet",
        ],
    ),
    spelt(
        unit(Torque, "[lbf_av].[in_i]", 1_129_848_290_276_167.0, 10_000_000_000_000_000.0),
        &[],
        &[
            "lbf.in",
            "lbfin",
            "in.lbf",
            "inlbf",
            "in.lb",
            "inlb",
            "in.lbs",
            "inlbs",
            "lb.in",
            "lbin",
            "lbs.in",
            "inch.pound",
            "inch.pounds",
        ],
    ),
    spelt(
        unit(Torque, "kgf.m", 196_133.0, 20_000.0),
        &[],
        &["kgfm", "kg.m", "kgm", "m.kgf", "mkgf", "m.kg", "mkg", "kp.m", "kpm"],
    ),
    spelt(unit(Torque, "kgf.cm", 196_133.0, 2_000_000.0), &[], &["kgfcm", "kg.cm", "kgcm"]),
    spelt(unit(Length, "mm", 1.0, 1.0), &["MM"], &["millimetre", "millimetres", "millimeter", "millimeters"]),
    spelt(unit(Length, "cm", 10.0, 1.0), &["CM"], &["centimetre", "centimetres", "centimeter", "centimeters"]),
    spelt(unit(Length, "m", 1e3, 1.0), &[], &["metre", "metres", "meter", "meters"]),
    spelt(unit(Length, "km", 1e6, 1.0), &[], &["km", "kilometre", "kilometres", "kilometer", "kilometers"]),
    spelt(unit(Length, "um", 1.0, 1e3), &[], &["micron", "microns", "micrometre", "micrometres"]),
    spelt(unit(Length, "[in_i]", 127.0, 5.0), &[], &["in", "in.", "inch", "inches", "\"", "''"]),
    spelt(unit(Length, "[ft_i]", 1524.0, 5.0), &[], &["ft", "ft.", "foot", "feet", "'"]),
    spelt(unit(Length, "[mil_i]", 127.0, 5000.0), &[], &["thou", "mil", "mils"]),
    spelt(unit(Length, "[mi_i]", 1_609_344.0, 1.0), &[], &["mi", "mile", "miles"]),
    spelt(unit(Volume, "L", 1.0, 1.0), &["l", "ℓ"], &["litre", "litres", "liter", "liters", "ltr", "dm3"]),
    spelt(unit(Volume, "mL", 1.0, 1e3), &["ml"], &["cc", "ccm", "cm3", "millilitre", "millilitres", "milliliters"]),
    spelt(unit(Volume, "cL", 1.0, 100.0), &["cl"], &[]),
    spelt(unit(Volume, "dL", 1.0, 10.0), &["dl"], &[]),
    spelt(unit(Volume, "m3", 1e3, 1.0), &[], &["m3"]),
    spelt(
        unit(Volume, "[gal_us]", 473_176_473.0, 125_000_000.0),
        &[],
        &["us gal", "us gallon", "us gallons", "usgals", "usgallon", "usgallons", "gal us", "gal (us)", "usgal"],
    ),
    spelt(
        unit(Volume, "[qt_us]", 473_176_473.0, 500_000_000.0),
        &[],
        &["us qt", "us quart", "us quarts", "usqt", "usqts", "usquart", "usquarts", "qt us", "qt (us)"],
    ),
    spelt(
        unit(Volume, "[pt_us]", 473_176_473.0, 1e9),
        &[],
        &["us pt", "us pint", "us pints", "uspt", "uspts", "uspint", "uspints", "pt us", "pt (us)"],
    ),
    spelt(unit(Volume, "[foz_us]", 473_176_473.0, 16e9), &[], &["us fl oz", "us floz", "fl oz us", "fl oz (us)"]),
    spelt(
        unit(Volume, "[gal_br]", 454_609.0, 1e5),
        &[],
        &[
            "imp gal",
            "imp gallon",
            "imp gallons",
            "impgal",
            "impgals",
            "impgallon",
            "impgallons",
            "gal imp",
            "gal (imp)",
            "imp. gal",
            "uk gal",
            "uk gallon",
            "uk gallons",
            "ukgal",
            "gal uk",
            "gal (uk)",
        ],
    ),
    spelt(
        unit(Volume, "[qt_br]", 454_609.0, 4e5),
        &[],
        &[
            "imp qt",
            "imp quart",
            "imp quarts",
            "impqt",
            "impqts",
            "impquart",
            "impquarts",
            "qt imp",
            "qt (imp)",
            "uk qt",
            "uk quart",
            "uk quarts",
        ],
    ),
    spelt(
        unit(Volume, "[pt_br]", 454_609.0, 8e5),
        &[],
        &[
            "imp pt",
            "imp pint",
            "imp pints",
            "imppt",
            "imppts",
            "imppint",
            "imppints",
            "pt imp",
            "pt (imp)",
            "uk pt",
            "uk pint",
            "uk pints",
        ],
    ),
    spelt(
        unit(Volume, "[foz_br]", 454_609.0, 16e6),
        &[],
        &["imp fl oz", "imp floz", "fl oz imp", "fl oz (imp)", "uk fl oz", "uk floz"],
    ),
    spelt(
        scale("Cel", 1.0, 1.0, 0.0),
        &[],
        &["°c", "° c", "c", "degc", "deg c", "cel", "celsius", "degrees celsius", "℃"],
    ),
    spelt(
        scale("[degF]", 5.0, 9.0, 32.0),
        &[],
        &["°f", "° f", "f", "degf", "deg f", "fahrenheit", "degrees fahrenheit", "℉"],
    ),
    spelt(scale("K", 1.0, 1.0, 273.15), &[], &["kelvin"]),
    spelt(unit(Pressure, "kPa", 1.0, 1.0), &[], &["kpa"]),
    unit(Pressure, "Pa", 1.0, 1e3),
    spelt(unit(Pressure, "hPa", 1.0, 10.0), &[], &["hpa"]),
    spelt(unit(Pressure, "MPa", 1e3, 1.0), &["N/mm2"], &[]),
    spelt(unit(Pressure, "GPa", 1e6, 1.0), &[], &["gpa"]),
    spelt(unit(Pressure, "bar", 100.0, 1.0), &[], &["bar", "bars"]),
    unit(Pressure, "mbar", 1.0, 10.0),
    spelt(
        unit(Pressure, "[psi]", 8_896_443_230_521.0, 1_290_320_000_000.0),
        &[],
        &["psi", "lbf/in2", "lb/in2", "p.s.i."],
    ),
    spelt(unit(Pressure, "kgf/cm2", 196_133.0, 2_000.0), &[], &["kgf/cm2", "kg/cm2", "kp/cm2"]),
    spelt(unit(Pressure, "atm", 4053.0, 40.0), &[], &["atm"]),
    unit(Force, "N", 1.0, 1.0),
    spelt(unit(Force, "kN", 1e3, 1.0), &["KN"], &[]),
    unit(Force, "daN", 10.0, 1.0),
    spelt(unit(Force, "[lbf_av]", 44_482_216_152_605.0, 1e13), &[], &["lbf"]),
    spelt(unit(Force, "kgf", 196_133.0, 20_000.0), &[], &["kgf", "kp"]),
    spelt(unit(Mass, "kg", 1.0, 1.0), &[], &["kg", "kgs", "kilo", "kilos", "kilogram", "kilograms"]),
    spelt(unit(Mass, "g", 1.0, 1e3), &[], &["gram", "grams"]),
    spelt(unit(Mass, "t", 1e3, 1.0), &[], &["tonne", "tonnes"]),
    spelt(unit(Mass, "[lb_av]", 45_359_237.0, 1e8), &[], &["lb", "lb.", "lbs", "lbs.", "pound", "pounds"]),
    spelt(unit(Mass, "[oz_av]", 45_359_237.0, 16e8), &[], &["oz", "ounce", "ounces"]),
    // Where an angle is asked for, a number alone can be nothing but degrees.
    spelt(unit(Angle, "deg", 1.0, 1.0), &["°", ""], &["degree", "degrees"]),
    spelt(unit(Angle, "rad", 180.0, std::f64::consts::PI), &[], &["radian", "radians"]),
    spelt(unit(Angle, "circ", 360.0, 1.0), &[], &["turn", "turns"]),
    spelt(unit(Time, "min", 1.0, 1.0), &[], &["min.", "mins", "minute", "minutes"]),
    spelt(unit(Time, "h", 60.0, 1.0), &[], &["h.", "hr", "hrs", "hour", "hours"]),
    spelt(unit(Time, "s", 1.0, 60.0), &[], &["sec", "secs", "second", "seconds"]),
    spelt(unit(Share, "%", 1.0, 1.0), &[], &["percent", "per cent", "pct"]),
    spelt(unit(Number, "1", 1.0, 1.0), &[""], &[]),
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_spelling_stands_for_two_units_of_a_kind() {
        for kind in Kind::ALL {
            let mut seen = std::collections::BTreeMap::new();
            for unit in UNITS.iter().filter(|unit| unit.kind == kind) {
                for spelling in unit.exact.iter().chain(unit.loose).chain([&unit.code]) {
                    let before = seen.insert(spelling.to_lowercase(), unit.code);
                    let same = before.is_none_or(|before| before == unit.code);
                    assert!(same, "{spelling} is {before:?} and {}", unit.code);
                }
            }
        }
    }

    /// What is shown of a unit can be typed again, and then is that unit.
    #[test]
    fn a_unit_is_read_as_it_is_shown() {
        for unit in UNITS {
            let again = find(unit.kind, shown_unit(unit.code)).known();
            assert!(again.is_some_and(|again| again.code == unit.code), "{} is shown as no unit", unit.code);
        }
    }

    #[test]
    fn every_kind_has_its_own_unit_in_the_table() {
        for kind in Kind::ALL {
            let Spelt::Known(unit) = find(kind, kind.unit()) else { panic!("{} has no unit", kind.name()) };
            assert!((unit.to_own(7.0) - 7.0).abs() < 1e-15, "{} is not measured in {}", kind.name(), unit.code);
        }
    }
}
