//! What pages are told so that a person in the shop need know neither keys nor commands.

use crate::shop::Shop;
use leadhand_proto::v1;
use leadhand_sdk::new_write;

#[tokio::test(flavor = "multi_thread")]
async fn what_is_held_up_is_told_by_the_title_of_its_stage() {
    let shop = Shop::open().await;
    let job = shop.blank_job(&["one", "two", "three", "four", "five"]).await;
    let asked = v1::AddStageRequest {
        write: Some(new_write()),
        job,
        stage: "prepare".into(),
        title: "Prepare the head".into(),
        after_last: true,
        ..Default::default()
    };
    shop.lead.add_stage(asked).await.unwrap();
    let (write, cause) = (Some(new_write()), v1::Cause::Tool.into());
    let asked = v1::RaiseBlockerRequest { write, job, stage: "prepare".into(), cause, ..Default::default() };
    shop.lead.raise_blocker(asked).await.unwrap();
    let board = shop.lead.get_board(v1::GetBoardRequest {}).await.unwrap();
    let card = &board.outside[0];
    assert!(card.active.iter().chain(&card.next).all(|stage| stage.stage != "prepare"), "the board does not know it");
    let held = &card.blockers[0];
    assert_eq!((held.stage.as_str(), held.stage_title.as_str()), ("prepare", "Prepare the head"));
    assert_eq!(shop.whole_job(job).await.blockers[0].stage_title, "Prepare the head");
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_a_person_may_do_after_signing_in_is_told_to_all_but_viewers() {
    use v1::Role::{Lead, Parts, Technician, Unspecified, Viewer};
    let shop = Shop::open().await;
    let mut flint = shop.technician("Flint", &["engine"]).await;
    shop.technician("Moss", &[]).await;
    let persons = async |who: &leadhand_sdk::Client| who.get_shop(v1::GetShopRequest {}).await.unwrap().persons;
    let all = persons(&shop.lead).await;
    let id = |name: &str| all.iter().find(|one| one.name == name).unwrap().person.clone();
    let pin = |name: &str, role: v1::Role, pin: &str| v1::SetPinRequest {
        write: Some(new_write()),
        person: id(name),
        role: role.into(),
        pin: pin.into(),
    };
    shop.lead.set_pin(pin("Flint", Technician, "6194027")).await.unwrap();
    shop.lead.set_pin(pin("Wren", Lead, "5820417")).await.unwrap();
    let role = |all: &[v1::Person], name: &str| all.iter().find(|one| one.name == name).unwrap().role();
    for who in [&shop.lead, &flint, &shop.token(Parts, "parts room").await] {
        let told = persons(who).await;
        assert_eq!((role(&told, "Flint"), role(&told, "Wren"), role(&told, "Moss")), (Technician, Lead, Unspecified));
    }
    let told = persons(&shop.token(Viewer, "wall").await).await;
    assert!(told.iter().all(|one| one.role() == Unspecified), "a screen on a wall is told of nobody: {told:?}");
    let write = Some(new_write());
    let withdrawn = v1::WithdrawProofRequest { write, person: id("Flint"), proof: v1::ProofKind::Pin.into() };
    shop.lead.withdraw_proof(withdrawn).await.unwrap();
    flint = shop.lead.clone();
    assert_eq!(role(&persons(&flint).await, "Flint"), Unspecified);
    shop.verified().await;
}

/// The demo's templates name the kinds of bay; a wait before the work needs none.
#[tokio::test(flavor = "multi_thread")]
async fn a_template_says_in_which_bays_its_work_can_begin() {
    use v1::BayKind::{FourPostLift, Pit, TwoPostLift};
    let shop = Shop::open().await;
    let first = async |template: &str| {
        let asked = v1::GetTemplateRequest { template: template.into(), revision: 0 };
        let mut kinds: Vec<v1::BayKind> = shop.lead.get_template(asked).await.unwrap().first_bays().collect();
        kinds.sort();
        kinds
    };
    assert_eq!(first("coolant-service").await, [TwoPostLift, FourPostLift, Pit]);
    assert_eq!(first("front-brakes").await, [], "its first stage is done anywhere");
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_to_be_done_before_a_hand_over_is_told_apart_from_its_commands() {
    let shop = Shop::open().await;
    let job = shop.job("coolant-service", "green estate").await;
    let lines = shop.lead.check_hand_over(v1::CheckHandOverRequest { job }).await.unwrap().lines;
    assert!(lines.len() > 3, "{lines:?}");
    for line in lines {
        assert!(!line.advice.is_empty() && !line.advice.contains('`'), "{line:?}");
        assert!(line.todo.starts_with(&line.advice), "{line:?}");
        assert!(line.commands.iter().all(|one| line.todo.contains(&format!("`{one}`"))), "{line:?}");
    }
}
