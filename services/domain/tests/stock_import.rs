//! Opening stock from CSV (RFC 4180): every row or none, every bad row told at once.

mod stock_kit;

use leadhand_domain::answer::Made;
use leadhand_domain::command::*;
use leadhand_domain::refusal::{BadRow, Refusal};
use std::fmt::Write;
use stock_kit::*;

const HEADER: &str = "item,name,unit,place,quantity,expires_on\n";

fn shop() -> Shop {
    Shop::open("Europe/Lisbon", "2026-03-02T08:00:00Z")
}

fn import(rows: &str) -> ImportStock {
    ImportStock { csv: format!("{HEADER}{rows}") }
}

fn bad(refusal: Refusal) -> Vec<BadRow> {
    match refusal {
        Refusal::BadRows { rows } => rows,
        other => panic!("{other:?}"),
    }
}

#[test]
fn items_bins_and_lots_come_to_be_from_rows() {
    let mut shop = shop();
    let job = shop.item("known");
    let csv = "\u{feff}item,name,unit,place,quantity,expires_on\r\n\
               gasket,\"Gasket, head\",1,bin-a,4,\r\n\
               gasket,\"Gasket, head\",1,bin-b,2,2026-03-02\r\n\
               coolant, Kühlmittel ,mL,bin-a,20000,2027-01-31\r\n\
               known,Item known,1,,0,\r\n";
    let answer = shop.must(ImportStock { csv: csv.into() });
    assert_eq!(answer.made, Made::Imported { rows: 4, items: 2, places: 2 });
    assert_eq!(shop.hold("gasket", "bin-a"), (4, 0, 0));
    assert_eq!(shop.hold("coolant", "bin-a"), (20_000, 0, 0));
    assert_eq!(shop.state.items.get(&("coolant".into(),)).unwrap().name, "Kühlmittel");
    assert_eq!(shop.state.items.get(&("gasket".into(),)).unwrap().name, "Gasket, head");
    assert!(shop.state.items.get(&(job,)).is_some());
}

#[test]
fn the_same_file_again_changes_nothing() {
    let mut shop = shop();
    let rows = "gasket,Gasket,1,bin-a,4,\nseal,Seal,1,bin-a,0,\n";
    shop.must(import(rows));
    let faults = bad(shop.refused(import(rows)));
    assert_eq!(faults.len(), 1, "what is listed and never moved may come again: {faults:?}");
    assert_eq!((faults[0].line, faults[0].column.as_str()), (2, "item"));
    assert!(faults[0].message.contains("has stock already"), "{}", faults[0].message);
    shop.must(import("seal,Seal,1,bin-a,3,\n"));
    assert_eq!(shop.hold("seal", "bin-a"), (3, 0, 0));
}

#[test]
fn opening_stock_covers_what_is_short_already() {
    let mut shop = shop();
    shop.item("gasket");
    let job = shop.job(2, &[("fit", &[("gasket", 3)])]);
    shop.reserve(job);
    let answer = shop.must(import("gasket,Item gasket,1,bin-a,4,\n"));
    assert_eq!((covered(&answer), shop.blockers(job)), (vec![(job, 3)], 0));
}

#[test]
fn every_bad_row_is_told_with_line_and_column() {
    let mut shop = shop();
    shop.item("known");
    let rows = [
        ("two words,Name,1,bin-a,1,", "item"),
        ("b,,1,bin-a,1,", "name"),
        ("c,Name,pint,bin-a,1,", "unit"),
        ("d,Name,1,supplier,1,", "place"),
        ("e,Name,1,job-4,1,", "place"),
        ("f,Name,1,,1,", "place"),
        ("g,Name,1,bin-a,-1,", "quantity"),
        ("h,Name,1,bin-a,1.5,", "quantity"),
        ("i,Name,1,bin-a,1000000000001,", "quantity"),
        ("j,Name,1,bin-a,1,2026-02-30", "expires_on"),
        ("k,Name,1,bin-a,1,2026-03-01", "expires_on"),
        ("l,Na\u{7}me,1,bin-a,1,", "name"),
        ("m,Name,1,bin-a,1", ""),
        ("n,Name,1,bin-a,1,,", ""),
        ("known,Item known,g,bin-a,1,", "unit"),
        ("known,Another,1,bin-b,1,", "name"),
        ("fine,Name,1,bin-a,1,", "-"),
        ("fine,Other,1,bin-b,1,", "name"),
        ("fine,Name,g,bin-c,1,", "unit"),
        ("fine,Name,1,bin-a,2,", ""),
    ];
    let text: String = rows.iter().flat_map(|(row, _)| [*row, "\n"]).collect();
    let faults = bad(shop.refused(import(&text)));
    for (at, (row, column)) in rows.iter().enumerate() {
        let told: Vec<&str> = faults.iter().filter(|bad| bad.line == at + 2).map(|bad| bad.column.as_str()).collect();
        if *column == "-" {
            assert!(told.is_empty(), "{row}: {told:?}");
        } else {
            assert!(told.contains(column), "{row}: {told:?}");
        }
    }
    assert!(faults.is_sorted_by_key(|bad| bad.line), "in the order of the file");
    assert_eq!(shop.state.places.iter().filter(|place| place.place.as_str().starts_with("bin")).count(), 0);
}

