//! An item says another strength after a fill was reckoned with its first word: who says it, who pours it in and who hands the
//! vehicle over are told. Shop and items are invented; half of 8.2 L is 4.1 L of pure concentrate: arithmetic.

use crate::reckoner_fill::{drained, fills, item, plain, reserve, said};
use crate::shop::Shop;
use leadhand_proto::v1;
use leadhand_sdk::new_write;

async fn lines(shop: &Shop, job: i64) -> Vec<String> {
    let found = shop.lead.check_hand_over(v1::CheckHandOverRequest { job }).await.unwrap().lines;
    found.into_iter().map(|line| format!("{}: {}", line.line, line.text)).collect()
}

async fn fluid_is(shop: &Shop, strength: &str) -> String {
    plain(&said(shop, 0, &["item", "fluid", "walk-a", "coolant", "--strength", strength]).await.1)
}

async fn mixed(shop: &Shop, job: i64) -> String {
    let sheet = shop.lead.get_hand_over_sheet(v1::GetHandOverSheetRequest { job }).await.unwrap();
    sheet.fluids[0].mixed.clone()
}

#[tokio::test(flavor = "multi_thread")]
async fn another_strength_is_told_where_the_first_was_reckoned_with() {
    let shop = Shop::open().await;
    item(&shop, "walk-a", 9_000).await;
    assert!(!fluid_is(&shop, "100%").await.contains("goes by"), "nothing goes by it yet");
    let job = drained(&shop).await;
    reserve(&shop, job, "walk-a", "50%", &[]).await;
    let number = job.to_string();
    let told = fluid_is(&shop, "50%").await;
    for part in
        ["step 1 of stage 'fill' of job 1 goes by what 'walk-a' said before", "reckon fill --job 1 --reserve walk-a"]
    {
        assert!(told.contains(part), "{part}: {told}");
    }
    let page = plain(&said(&shop, 0, &["job", "show", &number, "--steps"]).await.0);
    for part in ["WARNING before step 1", "reckoned with 100 % from walk-a", "it is coolant of 50 %"] {
        assert!(page.contains(part), "{part}: {page}");
    }
    shop.assign(job, "floor-1").await.unwrap();
    said(&shop, 0, &["stage", "start", &number, "fill"]).await;
    said(&shop, 0, &["fluid", "in", &number, "coolant", "6.1L"]).await;
    let (_, aside) = said(&shop, 0, &["step", "done", &number, "fill", "1"]).await;
    assert!(plain(&aside).contains("is ticked and went by what 'walk-a' said before"), "{aside}");
    assert!(
        lines(&shop, job).await.iter().any(|line| line.starts_with("fill-otherwise:walk-a")),
        "a lead answers for it"
    );
    assert_eq!(mixed(&shop, job).await, "", "nobody knows what it came to");
    // It was a slip: the first word again ends all of it, also of what is done.
    fluid_is(&shop, "100%").await;
    assert!(!lines(&shop, job).await.iter().any(|line| line.starts_with("fill-otherwise")));
    assert!(mixed(&shop, job).await.starts_with("50 % by volume"));
    fluid_is(&shop, "60%").await;
    let open = lines(&shop, job).await;
    assert!(open.iter().any(|line| line.starts_with("fill-otherwise:walk-a")), "{open:?}");
    shop.verified().await;
}

/// A job that was reckoned anew goes by the new word: 50 % of what stands on the shelf at 50 % is 6.1 L of it, less what is in.
#[tokio::test(flavor = "multi_thread")]
async fn reckoned_anew_nothing_is_left_of_the_first_word() {
    let shop = Shop::open().await;
    item(&shop, "walk-a", 9_000).await;
    fluid_is(&shop, "100%").await;
    let job = drained(&shop).await;
    reserve(&shop, job, "walk-a", "30%", &[]).await;
    fluid_is(&shop, "50%").await;
    // 30 % of 8.2 L are 2.46 L, which 4.92 L of 50 % have in them: arithmetic.
    reserve(&shop, job, "walk-a", "30%", &[]).await;
    let [step] = &fills(&shop, job).await[..] else { panic!("one step says it") };
    assert!(step.fill.as_ref().unwrap().recipe.starts_with("4.92 L at 50 %"), "{step:?}");
    assert!(!step.cautions.iter().any(|caution| caution.text.contains("said of that since")), "{:?}", step.cautions);
    shop.verified().await;
}

/// 6.1 L and half a litre; and 1.5 L out of an item that is kept in whole litres.
#[tokio::test(flavor = "multi_thread")]
async fn totals_and_whole_litres_are_told() {
    let shop = Shop::open().await;
    let job = drained(&shop).await.to_string();
    let (_, aside) = said(&shop, 0, &["fluid", "out", &job, "coolant", "0.5L", "--unlisted"]).await;
    assert!(plain(&aside).contains("with what was said before, 6.6 L of 'coolant' came out in all"), "{aside}");
    said(&shop, 0, &["item", "add", "can", "--unit", "L", "--fluid", "coolant", "--strength", "100%"]).await;
    let delivery = v1::ReceiveStockRequest {
        write: Some(new_write()),
        item: "can".into(),
        place: "bin-d1".into(),
        quantity: 9,
        expires_on: String::new(),
    };
    shop.lead.receive_stock(delivery).await.unwrap();
    let line = ["reckon", "--brief", "fill", "--job", &job, "--capacity", "6.6L", "--left", "0L", "--target", "25%"];
    let (_, aside) = said(&shop, 0, &[&line[..], &["--reserve", "can", "--stage", "fill"]].concat()).await;
    assert!(
        plain(&aside).contains("2 L of 'can' are set aside where 1.65 L go in: the item is kept in whole litres"),
        "{aside}"
    );
    shop.verified().await;
}
