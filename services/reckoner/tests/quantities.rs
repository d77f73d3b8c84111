//! Quantities as people type them. Factors: definitions of the units, compared with exact fractions that were made with pint
//! and agree with NIST SP 811 as quoted in public test code.

mod kit;

use kit::{near, num, read, refused, rows, value, whole};
use leadhand_reckoner::quantity::Conversion;
use leadhand_reckoner::{Amount, Kind, Refusal};
use proptest::prelude::*;

/// Columns of the table: kind, from, to, factor, exact fraction.
const FACTORS: &str = include_str!("vectors/unit_factors.csv");

fn ucum(name: &str) -> &str {
    match name {
        "lbf_ft" => "[lbf_av].[ft_i]",
        "lbf_in" => "[lbf_av].[in_i]",
        "N_m" => "N.m",
        "kgf_m" => "kgf.m",
        "kgf_cm" => "kgf.cm",
        "kgf_cm2" => "kgf/cm2",
        "psi" => "[psi]",
        "in" => "[in_i]",
        other => other,
    }
}

#[test]
fn factors_are_exact_to_the_last_digits_of_a_double() {
    for row in rows(FACTORS) {
        let amount = Amount::read_any("test", &format!("1 {}", ucum(row[1]))).expect("reads");
        let got = amount.in_unit("test", ucum(row[2])).expect("converts");
        near(row[1], got, num(row[3]), 3e-16);
        let (over, under) = row[4].split_once('/').expect("a fraction");
        near(row[1], got, num(over) / num(under), 3e-16);
    }
}

/// Definitions: US gallon 231 in³, imperial gallon 4.546 09 L, pound 0.453 592 37 kg, mile 1 609.344 m. The fixed points of
/// the two scales: from memory.
#[test]
fn what_people_type_is_what_they_meant() {
    for (kind, typed, own) in [
        (Kind::Torque, "95 Nm", 95.0),
        (Kind::Torque, "95 N·m", 95.0),
        (Kind::Torque, "95nm", 95.0),
        (Kind::Torque, "95 N-m", 95.0),
        (Kind::Torque, "70 lbf.ft", 94.907_256_383_198_02),
        (Kind::Torque, "70 ft-lb", 94.907_256_383_198_02),
        (Kind::Torque, "70 FT LBS", 94.907_256_383_198_02),
        (Kind::Torque, "10 kgf·m", 98.0665),
        (Kind::Torque, "1,5 kgm", 14.709_975),
        (Kind::Volume, "6.8 L", 6.8),
        (Kind::Volume, "6,8l", 6.8),
        (Kind::Volume, "500 ml", 0.5),
        (Kind::Volume, "500 cm³", 0.5),
        (Kind::Volume, "1 US gal", 3.785_411_784),
        (Kind::Volume, "1 imp gal", 4.546_09),
        (Kind::Temperature, "-30 °C", -30.0),
        (Kind::Temperature, "−30°C", -30.0),
        (Kind::Temperature, "-22 °F", -30.0),
        (Kind::Temperature, "-40F", -40.0),
        (Kind::Temperature, "273.15 K", 0.0),
        (Kind::Length, "0,05 mm", 0.05),
        (Kind::Length, "50 µm", 0.05),
        (Kind::Length, "50 μm", 0.05),
        (Kind::Length, "2 thou", 0.0508),
        (Kind::Length, "3/8 in", 9.525),
        (Kind::Length, "1 1/2\"", 38.1),
        (Kind::Length, "62 miles", 62.0 * 1_609_344.0),
        (Kind::Pressure, "12.4 bar", 1240.0),
        (Kind::Pressure, "180 psi", 1_241.056_312_770_305),
        (Kind::Pressure, "0.5 MPa", 500.0),
        (Kind::Mass, "51 lb", 23.133_210_87),
        (Kind::Force, "36.1 kN", 36_100.0),
        (Kind::Angle, "90°", 90.0),
        (Kind::Angle, "1/4 turn", 90.0),
        (Kind::Angle, "90deg", 90.0),
        (Kind::Angle, "90 degrees", 90.0),
        (Kind::Angle, "90", 90.0),
        (Kind::Time, "45min", 45.0),
        (Kind::Time, "1,5 h", 90.0),
        (Kind::Time, "90 s", 1.5),
        (Kind::Volume, "2impgal", 9.092_18),
        (Kind::Volume, "2 impgals", 9.092_18),
        (Kind::Volume, "4usqt", 3.785_411_784),
        (Kind::Share, "50%", 50.0),
        (Kind::Share, "0,050 %", 0.05),
        (Kind::Number, "0.12", 0.12),
        (Kind::Number, ".12", 0.12),
        (Kind::Length, "-.05mm", -0.05),
        (Kind::Length, ",05 mm", 0.05),
        (Kind::Volume, "2 UK gal", 9.092_18),
        (Kind::Volume, "1 uk pt", 0.568_261_25),
    ] {
        near(typed, read(kind, typed).value(), own, 1e-15);
        assert_eq!(read(kind, typed).typed(), typed, "what was typed is kept");
    }
}

