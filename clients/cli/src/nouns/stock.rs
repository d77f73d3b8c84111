//! `leadhand stock`.

use super::{PAGE, all_pages, stock_text};
use crate::app::{App, read_text};
use crate::failure::{Failure, Outcome};
use crate::moment::parse_day;
use crate::out::{self, working};
use crate::quantity::{self, Typed};
use clap::{Args, Subcommand};
use leadhand_sdk::v1::{
    BadRow, CheckStockImportRequest, CountStockRequest, GetShopRequest, GetStatementRequest, ImportStockRequest,
    IssueStockRequest, ListShortagesRequest, ListStockRequest, ReceiveStockRequest, ReleaseStockRequest,
    ReserveStockRequest, ReturnStockRequest, ScrapStockRequest, WriteContext,
};
use std::path::{Path, PathBuf};
use std::time::Duration;
use uuid::Uuid;

/// How long an import may take: twenty thousand rows are more than a command.
const IMPORT_DEADLINE: Duration = Duration::from_mins(1);

/// Stock: what is there, promised, given and short.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Take over an opening stock from CSV: every row or none; safe to repeat
    Import {
        /// The file, with the header item,name,unit,place,quantity,expires_on, and behind these fluid,strength where it says
        /// which items are fluids, such as coolant,50%; - for standard input
        file: PathBuf,
        /// Only to try it
        #[command(flatten)]
        only: Try,
    },
    /// On hand, reserved and free, by item; by bin too for one item
    List {
        /// Only this item
        item: Option<String>,
    },
    /// Book a delivery into a bin
    Receive(Receive),
    /// Reserve all that a job still needs
    Reserve {
        /// The job's number
        job: i64,
        /// Only this stage
        #[arg(long)]
        stage: Option<String>,
        /// Only to try it
        #[command(flatten)]
        only: Try,
    },
    /// Give reserved goods to a job
    Issue(Issue),
    /// Take goods back from a job
    Return {
        /// The job's number
        job: i64,
        /// The item
        item: String,
        /// How much
        #[arg(allow_negative_numbers = true, value_parser = quantity::parse)]
        quantity: Typed,
        /// The bin it goes to
        #[arg(long, value_name = "BIN")]
        into: String,
        /// Only to try it
        #[command(flatten)]
        only: Try,
    },
    /// Give up reservations and shortages of a job
    Release {
        /// The job's number
        job: i64,
        /// Only this stage
        #[arg(long)]
        stage: Option<String>,
        /// Only this item
        #[arg(long)]
        item: Option<String>,
        /// Only to try it
        #[command(flatten)]
        only: Try,
    },
    /// Say what was counted in a bin
    Count(Counted),
    /// Throw stock away
    Scrap(Counted),
    /// What is short, for which step, and who holds the item
    Shortages {
        /// Only of this job
        #[arg(long)]
        job: Option<i64>,
    },
    /// Every movement of an item, oldest first
    Statement {
        /// The item
        item: String,
    },
}

/// A delivery.
#[derive(Debug, Args)]
pub struct Receive {
    /// The item
    item: String,
    /// How much
    #[arg(allow_negative_numbers = true, value_parser = quantity::parse)]
    quantity: Typed,
    /// The bin
    #[arg(long, value_name = "BIN")]
    into: String,
    /// The last good day; it keeps when left out
    #[arg(long, value_parser = parse_day, value_name = "DAY")]
    expires: Option<String>,
    /// Only to try it
    #[command(flatten)]
    only: Try,
}

/// What to give.
#[derive(Debug, Args)]
pub struct Issue {
    /// The job's number
    job: i64,
    /// Only this stage
    #[arg(long)]
    stage: Option<String>,
    /// Only this item
    #[arg(long)]
    item: Option<String>,
    /// Exactly this much of the item; what is reserved when left out
    #[arg(long, allow_negative_numbers = true, value_parser = quantity::parse, requires = "item")]
    quantity: Option<Typed>,
    /// Only to try it
    #[command(flatten)]
    only: Try,
}

/// Whether to try only.
#[derive(Debug, Clone, Copy, Args)]
pub struct Try {
    /// Say what it would do, by the server's own rules as things stand now, and change nothing
    #[arg(long)]
    dry_run: bool,
}

/// What was counted or thrown away.
#[derive(Debug, Args)]
pub struct Counted {
    /// The item
    item: String,
    /// The bin
    bin: String,
    /// How much
    #[arg(allow_negative_numbers = true, value_parser = quantity::parse)]
    quantity: Typed,
    /// Why
    #[arg(long)]
    reason: String,
    /// Only to try it
    #[command(flatten)]
    only: Try,
}

