//! Coolant: freezing points from two data sets, filling, draining and refilling, growing, and packs.

mod kit;

use kit::{near, num, read, refused, rows, shown, value, whole};
use leadhand_reckoner::coolant::{
    Basis, DrainAndRefill, Draw, Expansion, Fill, FreezingPoint, Pack, Swap, Target, freezes_by_mass,
    freezes_by_volume, volume_strength_for,
};
use leadhand_reckoner::{Amount, Kind};
use proptest::prelude::*;

fn litres(value: f64) -> Amount {
    Amount::of(Kind::Volume, value)
}

fn percent(value: f64) -> Amount {
    Amount::of(Kind::Share, value)
}

fn celsius(value: f64) -> Amount {
    Amount::of(Kind::Temperature, value)
}

/// CoolProp 8.0.0: MEG (Melinder, by mass) and AEG (ASHRAE, by volume).
#[test]
fn freezing_points_are_those_of_the_data_sets() {
    for row in rows(include_str!("vectors/coolant_freeze.csv")) {
        let share = num(row[0]);
        let off = (freezes_by_mass(share).expect("covered") - num(row[1])).abs();
        assert!(off < 6e-4, "{share} % by mass is off by {off}");
        match freezes_by_volume(share) {
            Some(got) => near("by volume", got, num(row[4]), 2e-4),
            None => assert!(row[4].is_empty() && share < 10.0, "{share} % is in the data"),
        }
    }
    for row in rows(include_str!("vectors/coolant_more.csv")) {
        let of = if row[0] == "mass" { freezes_by_mass } else { freezes_by_volume };
        let off = (of(num(row[1])).expect("covered") - num(row[3])).abs();
        // Pure water is 0 here, and 0.0003 by the fit.
        assert!(off < if num(row[1]) == 0.0 { 3e-4 } else { 1e-7 }, "{row:?} is off by {off}");
    }
}

#[test]
fn a_strength_for_a_freezing_point_is_found_in_the_data_and_nowhere_else() {
    for row in rows(include_str!("vectors/coolant_needed.csv")) {
        let got = volume_strength_for(num(row[0])).expect("covered");
        assert!((got - num(row[2])).abs() < 6e-4, "{row:?}: {got}");
    }
    for outside in [-3.0, 0.0, -53.0, -100.0, f64::NAN] {
        assert!(volume_strength_for(outside).is_none(), "{outside}");
    }
}

/// A widely copied table has 50 % at -33.2 °C, which is another glycol: that figure would be 4 degrees off here.
#[test]
fn the_freezing_point_names_its_data_set_and_shows_the_other() {
    let answer = FreezingPoint { strength: read(Kind::Share, "50 %"), basis: Basis::Volume }.reckon().expect("reckons");
    whole(&answer);
    near("freezes", value(&answer, "freezes"), -37.115, 2e-5);
    assert_eq!(shown(&answer, "freezes"), "-37 Cel", "rounded to the warmer side");
    near("the other", value(&answer, "other_data"), -39.848, 1e-4);
    near("by mass", value(&answer, "other_basis"), 52.73, 1e-4);
    assert!(answer.sources[0].name.contains("ASHRAE") && answer.sources[0].name.contains("volume"));
    let answer = FreezingPoint { strength: percent(50.0), basis: Basis::Mass }.reckon().expect("reckons");
    near("freezes", value(&answer, "freezes"), -35.994, 2e-5);
    near("by volume", value(&answer, "other_basis"), 47.27, 1e-4);
    assert!(answer.sources[0].name.contains("Melinder") && answer.sources[0].name.contains("mass"));
    let water = FreezingPoint { strength: percent(0.0), basis: Basis::Mass }.reckon().expect("reckons");
    assert_eq!(shown(&water, "freezes"), "0 Cel");
    let of = |basis, share: &str| FreezingPoint { strength: read(Kind::Share, share), basis }.reckon();
    refused(of(Basis::Volume, "5 %"), "OUT_OF_RANGE", "outside of 10 % to 60 %");
    refused(of(Basis::Volume, "70 %"), "OUT_OF_RANGE", "outside of 10 % to 60 %");
    refused(of(Basis::Mass, "60.5 %"), "OUT_OF_RANGE", "outside of 0 % to 60 %");
}

