//! Shared tools over the wire: lent to a bay, asked for by another, handed on in one command, taken back; and the second
//! lock in the database. The rules are the project's own.

use crate::shop::{Shop, reason, start};
use leadhand_proto::v1;
use leadhand_sdk::{Client, SdkError, new_write};

const TEMPLATE: &str = r#"
key = "belt"
title = "Camshaft belt"

[[stage]]
key = "lock"
title = "Lock and release"
minutes = [10, 20, 40]

[[stage.step]]
do = "Lock the camshafts"
shared-tools = ["cam-lock-20"]
"#;

fn tool() -> v1::Tool {
    let (tool, name, what) = ("cam-lock-20".into(), "Camshaft lock".into(), "20 mm".into());
    v1::Tool { tool, name, what, calibration_due: "2020-01-31".into() }
}

fn lend(bay: &str, hand_on: bool) -> v1::LendToolRequest {
    let (tool, bay) = ("cam-lock-20".into(), bay.to_owned());
    v1::LendToolRequest { write: Some(new_write()), tool, bay, hand_on, ..Default::default() }
}

async fn listed(who: &Client) -> v1::ToolLine {
    who.list_tools(v1::ListToolsRequest::default()).await.unwrap().tools.remove(0)
}

async fn publish(shop: &Shop) -> Result<v1::PublishTemplateResponse, SdkError> {
    shop.lead.publish_template(v1::PublishTemplateRequest { write: Some(new_write()), source: TEMPLATE.into() }).await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_tool_goes_from_bay_to_bay_and_the_other_one_waits() {
    let shop = Shop::open().await;
    assert_eq!(reason(publish(&shop).await), "TEMPLATE_FAULTS");
    let check = v1::CheckTemplateRequest { source: TEMPLATE.into() };
    let faults = shop.lead.check_template(check.clone()).await.unwrap().faults;
    assert_eq!((faults.len(), faults[0].line, faults[0].column), (1, 12, 17), "{faults:?}");
    shop.lead.add_tool(v1::AddToolRequest { write: Some(new_write()), tool: Some(tool()) }).await.unwrap();
    assert!(shop.lead.check_template(check).await.unwrap().faults.is_empty());
    // What a template only calls like a shared tool is told where it stands, by key and by name.
    for (words, told) in [("cam-lock-20", 1), ("camshaft lock", 1), ("another lock", 0)] {
        let source = TEMPLATE.replace("shared-tools = [\"cam-lock-20\"]", &format!("tools = [\"{words}\"]"));
        assert_ne!(source, TEMPLATE);
        let checked = shop.lead.check_template(v1::CheckTemplateRequest { source }).await.unwrap();
        assert_eq!((checked.faults.len(), checked.notes.len()), (0, told), "{words}: {:?}", checked.notes);
        for note in checked.notes {
            assert_eq!(note.line, 12, "{note:?}");
            assert!(note.message.contains("the shop's shared tool 'cam-lock-20'"), "{note:?}");
        }
    }
    publish(&shop).await.unwrap();
    let flint = shop.technician("Flint", &[]).await;
    let (one, two) = (shop.job("belt", "van").await, shop.job("belt", "coupe").await);
    shop.assign(one, "lift-1").await.unwrap();
    shop.assign(two, "floor-1").await.unwrap();

    let first = flint.lend_tool(lend("lift-1", false)).await.unwrap().receipt.unwrap();
    assert_eq!(first.notices.iter().map(|notice| notice.code.as_str()).collect::<Vec<_>>(), ["OUT_OF_CALIBRATION"]);
    let line = listed(&flint).await;
    let loan = line.loan.unwrap();
    assert_eq!((loan.job, loan.bay.as_str(), line.out_of_calibration), (one, "lift-1", true));
    let told = start(&flint, two, "lock").await.unwrap().receipt.unwrap();
    assert!(told.notices.iter().any(|notice| notice.code == "TOOL_ELSEWHERE" && notice.text.contains("job 1 has")));
    let held = shop.whole_job(two).await.blockers;
    assert_eq!((held.len(), held[0].tool.as_str(), held[0].cause()), (1, "cam-lock-20", v1::Cause::Tool));
    let board = shop.lead.get_board(v1::GetBoardRequest {}).await.unwrap();
    let shown =
        board.bays.iter().flat_map(|bay| &bay.job).flat_map(|job| &job.blockers).any(|one| one.tool == "cam-lock-20");
    assert!(shown, "the board says what the bay waits for");
    assert_eq!(reason(flint.lend_tool(lend("floor-1", false)).await), "TOOL_OUT");

    let handed = lend("floor-1", true);
    let number = flint.lend_tool(handed.clone()).await.unwrap().receipt.unwrap().number;
    let again = flint.lend_tool(handed).await.unwrap().receipt.unwrap();
    assert_eq!((again.number, again.repeated), (number, true), "a repeat takes effect once");
    assert!(shop.whole_job(two).await.blockers.iter().all(|blocker| blocker.cleared_at.is_some()));
    let back = v1::ReopenLoanRequest { write: Some(new_write()), tool: tool().tool, reason: "it stayed there".into() };
    flint.reopen_loan(back).await.unwrap();
    assert!(listed(&flint).await.loan.is_none());
    // A person who has it is named, and the time is told as people say times.
    let (tool_key, bay, person) = (tool().tool, String::new(), "Flint".to_owned());
    let to_person = v1::LendToolRequest { tool: tool_key, bay, person, ..lend("", false) };
    flint.lend_tool(to_person).await.unwrap();
    let refused = flint.lend_tool(lend("floor-1", false)).await.unwrap_err();
    assert!(refused.message.contains("has been with Flint since 20") && !refused.message.contains('.'), "{refused}");
    let back = v1::ReturnToolRequest { write: Some(new_write()), tool: tool().tool };
    flint.return_tool(back).await.unwrap();
    let late = v1::ReturnToolRequest { write: Some(new_write()), tool: tool().tool };
    assert_eq!(reason(flint.return_tool(late).await), "TOOL_NOT_OUT");
    shop.verified().await;
}
