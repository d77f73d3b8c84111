//! Shops that are written at the same moment share a transaction, and none of them notices: each has its own line of
//! history, and what goes wrong with one is nobody else's.

use crate::{receive, replica};
use futures::future::join_all;
use kit::TestDatabase;
use leadhand_app::access::Principal;
use leadhand_app::{App, AppError, Outcome, Write};
use leadhand_domain::command::{AddItem, AddPlace, Command};
use leadhand_facts::{RequestId, Unit};
use sqlx::{Executor, PgConnection};
use std::pin::pin;
use std::sync::atomic::{AtomicU32, Ordering};
use uuid::Uuid;

/// Shops of the yard: more than are committed alone before the others have gathered.
const SHOPS: usize = 12;

/// Several shops on one server.
struct Yard {
    database: TestDatabase,
    app: App,
    leads: Vec<Principal>,
}

type Answers = Vec<Result<Outcome, AppError>>;

/// Each request has a number of its own.
fn write() -> Write {
    static NEXT: AtomicU32 = AtomicU32::new(1);
    Write::of(RequestId(Uuid::from_u128(NEXT.fetch_add(1, Ordering::Relaxed).into())))
}

impl Yard {
    /// Each shop has a gasket, and its line has loaded what a receipt of more asks for.
    async fn open() -> Self {
        let database = kit::fresh_database().await;
        let app = replica(&database, 1).await;
        let mut leads = Vec::new();
        for at in 0..SHOPS {
            let new = app.open_shop(&format!("Yard {at}"), "Europe/Lisbon", "Wren").await.unwrap();
            let lead = app.authenticate(&new.secret).await.unwrap().in_shop().unwrap();
            let item = AddItem { item: "gasket".into(), name: "Gasket".into(), unit: Unit::Piece, fluid: None };
            let place = AddPlace { place: "a1".into(), name: "A1".into() };
            for command in [Command::from(item), place.into(), receive(1).into()] {
                app.execute(&lead, write(), command).await.unwrap();
            }
            leads.push(lead);
        }
        Self { database, app, leads }
    }

    /// A receipt in every shop at the same moment: somebody holds all heads until several transactions wait.
    async fn at_once(&self, quantity: impl Fn(usize) -> i64, writes: &[Write]) -> Answers {
        let mut holder = self.database.superuser().await.unwrap();
        holder.execute("BEGIN; LOCK TABLE head IN EXCLUSIVE MODE").await.unwrap();
        let sent = self.leads.iter().zip(writes).enumerate();
        let sent = sent.map(|(at, (lead, write))| self.app.execute(lead, write.clone(), receive(quantity(at))));
        let mut sent = pin!(join_all(sent));
        // What is polled once is queued.
        assert!(futures::poll!(&mut sent).is_pending());
        until_several_wait(&mut self.database.superuser().await.unwrap()).await;
        holder.execute("ROLLBACK").await.unwrap();
        sent.await
    }

    /// Transactions that wrote facts of more than one shop: the system column of a row names the one that wrote it.
    async fn shared(&self) -> i64 {
        let sql = "SELECT count(*) FROM (
            SELECT xmin::text FROM journal GROUP BY xmin::text HAVING count(DISTINCT shop) > 1) AS shared";
        sqlx::query_scalar(sql).fetch_one(&mut self.database.superuser().await.unwrap()).await.unwrap()
    }

    async fn on_hand(&self, at: usize) -> i64 {
        let stock = self.app.stock(&self.leads[at], Some("gasket".into()), None, 1).await.unwrap();
        stock.items[0].in_bins.on_hand.0
    }

    async fn verified(&self) {
        for lead in &self.leads {
            assert_eq!(self.app.verify(lead.shop).await.unwrap().faults, Vec::<String>::new());
        }
    }
}

fn writes() -> Vec<Write> {
    (0..SHOPS).map(|_| write()).collect()
}

