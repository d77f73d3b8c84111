//! Commands that are committed together: what one of them brings upon itself, the others do not
//! notice; and each is judged where it stands in the queue.

use crate::{Shop, receive, replica};
use futures::future::{Either, join_all};
use leadhand_app::access::Principal;
use leadhand_app::{App, AppError, Outcome, Write};
use leadhand_domain::answer::Made;
use leadhand_domain::command::{AddItem, Command, RevokeToken};
use leadhand_facts::words::Role;
use leadhand_facts::{ItemKey, Quantity, Unit};
use sqlx::{Executor, PgConnection};
use std::pin::pin;

type Answers = Vec<Result<Outcome, AppError>>;
type Expected = fn(&AppError) -> bool;

/// Sends commands so that they stand in the queue together, in this order: another transaction
/// holds the shop while a first command waits for it and the others line up behind that one.
pub async fn together(shop: &Shop, sent: Vec<(Principal, Write, Command)>) -> Answers {
    let mut holder = shop.database.superuser().await.unwrap();
    holder.execute("BEGIN; SELECT number FROM head FOR UPDATE").await.unwrap();
    let mut first = pin!(shop.app.execute(&shop.lead, shop.write(), receive(1)));
    assert!(futures::poll!(&mut first).is_pending());
    until_somebody_waits(&mut shop.database.superuser().await.unwrap()).await;
    let sent = sent
        .into_iter()
        .map(|(who, write, command)| async move { shop.app.execute(&who, write.clone(), command).await });
    let mut sent = pin!(join_all(sent));
    // What is polled once is queued.
    assert!(futures::poll!(&mut sent).is_pending());
    holder.execute("ROLLBACK").await.unwrap();
    let (_, answers) = futures::join!(first, sent);
    answers
}

async fn until_somebody_waits(looker: &mut PgConnection) {
    let waits = "SELECT count(*) FROM pg_stat_activity
        WHERE datname = current_database() AND usename = 'leadhand_app' AND wait_event_type = 'Lock'";
    while sqlx::query_scalar::<_, i64>(waits).fetch_one(&mut *looker).await.unwrap() == 0 {
        tokio::task::yield_now().await;
    }
}

impl Shop {
    fn by_lead(&self, command: impl Into<Command>) -> (Principal, Write, Command) {
        (self.lead, self.write(), command.into())
    }

    /// What the bins hold of the gasket, as another replica reads it.
    async fn on_hand(&self) -> i64 {
        let stock = self.app.stock(&self.lead, Some(ItemKey::from("gasket")), None, 1).await.unwrap();
        stock.items[0].in_bins.on_hand.0
    }
}

/// A trigger that stands for the database's own word, by the quantity that moves.
const OBJECT: &str = "
    CREATE FUNCTION object() RETURNS trigger LANGUAGE plpgsql AS $$
    DECLARE
        code text := (ARRAY['22003', '22P05', '54000', '57014', '23514', '53100', '53300', '55000', '57P03', '25006'])
            [NEW.quantity - 1000];
    BEGIN
        IF code IS NOT NULL THEN
            RAISE EXCEPTION 'no room for this' USING ERRCODE = code;
        END IF;
        RETURN NEW;
    END $$;
    CREATE TRIGGER object BEFORE INSERT ON stock_move FOR EACH ROW EXECUTE FUNCTION object();";