fn fill(cells: [f64; 5]) -> Fill {
    Fill {
        capacity: litres(cells[0]),
        left: litres(cells[1]),
        left_strength: Some(percent(cells[2] * 100.0)),
        target: Target::Strength(percent(cells[3] * 100.0)),
        poured_strength: Some(percent(cells[4] * 100.0)),
    }
}

/// Balance of glycol over ideal volumes.
#[test]
fn what_is_poured_in_brings_all_of_it_to_the_strength() {
    for row in rows(include_str!("vectors/coolant_concentrate.csv")) {
        let answer = fill([0, 1, 2, 3, 4].map(|cell| num(row[cell]))).reckon();
        if row[8] == "unreachable" {
            refused(answer, "IMPOSSIBLE", &format!("comes to {:.1} %", num(row[7]) * 100.0));
            continue;
        }
        let answer = answer.expect("reckons");
        whole(&answer);
        near("add", value(&answer, "add"), num(row[5]), 1e-6);
        near("water", value(&answer, "water"), num(row[6]), 1e-6);
        near("strongest", value(&answer, "strongest"), num(row[7]) * 100.0, 1e-5);
    }
}

#[test]
fn a_refused_fill_says_how_far_to_drain() {
    // 7 L, 4 L of water left, 50 % wanted: 3.5 L may be left.
    refused(fill([7.0, 4.0, 0.0, 0.5, 1.0]).reckon(), "IMPOSSIBLE", "until 3.50 L or less is left");
    near("then", value(&fill([7.0, 3.5, 0.0, 0.5, 1.0]).reckon().expect("reckons"), "water"), 0.0, 1e-9);
    // Premix as strong as the target reaches it only in an empty system.
    refused(fill([7.0, 2.5, 0.0, 0.5, 0.5]).reckon(), "IMPOSSIBLE", "stronger than the target");
    // Too strong already: 7 L, 5 L left at 60 %, 30 % wanted: 3.5 L may be left.
    refused(fill([7.0, 5.0, 0.6, 0.3, 1.0]).reckon(), "IMPOSSIBLE", "until 3.50 L or less is left");
    near("then", value(&fill([7.0, 3.5, 0.6, 0.3, 1.0]).reckon().expect("reckons"), "add"), 0.0, 1e-9);
}

#[test]
fn a_freezing_point_may_be_the_target_with_a_margin() {
    let asked = |degrees: &str, margin: Option<f64>| Fill {
        capacity: read(Kind::Volume, "6.8 L"),
        left: read(Kind::Volume, "0 L"),
        left_strength: None,
        target: Target::FreezingPoint {
            celsius: read(Kind::Temperature, degrees),
            margin_c: margin.map(|margin| Amount::of(Kind::Number, margin)),
        },
        poured_strength: None,
    };
    let answer = asked("-30 °C", None).reckon().expect("reckons");
    whole(&answer);
    near("strength", value(&answer, "strength"), 44.556, 2e-5);
    near("add", value(&answer, "add"), 6.8 * 0.445_56, 2e-5);
    near("freezes", value(&answer, "freezes"), -30.0, 1e-9);
    let margin = asked("-30 °C", Some(3.0)).reckon().expect("reckons");
    near("with margin", value(&margin, "freezes"), -33.0, 1e-9);
    assert!(answer.cautions.iter().any(|caution| caution.text.contains("Never open a hot system")));
    refused(asked("-60 °C", None).reckon(), "OUT_OF_RANGE", "-52 °C to -4 °C");
    refused(asked("-50 °C", Some(5.0)).reckon(), "OUT_OF_RANGE", "5 degrees of margin");
    refused(asked("-2 °C", None).reckon(), "OUT_OF_RANGE", "target");
    let weak = asked("-10 °C", None).reckon().expect("reckons");
    assert!(weak.cautions.iter().any(|caution| caution.text.contains("40 to 60 %")), "ASTM D3306, from copies");
    assert!(!answer.cautions.iter().any(|caution| caution.text.contains("Concentrates are made for")));
}