#[test]
fn what_may_mean_two_things_or_nothing_is_refused_with_the_reason() {
    for (kind, typed, why) in [
        (Kind::Torque, "95", "its unit is missing"),
        (Kind::Torque, "95 L", "is a unit of volume"),
        (Kind::Torque, "95 furlongs", "nobody here knows"),
        (Kind::Torque, "5 mNm", "newton"),
        (Kind::Volume, "2 gal", "imperial"),
        (Kind::Volume, "2 pints", "imperial"),
        (Kind::Volume, "500 ML", "write mL"),
        (Kind::Pressure, "500 mPa", "capital"),
        (Kind::Pressure, "500 mpa", "capital"),
        (Kind::Temperature, "-30°", "which scale"),
        (Kind::Temperature, "-30", "its unit is missing"),
        (Kind::Length, "5 nm", "unit of torque"),
        (Kind::Length, "5 Mm", "nobody here knows"),
        (Kind::Force, "1,500 N", "thousands or for decimals"),
        (Kind::Force, "1,500,000 N", "marks between thousands"),
        (Kind::Force, "1.500,00 N", "marks between thousands"),
        (Kind::Force, "1 500 N", "space inside the number"),
        (Kind::Length, "1 3/2 in", "fraction below one"),
        (Kind::Length, "1/0 in", "no nought"),
        (Kind::Length, "1/ in", "under its line"),
        (Kind::Length, "5. mm", "behind a decimal point"),
        (Kind::Length, ". mm", "does not begin with a number"),
        (Kind::Length, ",500 mm", "thousands or for decimals"),
        (Kind::Length, "--5 mm", "does not begin with a number"),
        (Kind::Length, "1e3 mm", "nobody here knows"),
        (Kind::Length, "NaN mm", "does not begin with a number"),
        (Kind::Length, "inf mm", "does not begin with a number"),
        (Kind::Length, "٣ mm", "does not begin with a number"),
        (Kind::Length, "123456789012345678901 mm", "more digits"),
        (Kind::Length, "", "nothing was typed"),
        (Kind::Length, "   ", "nothing was typed"),
        (Kind::Length, "mm", "does not begin with a number"),
        (Kind::Length, "5 mm mm", "nobody here knows"),
        (Kind::Temperature, "-300 °C", "what is possible"),
        (Kind::Number, "3 %", "unit of share"),
        (Kind::Number, "90 deg", "unit of angle"),
        (Kind::Length, "90", "its unit is missing"),
        (Kind::Time, "45", "its unit is missing"),
        (Kind::Time, "3 days", "write the hours"),
        (Kind::Volume, "2gal", "imperial"),
    ] {
        let refusal = Amount::read(kind, "the field", typed).expect_err(typed).to_string();
        // The reason about newtons is told by the sentence on milli and mega.
        let why = if why == "newton" { "write N.m" } else { why };
        assert!(refusal.contains(why), "{typed:?}: {refusal}");
        assert!(refusal.starts_with("the field"), "{refusal}");
    }
    // What was left out is no text that can't be read.
    let missing = Amount::read(Kind::Number, "friction.thread", "").expect_err("nothing").to_string();
    assert!(missing.starts_with("friction in the thread: nothing was typed; write it like "), "{missing}");
    let long = "9".repeat(10_000);
    let refusal = Amount::read(Kind::Length, "f", &long).expect_err("too long").to_string();
    assert!(refusal.len() < 300, "a refusal is a sentence, however long the text: {refusal}");
}

#[test]
fn a_kind_is_found_by_its_unit_alone_where_that_says_it() {
    for (typed, kind) in
        [("90°", Kind::Angle), ("70 lbf.ft", Kind::Torque), ("12 bar", Kind::Pressure), ("3", Kind::Number)]
    {
        assert_eq!(Amount::read_any("f", typed).expect(typed).kind(), kind, "{typed}");
    }
    for typed in ["5 nm", "2 gal", "5 parsec"] {
        assert!(matches!(Amount::read_any("f", typed), Err(Refusal::Unit { .. })), "{typed}");
    }
}