#[test]
fn a_file_without_form_is_refused_as_a_whole() {
    let mut shop = shop();
    for (csv, reason) in [("", "BAD_ROWS"), ("item;name;unit\n", "BAD_ROWS"), (HEADER, "INVALID_FIELD")] {
        let refusal = shop.refused(ImportStock { csv: csv.into() });
        assert_eq!((refusal.reason(), refusal.field()), (reason, Some("csv")), "{csv:?}: {refusal}");
    }
    let long = "x,X,1,bin-a,1,\n".repeat(20_001);
    assert_eq!(shop.refused(import(&long)).reason(), "INVALID_FIELD");
    let large = "x".repeat(4 * 1024 * 1024 + 1);
    assert_eq!(shop.refused(ImportStock { csv: large }).reason(), "INVALID_FIELD");
}

/// As many rows as an import may have, and again: the repeat looks at few items and is refused.
#[test]
fn twenty_thousand_rows_are_taken_over() {
    let mut shop = shop();
    shop.audited = false;
    let mut rows = String::new();
    for n in 0..20_000 {
        writeln!(rows, "item-{:05},Item {:05},1,bin-{:03},{},", n / 2, n / 2, n % 500, 1 + n % 7).unwrap();
    }
    let answer = shop.must(import(&rows));
    assert_eq!(answer.made, Made::Imported { rows: 20_000, items: 10_000, places: 500 });
    assert_eq!(shop.facts.len(), 10_000 + 500 + 2 * 20_000);
    let on_hand: i64 = shop.state.holds.iter().map(|hold| hold.on_hand.0).sum();
    assert_eq!(on_hand, (0..20_000).map(|n| 1 + n % 7).sum::<i64>());
    let faults = bad(shop.refused(import(&rows)));
    assert!((200..1_000).contains(&faults.len()), "{} items were looked at", faults.len());
    assert!(faults.last().unwrap().message.contains("were not looked at"));
}

/// Which fluid, and how strong by volume: 49.5 % is 49.5 millionths of a million.
#[test]
fn a_file_may_say_which_items_are_fluids() {
    let mut shop = shop();
    let file = |columns: &str, rows: &str| ImportStock { csv: format!("{},{columns}\n{rows}", HEADER.trim_end()) };
    let fluid =
        |shop: &Shop, item: &str| shop.state.items.get(&(item.into(),)).unwrap().fluid.map(|own| own.to_string());
    shop.must(file(
        "fluid,strength",
        "conc,Concentrate,mL,bin-a,4000,,coolant,100%\nmix,Mixed,mL,bin-a,4000,,coolant,49.5 %\n\
         mix,Mixed,mL,bin-b,500,,coolant,49.5\noil,Oil,mL,bin-a,1,,oil,\nseal,Seal,1,bin-a,4,,,\n",
    ));
    let said = ["conc", "mix", "oil", "seal"].map(|item| fluid(&shop, item));
    assert_eq!(
        said.each_ref().map(Option::as_deref),
        [Some("pure coolant concentrate"), Some("coolant of 49.5 %"), Some("oil"), None]
    );
    shop.must(file("fluid", "screen,Screen wash,L,bin-a,5,,screen-wash\n"));
    assert_eq!(fluid(&shop, "screen").as_deref(), Some("screen wash"));
    for (rows, column, why) in [
        ("a,A,mL,bin-a,1,,lemonade,\n", "fluid", "'lemonade' is no fluid; use one of coolant"),
        ("a,A,mL,bin-a,1,,,50%\n", "strength", "a strength is of a fluid"),
        ("a,A,mL,bin-a,1,,oil,50%\n", "strength", "it is of a coolant"),
        ("a,A,mL,bin-a,1,,coolant,101%\n", "strength", "'101%' is no strength"),
        ("a,A,mL,bin-a,1,,coolant,half\n", "strength", "'half' is no strength"),
        ("a,A,mL,bin-a,1,,coolant,50%\na,A,mL,bin-b,1,,coolant,100%\n", "fluid", "another fluid or strength in line 2"),
        ("a,A,mL,bin-a,1,,coolant\n", "", "it has 7 fields and 8 are asked for"),
        ("oil,Oil,mL,bin-b,0,,fuel,\n", "fluid", "'oil' is listed as oil"),
    ] {
        let faults = bad(shop.refused(file("fluid,strength", rows)));
        let found = faults.iter().find(|fault| fault.column == column && fault.message.contains(why));
        assert!(found.is_some(), "{rows}: {faults:?}");
    }
    let faults = bad(shop.refused(ImportStock { csv: "item,name,unit,place,quantity,expires_on,strength\n".into() }));
    assert!(faults[0].message.contains("and behind these fluid,strength"), "{faults:?}");
}