impl Try {
    /// What comes with the request.
    async fn write(self, app: &App) -> Outcome<Option<WriteContext>> {
        Ok(app.write().await?.map(|write| WriteContext { dry_run: self.dry_run, ..write }))
    }
}

/// Runs it.
pub async fn run(app: &App, command: Command) -> Outcome {
    match command {
        Command::Import { file, only } => import(app, &file, only).await,
        Command::List { item } => {
            let request =
                ListStockRequest { item: item.clone().unwrap_or_default(), page_size: PAGE, ..Default::default() };
            let answer = all_pages!(app, list_stock, request, items);
            let table = if item.is_some() { stock_text::bins(&answer.items) } else { stock_text::items(&answer.items) };
            app.show(&answer, &table)
        }
        Command::Shortages { job } => {
            let answer = app.client.list_shortages(ListShortagesRequest { job: job.unwrap_or(0) }).await?;
            if app.out.is_json() {
                return out::json(&answer);
            }
            app.out.table(&stock_text::shortages(&answer.shortages, app.zone().await?))
        }
        Command::Statement { item } => {
            let answer = all_pages!(
                app,
                get_statement,
                GetStatementRequest { item: item.clone(), page_size: PAGE, ..Default::default() },
                movements
            );
            if app.out.is_json() {
                return out::json(&answer);
            }
            app.out.table(&stock_text::statement(&answer, app.zone().await?))
        }
        Command::Receive(delivery) => receive(app, delivery).await,
        Command::Count(counted) => count(app, counted).await,
        Command::Scrap(scrapped) => scrap(app, scrapped).await,
        other => for_job(app, other).await,
    }
}

/// The commands that move stock to and from a job.
async fn for_job(app: &App, command: Command) -> Outcome {
    match command {
        Command::Reserve { job, stage, only } => {
            let request = ReserveStockRequest { write: only.write(app).await?, job, stage: stage.unwrap_or_default() };
            let answer = app.client.reserve_stock(request).await?;
            stock_text::lines(app, &answer, &answer.lines, answer.receipt.as_ref(), "reserved", job)
        }
        Command::Issue(what) => issue(app, what).await,
        Command::Return { job, item, quantity, into, only } => {
            let quantity = app.quantity(&item, &quantity).await?;
            let request = ReturnStockRequest { write: only.write(app).await?, job, item, quantity, place: into };
            let answer = app.client.return_stock(request).await?;
            stock_text::lines(app, &answer, &answer.lines, answer.receipt.as_ref(), "returned", job)
        }
        Command::Release { job, stage, item, only } => {
            let (stage, item) = (stage.unwrap_or_default(), item.unwrap_or_default());
            let request = ReleaseStockRequest { write: only.write(app).await?, job, stage, item };
            let answer = app.client.release_stock(request).await?;
            stock_text::lines(app, &answer, &answer.lines, answer.receipt.as_ref(), "released", job)
        }
        other => Err(Failure::Defect(format!("{other:?} is no command for a job"))),
    }
}

async fn issue(app: &App, what: Issue) -> Outcome {
    let item = what.item.unwrap_or_default();
    let quantity = match &what.quantity {
        Some(typed) => app.quantity(&item, typed).await?,
        None => 0,
    };
    if what.quantity.is_some() && quantity == 0 {
        return Err(Failure::Usage(
            "nothing is to be issued; give a quantity above 0, or none for what is reserved".to_owned(),
        ));
    }
    let (job, stage) = (what.job, what.stage.unwrap_or_default());
    let request = IssueStockRequest { write: what.only.write(app).await?, job, stage, item, quantity };
    let answer = app.client.issue_stock(request).await?;
    stock_text::lines(app, &answer, &answer.lines, answer.receipt.as_ref(), "issued", job)
}

/// The request id of an import follows from the file, the shop and the token, so that a file is taken over
/// once however often it is sent.
pub fn import_id(shop: &str, token: &str, csv: &str) -> Option<Uuid> {
    let shop = Uuid::parse_str(shop).ok()?;
    Some(Uuid::new_v5(&shop, format!("stock import\n{token}\n{csv}").as_bytes()))
}

