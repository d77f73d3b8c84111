//! Templates: faults at their places, lists in pages, what a revision tells.

use crate::shop::Shop;
use leadhand_proto::v1;
use leadhand_sdk::{Code, new_write};

/// Line and column of the first occurrence, both from 1; columns count characters.
fn place(source: &str, needle: &str) -> (i32, i32) {
    let before = &source[..source.find(needle).unwrap_or_else(|| panic!("there is no {needle}"))];
    let line = before.matches('\n').count() + 1;
    let column = before.chars().rev().take_while(|c| *c != '\n').count() + 1;
    (i32::try_from(line).unwrap(), i32::try_from(column).unwrap())
}

const FAULTY: &str = r#"key = "demo"
title = "ضبط الصمامات"

[[stage]]
key = "a"
title = "A"
minutes = [30, 20, 40]

[[stage]]
key = "b"
title = "B"
minutes = [1, 2, 3]
bays = ["two-post-lift", "hover-lift"]
after = ["nowhere"]

[[stage.step]]
do = "Turn it"
needs = [{ item = "no such", quantity = 1 }]
caution = [{ word = "BEWARE", text = "It turns." }]
"#;

#[tokio::test(flavor = "multi_thread")]
async fn every_fault_has_its_line_and_column() {
    let shop = Shop::open().await;
    let before = shop.head().await;
    let checked = shop.lead.check_template(v1::CheckTemplateRequest { source: FAULTY.into() }).await.unwrap();
    let found: Vec<(i32, i32)> = checked.faults.iter().map(|fault| (fault.line, fault.column)).collect();
    for needle in ["[30, 20, 40]", "\"hover-lift\"", "\"nowhere\"", "\"no such\"", "\"BEWARE\""] {
        assert!(
            found.contains(&place(FAULTY, needle)),
            "{needle} at {:?}: {:?}",
            place(FAULTY, needle),
            checked.faults
        );
    }
    assert!(found.is_sorted(), "faults come in the order of the file: {found:?}");
    assert!(checked.network.is_none(), "what has faults has no network");
    // Published, the same faults come with the refusal, and nothing is kept.
    let asked = v1::PublishTemplateRequest { write: Some(new_write()), source: FAULTY.into() };
    let refused = shop.lead.publish_template(asked).await.unwrap_err();
    let told: Vec<String> = refused.fields.iter().map(|fault| fault.field.clone()).collect();
    let expected: Vec<String> =
        found.iter().map(|(line, column)| format!("source: line {line} column {column}")).collect();
    assert_eq!((refused.code, told), (Code::InvalidArgument, expected));
    assert_eq!(shop.head().await, before);
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn templates_are_listed_by_key_and_shown_with_their_network() {
    let shop = Shop::open().await;
    let (mut keys, mut page_token) = (Vec::new(), String::new());
    loop {
        let asked = v1::ListTemplatesRequest { page_size: 1, page_token };
        let page = shop.elsewhere.list_templates(asked).await.unwrap();
        assert!(page.templates.len() <= 1);
        keys.extend(page.templates.into_iter().map(|found| (found.template, found.revision)));
        page_token = page.next_page_token;
        if page_token.is_empty() {
            break;
        }
    }
    assert_eq!(keys, ["coolant-service", "front-brakes", "head-gasket-20"].map(|key| (key.to_owned(), 1)));
    let asked = v1::GetTemplateRequest { template: "coolant-service".into(), revision: 0 };
    let shown = shop.lead.get_template(asked).await.unwrap();
    let options: Vec<(&str, bool)> =
        shown.options.iter().map(|option| (option.option.as_str(), option.on_by_default)).collect();
    assert_eq!(options, [("thermostat", false), ("hoses", false)], "in the order of the file");
    // By hand, (low + 4 likely + high) / 6 a stage, all in one row: 65 + 26 2/3 + 42 1/2 + 33 1/3 + 47 1/2.
    let network = shown.network.unwrap();
    assert_eq!(network.critical_path, ["cool", "drain", "flush", "fill", "prove"]);
    assert!((network.elapsed_minutes - 215.0).abs() < 1e-9, "{}", network.elapsed_minutes);
    assert!(network.stages.iter().all(|stage| stage.slack.abs() < 1e-9));
    // What is shown is what was published: it has no fault and is the same when published again.
    let checked = shop.lead.check_template(v1::CheckTemplateRequest { source: shown.source.clone() }).await.unwrap();
    assert_eq!((checked.faults, checked.stages), (Vec::new(), shown.summary.unwrap().stages));
    for (template, revision) in [("coolant-service", 2), ("no-such", 0)] {
        let asked = v1::GetTemplateRequest { template: template.into(), revision };
        assert_eq!(shop.lead.get_template(asked).await.unwrap_err().code, Code::NotFound, "{template} {revision}");
    }
    shop.verified().await;
}