#[test]
fn a_fill_of_nonsense_is_refused_with_its_field() {
    let asked = || fill([7.0, 2.5, 0.0, 0.5, 1.0]);
    refused(Fill { capacity: litres(0.0), ..asked() }.reckon(), "OUT_OF_RANGE", "capacity");
    refused(Fill { capacity: litres(f64::INFINITY), ..asked() }.reckon(), "UNREADABLE", "capacity");
    refused(Fill { left: litres(8.0), ..asked() }.reckon(), "OUT_OF_RANGE", "this system");
    refused(Fill { left: litres(-1.0), ..asked() }.reckon(), "OUT_OF_RANGE", "left");
    refused(Fill { left: Amount::of(Kind::Mass, 2.0), ..asked() }.reckon(), "WRONG_UNIT", "it is a mass");
    refused(Fill { poured_strength: Some(percent(0.0)), ..asked() }.reckon(), "OUT_OF_RANGE", "water alone");
    refused(Fill { target: Target::Strength(percent(70.0)), ..asked() }.reckon(), "OUT_OF_RANGE", "target");
    refused(Fill { left_strength: Some(percent(130.0)), ..asked() }.reckon(), "OUT_OF_RANGE", "left strength");
}

fn refill(cells: [f64; 4], target: f64, tolerance: f64) -> DrainAndRefill {
    DrainAndRefill {
        capacity: litres(cells[0]),
        drained: litres(cells[1]),
        now: percent(cells[2] * 100.0),
        filled: percent(cells[3] * 100.0),
        target: percent(target),
        tolerance: Some(percent(tolerance)),
    }
}

#[test]
fn draining_and_refilling_comes_nearer_each_round() {
    for row in rows(include_str!("vectors/coolant_drain_fill.csv")) {
        let (rounds, strength) = (num(row[4]), num(row[5]) * 100.0);
        // Asked for what the table has after so many rounds.
        let asked = refill([0, 1, 2, 3].map(|cell| num(row[cell])), strength, 0.1);
        let answer = asked.reckon().expect("reckons");
        whole(&answer);
        near("rounds", value(&answer, "rounds"), rounds, 0.0);
        near("strength", value(&answer, "strength"), strength, 1e-6);
        near("old share", value(&answer, "old_share"), num(row[6]) * 100.0, 1e-6);
        near("fluid", value(&answer, "fluid"), rounds * num(row[1]), 1e-12);
    }
    // 30 % to within 1 % of 50 %: three rounds, 42.86, 47.45, 49.09.
    let answer = refill([7.0, 4.5, 0.3, 0.5], 50.0, 1.0).reckon().expect("reckons");
    assert_eq!(answer.list("strengths").expect("list").join("; "), "0: 30.0 %; 1: 42.9 %; 2: 47.4 %; 3: 49.1 %");
    refused(refill([7.0, 4.5, 0.3, 0.45], 50.0, 1.0).reckon(), "IMPOSSIBLE", "ends at 45 %");
    refused(refill([7.0, 4.5, 0.3, 0.6], 36.0, 0.5).reckon(), "IMPOSSIBLE", "steps over");
    refused(refill([7.0, 0.08, 0.3, 0.5], 50.0, 1.0).reckon(), "IMPOSSIBLE", "after 20 rounds");
    refused(refill([7.0, 7.5, 0.3, 0.5], 50.0, 1.0).reckon(), "OUT_OF_RANGE", "drained");
    let all = refill([7.0, 7.0, 0.3, 0.5], 50.0, 1.0).reckon().expect("reckons");
    near("all at once", value(&all, "rounds"), 1.0, 0.0);
}

#[test]
fn a_swap_says_how_much_in_one_go() {
    for row in rows(include_str!("vectors/coolant_swap.csv")) {
        let asked = Swap {
            capacity: litres(num(row[0])),
            now: percent(num(row[1]) * 100.0),
            target: percent(num(row[2]) * 100.0),
            filled: Some(percent(num(row[3]) * 100.0)),
        };
        let answer = asked.reckon().expect("reckons");
        whole(&answer);
        near("swap", value(&answer, "swap"), num(row[4]), 1e-6);
    }
    let asked = |now, target, filled| Swap {
        capacity: litres(7.0),
        now: percent(now),
        target: percent(target),
        filled: Some(percent(filled)),
    };
    refused(asked(30.0, 50.0, 45.0).reckon(), "IMPOSSIBLE", "stronger");
    refused(asked(50.0, 30.0, 60.0).reckon(), "IMPOSSIBLE", "weaker");
    near("nothing", value(&asked(50.0, 50.0, 50.0).reckon().expect("reckons"), "swap"), 0.0, 0.0);
}