#[tokio::test(flavor = "multi_thread")]
async fn whatever_the_database_says_to_one_commands_data_the_others_go_through() {
    let shop = Shop::open().await;
    shop.stock(1).await;
    shop.database.superuser().await.unwrap().execute(OBJECT).await.unwrap();
    // SQLSTATEs (PostgreSQL manual, appendix A): numeric_value_out_of_range, untranslatable_character,
    // program_limit_exceeded, query_canceled (by the statement timeout: it passes), check_violation.
    for quantity in 1001..=1005 {
        let before = shop.on_hand().await;
        let sent = [3, quantity, 4].map(|quantity| shop.by_lead(receive(quantity)));
        let answers = Box::pin(together(&shop, sent.into())).await;
        assert!(answers[0].is_ok() && answers[2].is_ok(), "{quantity}: {answers:?}");
        match &answers[1] {
            Err(AppError::Refused { refusal, .. }) if quantity != 1004 => assert_eq!(refusal.reason(), "DEFECT"),
            Err(AppError::Unavailable) if quantity == 1004 => {}
            other => panic!("{quantity}: {other:?}"),
        }
        // The one that lined up first is a piece, too.
        assert_eq!(shop.on_hand().await, before + 1 + 3 + 4);
    }
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_the_database_says_of_itself_is_said_to_all_and_nothing_is_changed() {
    let shop = Shop::open().await;
    shop.stock(1).await;
    shop.database.superuser().await.unwrap().execute(OBJECT).await.unwrap();
    // disk_full, too_many_connections, object_not_in_prerequisite_state, cannot_connect_now,
    // read_only_sql_transaction.
    let unavailable: Expected = |error| matches!(error, AppError::Unavailable);
    let cases: [(i64, Expected); 5] = [
        (1006, |error| matches!(error, AppError::DatabaseFull)),
        (1007, |error| matches!(error, AppError::Busy)),
        (1008, unavailable),
        (1009, unavailable),
        (1010, unavailable),
    ];
    for (quantity, expected) in cases {
        let before = shop.on_hand().await;
        let both = [3, quantity].map(|quantity| shop.by_lead(receive(quantity)));
        let answers = Box::pin(together(&shop, both.into())).await;
        let fits = answers.iter().all(|answer| answer.as_ref().is_err_and(expected));
        assert!(fits, "{quantity}: {answers:?}");
        assert_eq!(shop.on_hand().await, before + 1);
    }
    shop.verified().await;
}

/// A row that this program can't read lies in the way of whoever needs it, and of nobody else.
#[tokio::test(flavor = "multi_thread")]
async fn a_row_that_can_not_be_read_hits_who_needs_it_alone() {
    let shop = Shop::open().await;
    shop.stock(1).await;
    shop.must(AddItem { item: "seal".into(), name: "Seal".into(), unit: Unit::Piece, fluid: None }).await;
    let spoil = "ALTER TABLE item DROP CONSTRAINT item_unit_check; UPDATE item SET unit = 'ell' WHERE item = 'seal'";
    shop.database.superuser().await.unwrap().execute(spoil).await.unwrap();
    let before = shop.on_hand().await;
    let mut seal = receive(5);
    seal.item = "seal".into();
    let sent = vec![shop.by_lead(receive(3)), shop.by_lead(seal), shop.by_lead(receive(4))];
    let answers = Box::pin(together(&shop, sent)).await;
    assert!(answers[0].is_ok() && answers[2].is_ok(), "{answers:?}");
    assert!(
        matches!(&answers[1], Err(AppError::Refused { refusal, .. }) if refusal.reason() == "DEFECT"),
        "{answers:?}"
    );
    assert_eq!(shop.on_hand().await, before + 1 + 3 + 4);
}

impl Shop {
    /// A token for the parts room.
    async fn parts_token(&self) -> Principal {
        let label = Some("Counter".to_owned());
        let issued = self.app.issue_token(&self.lead, self.write(), Role::Parts, None, label, None).await.unwrap();
        self.app.authenticate(&issued.1.unwrap()).await.unwrap().in_shop().unwrap()
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_token_revoked_earlier_in_the_queue_lets_nothing_more_in() {
    let shop = Shop::open().await;
    shop.stock(1).await;
    let parts = shop.parts_token().await;
    let (before, head) = (shop.on_hand().await, shop.head().await);
    let done = shop.write();
    let sent = vec![
        (parts, done.clone(), receive(10).into()),
        shop.by_lead(RevokeToken { token: parts.token }),
        (parts, shop.write(), receive(100).into()),
        shop.by_lead(receive(1000)),
        (parts, done.clone(), receive(10).into()),
    ];
    let answers = Box::pin(together(&shop, sent)).await;
    let [first, revoked, late, lead, again] = &answers[..] else { panic!("{answers:?}") };
    let (first, revoked) = (first.as_ref().unwrap(), revoked.as_ref().unwrap());
    // In one batch each command is one tick of the journal after the one before.
    let tick = revoked.answer.recorded_at.unwrap().0 - first.answer.recorded_at.unwrap().0;
    assert_eq!(tick, 1, "they were not committed together");
    assert_eq!(revoked.answer.made, Made::Token(parts.token));
    assert!(matches!(late, Err(AppError::Unauthenticated(_))), "{late:?}");
    assert!(lead.is_ok(), "{lead:?}");
    // What took effect before the revocation is answered as it was: its sender may have missed it.
    let again = again.as_ref().unwrap();
    assert!(again.repeated && again.answer == first.answer);
    assert_eq!(shop.on_hand().await, before + 1 + 10 + 1000);
    // Three receipts of two facts each, and the revocation.
    assert_eq!(shop.head().await, head + 7);
    shop.verified().await;
}

/// The token was valid when the call came in, and has ended when its turn comes.
#[tokio::test(flavor = "multi_thread")]
async fn a_token_that_ended_while_its_command_was_queued_lets_nothing_in() {
    let shop = Shop::open().await;
    shop.stock(1).await;
    let parts = shop.parts_token().await;
    let end = "UPDATE token SET expires_at = clock_timestamp() WHERE label IS NOT NULL AND role = 'parts'";
    shop.database.superuser().await.unwrap().execute(end).await.unwrap();
    let head = shop.head().await;
    let elsewhere = replica(&shop.database, 2).await;
    let late = elsewhere.execute(&parts, shop.write(), receive(1)).await;
    assert!(matches!(late, Err(AppError::Unauthenticated(_))), "{late:?}");
    assert_eq!(shop.head().await, head);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_server_that_stops_answers_what_it_took_and_takes_nothing_more() {
    let shop = Shop::open().await;
    shop.stock(1).await;
    let closing = replica(&shop.database, 2).await;
    let sent = join_all((0..64).map(|_| closing.execute(&shop.lead, shop.write(), receive(1))));
    let (answers, ()) = futures::join!(sent, closing.drain());
    let late = closing.execute(&shop.lead, shop.write(), receive(1)).await;
    let mut done = 0;
    for answer in answers.iter().chain([&late]) {
        match answer {
            Ok(_) => done += 1,
            Err(AppError::Stopping) => {}
            Err(other) => panic!("{other:?}"),
        }
    }
    assert!(matches!(late, Err(AppError::Stopping)), "{late:?}");
    let stock = shop.app.stock(&shop.lead, Some("gasket".into()), None, 1).await.unwrap();
    assert_eq!(stock.items[0].in_bins.on_hand, Quantity(1 + done));
    shop.verified().await;
}

/// A first command waits for the shop, which somebody holds; what lines up behind it and what is to happen meanwhile.
async fn held_up(shop: &Shop, app: &App, meanwhile: impl Future<Output = ()>) -> (AppError, AppError) {
    let mut holder = shop.database.superuser().await.unwrap();
    holder.execute("BEGIN; SELECT number FROM head FOR UPDATE").await.unwrap();
    let mut looker = shop.database.superuser().await.unwrap();
    let mut first = pin!(app.execute(&shop.lead, shop.write(), receive(1)));
    assert!(futures::poll!(&mut first).is_pending());
    until_somebody_waits(&mut looker).await;
    let mut second = pin!(app.execute(&shop.lead, shop.write(), receive(1)));
    // What is polled once is queued.
    assert!(futures::poll!(&mut second).is_pending());
    let asked = async {
        let first = first.await.unwrap_err();
        match futures::future::select(second, pin!(until_somebody_waits(&mut looker))).await {
            Either::Left((answer, _)) => (first, answer.unwrap_err()),
            Either::Right(_) => panic!("who waited behind was made to wait for the same once more"),
        }
    };
    let (told, ()) = futures::join!(asked, meanwhile);
    holder.execute("ROLLBACK").await.unwrap();
    told
}

#[tokio::test(flavor = "multi_thread")]
async fn who_waits_behind_one_that_could_not_have_the_shop_is_told_with_it() {
    let shop = Shop::open().await;
    shop.stock(1).await;
    let told = Box::pin(held_up(&shop, &shop.app, async {})).await;
    assert!(matches!(told, (AppError::Busy, AppError::Busy)), "{told:?}");
    shop.must(receive(3)).await;
    assert_eq!(shop.on_hand().await, 4, "what was told to come again took effect");
    // A server that is told to stop meanwhile ends all the same.
    let closing = replica(&shop.database, 2).await;
    let told = Box::pin(held_up(&shop, &closing, closing.drain())).await;
    assert!(matches!(told, (AppError::Busy, AppError::Busy)), "{told:?}");
    assert_eq!(shop.on_hand().await, 4);
    shop.verified().await;
}
