//! A shop with stock, and jobs whose stages each need one piece.

use crate::bare::ITEMS;
use futures::future::join_all;
use leadhand_sdk::v1;
use leadhand_sdk::{Client, Endpoint, new_write};
use std::fmt::Write;

/// Stages of a job, as many as a large real one has.
pub const STAGES: usize = 25;
/// The template of all jobs.
pub const TEMPLATE: &str = "bench";

/// A client with this secret.
pub fn client(url: &str, secret: &str) -> Client {
    Client::connect(Endpoint::new(url).token(secret.to_owned())).unwrap()
}

/// Its file.
pub fn template() -> String {
    let mut text = format!("key = \"{TEMPLATE}\"\ntitle = \"Many small stages\"\n");
    for stage in 0..STAGES {
        let item = stage as u32 % ITEMS;
        let _ = write!(
            text,
            "\n[[stage]]\nkey = \"s{stage}\"\ntitle = \"Stage {stage}\"\nminutes = [10, 20, 40]\n\n\
             [[stage.step]]\ndo = \"Fit it\"\nneeds = [{{ item = \"item-{item}\", quantity = 1 }}]\n"
        );
    }
    text
}

/// The opening stock.
pub fn stock() -> String {
    let mut csv = "item,name,unit,place,quantity,expires_on\n".to_owned();
    for item in 0..ITEMS {
        let _ = writeln!(csv, "item-{item},Item {item},1,bin-1,10000000,");
    }
    csv
}

/// Stock and the template.
pub async fn stocked(lead: &Client) {
    lead.import_stock(v1::ImportStockRequest { write: Some(new_write()), csv: stock() }).await.unwrap();
    lead.publish_template(v1::PublishTemplateRequest { write: Some(new_write()), source: template() }).await.unwrap();
}

/// So many open jobs, by number, so many of them at a time: a shop lets no more than its share wait.
pub async fn jobs(lead: &Client, count: usize, at_a_time: usize) -> Vec<i64> {
    let open = async |at: usize| {
        let asked = v1::OpenJobRequest {
            write: Some(new_write()),
            template: TEMPLATE.into(),
            vehicle_label: format!("bench vehicle {at}"),
            priority: 3,
            ..v1::OpenJobRequest::default()
        };
        lead.open_job(asked).await.unwrap().job
    };
    let mut all = Vec::with_capacity(count);
    let places: Vec<usize> = (0..count).collect();
    for some in places.chunks(at_a_time.max(1)) {
        all.extend(join_all(some.iter().map(|at| open(*at))).await);
    }
    all
}

/// What one reservation asks for.
pub fn reserve(job: i64, stage: usize) -> v1::ReserveStockRequest {
    v1::ReserveStockRequest { write: Some(new_write()), job, stage: format!("s{stage}") }
}