/// What is unclear in a unit is told as that, and never as a number that is none.
#[test]
fn an_example_is_of_what_was_meant() {
    let told = |text: &str| Amount::read_any("amount", text).expect_err(text).to_string();
    let quart = told("1qt");
    assert!(quart.contains("is no clear volume") && quart.ends_with("1 US qt, 1 imp qt or 1 L"), "{quart}");
    assert!(told("5 parsec").contains("is no quantity: nobody here knows the unit \"parsec\""));
    let far = |text: &str| Amount::read_distance("fitted_at", text).expect_err(text).to_string();
    assert!(far("48210").ends_with("its unit is missing; write it like 48210 km or 30000 mi"), "{}", far("48210"));
    assert!(far("").ends_with("write it like 48210 km or 30000 mi"));
    near("km", Amount::read_distance("fitted_at", "48210 km").expect("reads").value(), 48_210e6, 1e-15);
}

/// So many to one, and a step of a scale: 9 degrees Fahrenheit are 5 Celsius, by definition of the scales.
#[test]
fn a_ratio_and_a_difference_are_read_as_people_type_them() {
    for (typed, ratio) in [("10:1", 10.0), ("10,5 : 1", 10.5), ("10 to 1", 10.0), ("10", 10.0)] {
        let read = Amount::read_ratio("ratio", typed).unwrap_or_else(|refusal| panic!("{refusal}"));
        near(typed, read.value(), ratio, 1e-15);
        assert_eq!(read.typed(), typed);
    }
    for typed in ["1:10", "10:2", "10:", ":1", "10:1:1", "ten to 1", "10 kg", ""] {
        let refusal = Amount::read_ratio("ratio", typed).expect_err(typed);
        assert_eq!(refusal.field(), Some("ratio"), "{typed}: {refusal}");
    }
    for (typed, degrees) in [("5K", 5.0), ("5 °C", 5.0), ("9 °F", 5.0), ("5", 5.0), ("2,5C", 2.5), ("0K", 0.0)] {
        let read = Amount::read_degrees("margin", typed).unwrap_or_else(|refusal| panic!("{refusal}"));
        near(typed, read.value(), degrees, 1e-12);
        assert_eq!(read.kind(), Kind::Number);
    }
    for typed in ["5°", "5 %", "5 L", "K", ""] {
        let refusal = Amount::read_degrees("margin", typed).expect_err(typed);
        assert_eq!(refusal.field(), Some("margin"), "{typed}: {refusal}");
    }
}

#[test]
fn an_amount_is_told_in_the_units_that_people_write() {
    for (kind, value, told) in [
        (Kind::Temperature, -30.0, "-30 °C"),
        (Kind::Angle, 90.0, "90°"),
        (Kind::Pressure, 205e6, "205 GPa"),
        (Kind::Pressure, 1240.0, "1240 kPa"),
        (Kind::Length, 48_210e6, "48210 km"),
        (Kind::Number, 0.12, "0.12"),
        (Kind::Share, 50.0, "50 %"),
    ] {
        assert_eq!(Amount::of(kind, value).to_string(), told);
        near(told, read(kind, told).value(), value, 1e-12);
    }
}

#[test]
fn a_conversion_is_an_answer_like_any_other() {
    let conversion = Conversion { amount: read(Kind::Torque, "70 lbf.ft"), into: "Nm".to_owned() };
    let answer = conversion.reckon().expect("converts");
    whole(&answer);
    assert_eq!(answer.figure("converted").expect("there").to_string(), "94.9073 N.m");
    assert_eq!(answer.inputs[0].typed, "70 lbf.ft");
    near("back", value(&answer, "converted") / 1.355_817_948_331_400_4, 70.0, 1e-15);
    let conversion = Conversion { amount: read(Kind::Torque, "70 lbf.ft"), into: "bar".to_owned() };
    refused(
        conversion.reckon(),
        "WRONG_UNIT",
        "it is a unit of pressure, and 70 lbf.ft is a torque; write it like N.m",
    );
    // What is wrong is the other unit; and pounds of torque have a name.
    let conversion = Conversion { amount: read(Kind::Mass, "95 lb"), into: "Nm".to_owned() };
    refused(
        conversion.reckon(),
        "WRONG_UNIT",
        "into: \"Nm\" is no unit for that: it is a unit of torque, and 95 lb is a mass",
    );
    refused(conversion.reckon(), "WRONG_UNIT", "a torque in pounds is lbf.ft");
    let nobody = Conversion { amount: read(Kind::Mass, "95 lb"), into: "stone".to_owned() };
    refused(nobody.reckon(), "WRONG_UNIT", "has no unit \"stone\"");
    let conversion = Conversion { amount: Amount::of(Kind::Torque, f64::NAN), into: "Nm".to_owned() };
    refused(conversion.reckon(), "UNREADABLE", "finite");
}