async fn until_several_wait(looker: &mut PgConnection) {
    let waits = "SELECT count(*) FROM pg_stat_activity
        WHERE datname = current_database() AND usename = 'leadhand_app' AND wait_event_type = 'Lock'";
    while sqlx::query_scalar::<_, i64>(waits).fetch_one(&mut *looker).await.unwrap() < 2 {
        tokio::task::yield_now().await;
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn shops_that_write_at_once_share_a_transaction_and_each_has_its_own_answer() {
    let yard = Yard::open().await;
    assert_eq!(yard.shared().await, 0);
    let sent = writes();
    let first: Vec<Outcome> =
        yard.at_once(|at| i64::try_from(at).unwrap() + 5, &sent).await.into_iter().map(Result::unwrap).collect();
    assert!(yard.shared().await > 0, "each shop was committed by itself");
    for at in 0..SHOPS {
        assert_eq!(yard.on_hand(at).await, 1 + 5 + i64::try_from(at).unwrap());
    }
    // The same requests once more, and beside them nothing new: first answers, and nothing twice.
    let again = yard.at_once(|at| i64::try_from(at).unwrap() + 5, &sent).await;
    for (first, again) in first.iter().zip(again) {
        let again = again.unwrap();
        assert!(again.repeated && again.answer == first.answer, "{again:?}");
    }
    // What another replica wrote meanwhile is caught up with.
    let other = replica(&yard.database, 2).await;
    for lead in &yard.leads {
        other.execute(lead, write(), receive(100)).await.unwrap();
    }
    let answers = yard.at_once(|_| 1000, &writes()).await;
    assert!(answers.iter().all(Result::is_ok), "{answers:?}");
    assert_eq!(yard.on_hand(3).await, 1 + 5 + 3 + 100 + 1000);
    yard.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_the_database_refuses_to_one_shop_the_others_do_not_notice() {
    let yard = Yard::open().await;
    let mut owner = yard.database.superuser().await.unwrap();
    owner.execute("ALTER TABLE stock_move ADD CONSTRAINT no_thirteen CHECK (quantity <> 13)").await.unwrap();
    let answers = yard.at_once(|at| if at == 7 { 13 } else { 5 }, &writes()).await;
    for (at, answer) in answers.iter().enumerate() {
        match answer {
            Err(AppError::Refused { refusal, .. }) if at == 7 => assert_eq!(refusal.reason(), "DEFECT"),
            Ok(_) if at != 7 => {}
            other => panic!("{at}: {other:?}"),
        }
        assert_eq!(yard.on_hand(at).await, if at == 7 { 1 } else { 6 });
    }
    yard.verified().await;
}

/// A trigger that cuts the connection of whoever commits for several shops.
const CUT: &str = "
    CREATE FUNCTION cut() RETURNS trigger LANGUAGE plpgsql AS $$
    BEGIN
        IF strpos(current_setting('leadhand.shop'), ',') > 0 THEN
            PERFORM pg_terminate_backend(pg_backend_pid());
        END IF;
        RETURN NULL;
    END $$;
    CREATE CONSTRAINT TRIGGER cut AFTER INSERT ON journal DEFERRABLE INITIALLY DEFERRED
        FOR EACH ROW EXECUTE FUNCTION cut();";

#[tokio::test(flavor = "multi_thread")]
async fn a_shared_commit_that_breaks_is_looked_up_by_each_shop() {
    let yard = Yard::open().await;
    yard.database.superuser().await.unwrap().execute(CUT).await.unwrap();
    let answers = yard.at_once(|_| 5, &writes()).await;
    assert!(answers.iter().all(|answer| answer.as_ref().is_ok_and(|outcome| !outcome.repeated)), "{answers:?}");
    let killed = "SELECT sessions_killed FROM pg_stat_database WHERE datname = current_database()";
    let mut looker = yard.database.superuser().await.unwrap();
    let killed: i64 = sqlx::query_scalar(killed).fetch_one(&mut looker).await.unwrap();
    assert!(killed > 0, "no shared commit was cut");
    for at in 0..SHOPS {
        assert_eq!(yard.on_hand(at).await, 6);
    }
    yard.verified().await;
}
