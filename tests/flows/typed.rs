//! What the command line says of what was typed: fields by their options, files by their names, and what is missing.

use crate::reckoner_fill::{plain, said};
use crate::shop::Shop;

#[tokio::test(flavor = "multi_thread")]
async fn a_refusal_names_the_option_that_was_typed() {
    let shop = Shop::open().await;
    let (_, aside) = said(&shop, 1, &["shop", "yard", "set", "--places", "100000"]).await;
    assert!(aside.starts_with("leadhand: --places: "), "{aside}");
    let (_, aside) = said(&shop, 1, &["shop", "yard", "set", "--moving", "100000"]).await;
    assert!(aside.starts_with("leadhand: --moving: "), "{aside}");
    said(&shop, 0, &["shop", "yard", "set", "--moving", "5"]).await;
    let (_, aside) = said(&shop, 2, &["shop", "yard", "set"]).await;
    assert!(aside.contains("--places <PLACES>|--moving <MINUTES>"), "{aside}");
    let (_, aside) = said(&shop, 1, &["item", "add", "conc", "--fluid", "coolant", "--strength", "200%"]).await;
    assert!(aside.contains("--strength: "), "{aside}");
}

/// 60 N.m at 250 N are 240 mm: arithmetic.
#[tokio::test(flavor = "multi_thread")]
async fn a_spanner_is_reckoned_by_what_is_known_of_it() {
    let shop = Shop::open().await;
    let (data, _) = said(&shop, 0, &["reckon", "spanner", "60Nm", "--most", "250N"]).await;
    assert!(data.contains("Least length: 240 mm") && !data.contains("Force at its end:"), "{data}");
    let (_, aside) = said(&shop, 2, &["reckon", "spanner", "60Nm"]).await;
    assert!(aside.contains("--length <LENGTH>|--most <FORCE>"), "{aside}");
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_not_there_is_named() {
    let shop = Shop::open().await;
    let (_, aside) = said(&shop, 3, &["plan", "accept", "--file", "nowhere.plan"]).await;
    assert!(aside.contains("there is no file nowhere.plan"), "{aside}");
    let job = shop.job("head-gasket-20", "silver coupe").await.to_string();
    for (kind, how) in [("leak-down", ["--heard", "1=tailpipe"]), ("compression", ["--banks", "2,2"])] {
        let (_, aside) = said(&shop, 1, &[&["reckon", kind, "--job", &job], &how[..]].concat()).await;
        let aside = plain(&aside);
        assert!(
            aside.contains(&format!("has no {kind} that was taken")) && aside.contains("reading record"),
            "{aside}"
        );
    }
    let (data, _) = said(&shop, 0, &["plan", "what-if", "--without", &job]).await;
    assert!(data.starts_with("no job would be ready at another time"), "{data}");
}