/// CoolProp 8.0.0: densities of AEG.
#[test]
fn coolant_grows_as_its_density_falls() {
    for row in rows(include_str!("vectors/coolant_expansion.csv")) {
        let asked = Expansion {
            volume: litres(7.0),
            strength: percent(num(row[0])),
            cold: celsius(num(row[1])),
            hot: celsius(num(row[2])),
        };
        let answer = asked.reckon().expect("reckons");
        whole(&answer);
        near("growth", value(&answer, "growth"), num(row[5]) * 100.0, 2e-4);
        near("more", value(&answer, "more"), num(row[6]), 3e-4);
    }
    let asked = |strength, cold, hot| {
        Expansion { volume: litres(7.0), strength: percent(strength), cold: celsius(cold), hot: celsius(hot) }.reckon()
    };
    refused(asked(50.0, 20.0, 101.0), "OUT_OF_RANGE", "hot");
    refused(asked(30.0, -20.0, 90.0), "OUT_OF_RANGE", "cold");
    refused(asked(60.0, -36.0, 90.0), "OUT_OF_RANGE", "cold");
    refused(asked(5.0, 20.0, 90.0), "OUT_OF_RANGE", "strength");
    refused(asked(50.0, 90.0, 20.0), "CONTRADICTION", "exchange");
}

fn draw(needed: &str, packs: &[(&str, Option<u32>)]) -> Draw {
    let packs = packs.iter().map(|(size, on_hand)| Pack { size: read(Kind::Volume, size), on_hand: *on_hand });
    Draw { needed: read(Kind::Volume, needed), packs: packs.collect() }
}

#[test]
fn packs_are_drawn_so_that_least_is_left_over() {
    let answer = draw("3.5 L", &[("5 L", None), ("1 L", None)]).reckon().expect("reckons");
    whole(&answer);
    assert_eq!(answer.list("packs").expect("packs"), ["4 × 1 L"]);
    near("left over", value(&answer, "left_over"), 0.5, 1e-9);
    let answer = draw("3.5 L", &[("5 L", None), ("1 L", Some(3))]).reckon().expect("reckons");
    assert_eq!(answer.list("packs").expect("packs"), ["1 × 5 L"]);
    let answer = draw("10 L", &[("1 L", None), ("5 L", None)]).reckon().expect("reckons");
    assert_eq!(answer.list("packs").expect("packs"), ["2 × 5 L"], "the fewest of what leaves as little");
    let answer = draw("6 L", &[("4 L", Some(1)), ("3 L", None), ("1 L", Some(1))]).reckon().expect("reckons");
    assert_eq!(answer.list("packs").expect("packs"), ["2 × 3 L"]);
    assert!(draw("0 L", &[("1 L", None)]).reckon().expect("reckons").list("packs").expect("packs").is_empty());
    refused(draw("9 L", &[("5 L", Some(1)), ("1 L", Some(3))]).reckon(), "IMPOSSIBLE", "less than 9.00 L");
    refused(draw("9 L", &[]).reckon(), "CONTRADICTION", "0 sizes");
    refused(draw("900 L", &[("1 L", None), ("1.001 L", None)]).reckon(), "CONTRADICTION", "say how many packs");
    refused(draw("9 L", &[("1 mL", None)]).reckon(), "OUT_OF_RANGE", "size of the 1st pack");
}

