//! `verify`: the auditor folds a shop's journal with its own code, in one snapshot, and finds
//! every derived table equal, cell by cell.

use crate::App;
use crate::error::AppError;
use leadhand_auditor::{Books, Comparing, check_books, check_texts};
use leadhand_facts::ShopId;
use leadhand_facts::rows::TABLES;
use leadhand_store::Head;

/// Facts folded between two reads of the journal.
const PAGE: i64 = 1_000;

/// What was found in one shop.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Report {
    /// Facts folded.
    pub facts: i64,
    /// Rows compared.
    pub rows: usize,
    /// What does not agree, one sentence each; none when everything does.
    pub faults: Vec<String>,
}

impl App {
    /// Every shop of this database.
    pub async fn shops(&self) -> Result<Vec<ShopId>, AppError> {
        Ok(self.store.shops().await?)
    }

    /// How far a shop's journal goes.
    pub async fn head(&self, shop: ShopId) -> Result<Head, AppError> {
        let snapshot = self.store.snapshot(shop).await?;
        let head = snapshot.head;
        snapshot.end().await?;
        Ok(head)
    }

    /// Verifies one shop.
    pub async fn verify(&self, shop: ShopId) -> Result<Report, AppError> {
        self.verify_watched(shop, |_, _| {}).await
    }

    /// The same; `told` hears how many facts are folded, and of how many.
    pub async fn verify_watched(&self, shop: ShopId, told: impl Fn(i64, i64)) -> Result<Report, AppError> {
        let mut snapshot = self.store.snapshot(shop).await?;
        let mut books = Books::thrifty();
        let mut report = Report::default();
        'journal: loop {
            let page = snapshot.journal(report.facts, PAGE).await?;
            if page.is_empty() {
                break;
            }
            for entry in &page {
                if let Err(fault) = books.take(entry) {
                    report.faults.push(fault.to_string());
                    break 'journal;
                }
                report.facts += 1;
            }
            told(report.facts, snapshot.head.number);
        }
        if report.faults.is_empty() && report.facts != snapshot.head.number {
            let head = snapshot.head.number;
            report.faults.push(format!("the head says {head} and the journal ends at {}", report.facts));
        }
        let mut others: Vec<String> = check_books(&books).iter().map(ToString::to_string).collect();
        others.extend(check_texts(&books, snapshot.text_bodies().await?).iter().map(ToString::to_string));
        // The books are taken apart row by row, so that they and the tables are never in memory together.
        let mut comparing = Comparing::of(books.into_tables());
        for table in TABLES {
            report.rows += snapshot.each_row(table, |row| comparing.row(table, &row)).await?;
            comparing.table_over(table);
        }
        report.faults.extend(comparing.end().iter().map(ToString::to_string));
        report.faults.extend(others);
        snapshot.end().await?;
        Ok(report)
    }
}