async fn import(app: &App, file: &Path, only: Try) -> Outcome {
    let csv = read_text(file)?;
    let shop = app.client.get_shop(GetShopRequest {}).await?.shop;
    let id = import_id(&shop, app.client.endpoint().token.as_deref().unwrap_or_default(), &csv)
        .ok_or_else(|| Failure::Defect(format!("the shop's id '{shop}' is not a UUID")))?;
    // A trial is no first try: the file is still to be taken over.
    let write = if only.dry_run { only.write(app).await? } else { app.write_as(Some(id)).await? };
    let request = ImportStockRequest { write, csv: csv.clone() };
    let _working = working("taking over an opening stock");
    let answer = match app.client.with_deadline(IMPORT_DEADLINE).import_stock(request).await {
        // A refusal carries only so many rows; a person with a file to mend wants them all.
        Err(refused) if refused.reason == "BAD_ROWS" => {
            bad_rows(app, file, csv).await?;
            return Err(refused.into());
        }
        answer => answer?,
    };
    let said =
        format!("{} rows are taken over, with {} new items and {} new bins", answer.rows, answer.items, answer.places);
    app.done(&answer, answer.receipt.as_ref(), Some(&answer.rows.to_string()), &said)
}

async fn bad_rows(app: &App, file: &Path, csv: String) -> Outcome {
    let request = CheckStockImportRequest { csv };
    let answer = app.client.with_deadline(IMPORT_DEADLINE).check_stock_import(request).await?;
    if answer.rows.is_empty() {
        return Ok(());
    }
    if app.out.is_json() {
        out::json(&answer)?;
    } else {
        for BadRow { line, column, message } in &answer.rows {
            let column = if column.is_empty() { String::new() } else { format!(" {column}:") };
            out::line(&out::clean(&format!("{}:{line}:{column} {message}", file.display())))?;
        }
    }
    let rows = if answer.rows.len() == 1 { "1 fault".to_owned() } else { format!("{} faults", answer.rows.len()) };
    Err(Failure::Found(format!("nothing was taken over: the file has {rows}; mend them and send it again")))
}

async fn receive(app: &App, delivery: Receive) -> Outcome {
    let unit = app.unit(&delivery.item).await?;
    let quantity = delivery.quantity.in_unit(&unit).map_err(Failure::Usage)?;
    let said = format!("{} of {} came into bin {}", quantity::show(quantity, &unit), delivery.item, delivery.into);
    let request = ReceiveStockRequest {
        write: delivery.only.write(app).await?,
        item: delivery.item,
        place: delivery.into,
        quantity,
        expires_on: delivery.expires.unwrap_or_default(),
    };
    let answer = app.client.receive_stock(request).await?;
    app.done(
        &answer,
        answer.receipt.as_ref(),
        Some(&answer.lot).filter(|lot| !lot.is_empty()).map(String::as_str),
        &said,
    )
}

async fn count(app: &App, Counted { item, bin, quantity, reason, only }: Counted) -> Outcome {
    let counted = app.quantity(&item, &quantity).await?;
    let said = format!("{} of {item} were counted in bin {bin}, and that is what is there now", quantity.shown());
    let request = CountStockRequest { write: only.write(app).await?, item, place: bin, counted, reason };
    let answer = app.client.count_stock(request).await?;
    app.done(&answer, answer.receipt.as_ref(), None, &said)
}

async fn scrap(app: &App, Counted { item, bin, quantity: typed, reason, only }: Counted) -> Outcome {
    let quantity = app.quantity(&item, &typed).await?;
    let said = format!("{} of {item} from bin {bin} are thrown away", typed.shown());
    let request = ScrapStockRequest { write: only.write(app).await?, item, place: bin, quantity, reason };
    let answer = app.client.scrap_stock(request).await?;
    app.done(&answer, answer.receipt.as_ref(), None, &said)
}

#[cfg(test)]
mod tests {
    use super::*;

    const SHOP: &str = "5a3f0c52-0e0e-4b8a-9a53-0d6a3f6f1f10";

    #[test]
    fn the_same_file_in_the_same_shop_is_the_same_request() {
        let id = import_id(SHOP, "t", "item\na").unwrap();
        assert_eq!(import_id(SHOP, "t", "item\na"), Some(id));
        assert_ne!(import_id(SHOP, "t", "item\nb"), Some(id));
        assert_ne!(import_id(SHOP, "another", "item\na"), Some(id));
        assert_ne!(import_id("6a3f0c52-0e0e-4b8a-9a53-0d6a3f6f1f10", "t", "item\na"), Some(id));
        // RFC 9562, 5.5: a name-based UUID of SHA-1 has version 5.
        assert_eq!(id.get_version_num(), 5);
        assert_eq!(import_id("no uuid", "", ""), None);
    }
}