/// Four US quarts are a US gallon, by definition (231 in³): no quart more for what rounding makes of them.
#[test]
fn american_packs_are_drawn_like_any_others() {
    let packs = |needed: &str, packs: &[(&str, Option<u32>)]| {
        let answer = draw(needed, packs).reckon().expect("reckons");
        (answer.list("packs").expect("packs").join(", "), value(&answer, "left_over"))
    };
    // 6.8 L: 5 L and 2 quarts are 6.893 L, 2 × 5 L and 8 quarts are more.
    assert_eq!(packs("6.8 L", &[("5 L", Some(2)), ("1 US qt", None)]).0, "1 × 5 L, 2 × 1 US qt");
    // A gallon and 4 quarts are 7.571 L, 8 quarts as much and more packs; 7 quarts are 6.624 L and too little.
    let (told, over) = packs("6.8 L", &[("1 US gal", None), ("1 US qt", None)]);
    assert_eq!(told, "2 × 1 US gal");
    near("over", over, 2.0 * 3.785_411_784 - 6.8, 1e-6);
    let (told, over) = packs("2 US gal", &[("1 US gal", Some(1)), ("1 US qt", Some(6))]);
    assert_eq!(told, "1 × 1 US gal, 4 × 1 US qt");
    assert!(over < 1e-5, "nothing is left over: {over}");
    // 6 of 0.946 L and 2 of 1 L are 7.676 L; 7 × 1 L are 7 L; 3 × 0.946 and 4 × 1 L are 6.838 L.
    assert_eq!(packs("6.8 L", &[("946 mL", None), ("1 L", None)]).0, "3 × 0.946 L, 4 × 1 L");
}

/// What the tank has to hold is rounded up, and the answer says so.
#[test]
fn a_figure_that_is_rounded_up_says_so() {
    let [volume, strength] = [read(Kind::Volume, "6.8 L"), read(Kind::Share, "50 %")];
    let [cold, hot] = ["15 °C", "95 °C"].map(|text| read(Kind::Temperature, text));
    let answer = Expansion { volume, strength, cold, hot }.reckon().expect("reckons");
    assert_eq!(shown(&answer, "more"), "0.33 L");
    near("in full", value(&answer, "more"), 0.3208, 1e-3);
    assert!(answer.formula.contains("rounded up"), "{}", answer.formula);
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    /// What is poured together has the target's strength, by a count of the glycol alone.
    #[test]
    fn a_fill_has_the_glycol_that_it_should(capacity in 2.0..20.0f64, left in 0.0..0.6f64, had in 0.0..0.6f64, target in 0.1..0.6f64, poured in 0.4..1.0f64) {
        let asked = fill([capacity, left * capacity, had, target, poured]);
        if let Ok(answer) = asked.reckon() {
            let (add, water) = (value(&answer, "add"), value(&answer, "water"));
            prop_assert!(add >= 0.0 && water >= -1e-9);
            prop_assert!((add + water + left * capacity - capacity).abs() < 1e-9);
            prop_assert!((add * poured + left * capacity * had - target * capacity).abs() < 1e-9);
        } else {
            let strongest = left * had + (1.0 - left) * poured;
            let weakest = left * had;
            prop_assert!(target > strongest - 1e-9 || target < weakest + 1e-9, "it could be reached");
        }
    }

    /// Stronger freezes colder, in both data sets, and the inverse comes back.
    #[test]
    fn stronger_freezes_colder(weak in 10.0..59.0f64, more in 0.01..1.0f64) {
        prop_assert!(freezes_by_volume(weak + more).expect("covered") < freezes_by_volume(weak).expect("covered"));
        prop_assert!(freezes_by_mass(weak + more).expect("covered") < freezes_by_mass(weak).expect("covered"));
        let back = volume_strength_for(freezes_by_volume(weak).expect("covered")).expect("covered");
        prop_assert!((back - weak).abs() < 1e-9);
    }

    /// No choice of packs that suffices has less left over, nor as little with fewer packs.
    #[test]
    fn no_other_choice_of_packs_is_better(need in 1u32..15, a in 1u32..6, b in 1u32..6, has_a in 0u32..5, has_b in 0u32..5) {
        let (one, other) = (format!("{a} L"), format!("{b} L"));
        let asked = draw(&format!("{need} L"), &[(&one, Some(has_a)), (&other, Some(has_b))]);
        let all = (0..=has_a).flat_map(|m| (0..=has_b).map(move |n| (m * a + n * b, m + n)));
        let best = all.filter(|(sum, _)| *sum >= need).min();
        match (asked.reckon(), best) {
            (Ok(answer), Some((sum, count))) => {
                prop_assert!((value(&answer, "drawn") - f64::from(sum)).abs() < 1e-9);
                let drawn: u32 = answer.list("packs").expect("packs").iter()
                    .map(|entry| entry.split(' ').next().expect("count").parse::<u32>().expect("a number")).sum();
                prop_assert_eq!(drawn, count);
            }
            (Err(_), None) => {}
            (got, best) => prop_assert!(false, "{:?} but {:?}", got, best),
        }
    }
}