const SPELLINGS: &[(Kind, &[&str])] = &[
    (Kind::Torque, &["N.m", "kN.m", "lbf.ft", "lbf.in", "kgf.m", "kgf.cm"]),
    (Kind::Length, &["mm", "m", "km", "um", "in", "ft", "thou", "mi"]),
    (Kind::Volume, &["L", "mL", "US gal", "US qt", "imp gal", "imp pt", "US fl oz"]),
    (Kind::Temperature, &["°C", "°F", "K"]),
    (Kind::Pressure, &["kPa", "MPa", "bar", "psi", "kgf/cm2", "atm"]),
    (Kind::Force, &["N", "kN", "lbf", "kgf"]),
    (Kind::Mass, &["kg", "g", "lb", "oz", "t"]),
    (Kind::Angle, &["deg", "rad", "turn"]),
    (Kind::Time, &["min", "h", "s"]),
];

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    /// Whatever is typed, it is read or refused; and what is read means the same when its own unit is written out.
    #[test]
    fn no_text_breaks_the_reader(text in "\\PC*") {
        for kind in Kind::ALL {
            if let Ok(amount) = Amount::read(kind, "f", &text) {
                prop_assert_eq!(amount.kind(), kind);
                prop_assert!(amount.value().is_finite());
            }
        }
        let _ = Amount::read_any("f", &text);
        for other in [Amount::read_ratio, Amount::read_degrees, Amount::read_time] {
            prop_assert!(other("f", &text).is_ok_and(|amount| amount.value().is_finite()) || other("f", &text).is_err());
        }
    }

    /// Texts that are nearly ratios and steps.
    #[test]
    fn no_near_ratio_breaks_the_reader(text in "[-+]?[0-9.,]{0,6} ?(:|to|K|°C|°F|min|h)? ?[0-9:]{0,3}") {
        for other in [Amount::read_ratio, Amount::read_degrees, Amount::read_time] {
            if let Ok(amount) = other("f", &text) {
                prop_assert!(amount.value().is_finite());
                prop_assert_eq!(amount.typed(), text.trim());
            }
        }
    }

    /// Texts that are nearly quantities.
    #[test]
    fn no_near_quantity_breaks_the_reader(text in "[-+−–]?[0-9 .,/]{0,8}[a-zA-Z°µ%.·²³() \"'/-]{0,8}") {
        for kind in Kind::ALL {
            if let Ok(amount) = Amount::read(kind, "f", &text) {
                prop_assert!(amount.value().is_finite());
                // Signs and digits alone decide the size: a minus stays a minus, but on a scale with another nought.
                let minus = text.trim_start().starts_with(['-', '−', '–']);
                prop_assert!(kind == Kind::Temperature || amount.value() == 0.0 || minus == (amount.value() < 0.0));
            }
        }
    }

    #[test]
    fn every_unit_goes_there_and_back(row in 0..SPELLINGS.len(), unit in 0usize..8, value in 1i32..1_000_000) {
        let (kind, units) = SPELLINGS[row];
        let unit = units[unit % units.len()];
        let typed = format!("{}.{:03} {unit}", value / 1000, value % 1000);
        let amount = Amount::read(kind, "f", &typed).expect("reads");
        let back = amount.in_unit("f", unit).expect("converts");
        let should = f64::from(value) / 1000.0;
        prop_assert!((back - should).abs() <= 1e-12 * should.max(300.0), "{typed} came back as {back}");
    }

    /// The comma and the point are the same wherever the comma can't stand for thousands.
    #[test]
    fn a_comma_is_a_point(whole in 0u32..100_000, part in 0u32..100) {
        let point = Amount::read(Kind::Length, "f", &format!("{whole}.{part:02} mm")).expect("reads");
        let comma = Amount::read(Kind::Length, "f", &format!("{whole},{part:02} mm")).expect("reads");
        prop_assert_eq!(point.value().to_bits(), comma.value().to_bits());
    }
}
