//! Stock in words.

use super::{item, supplier};
use crate::app::App;
use crate::failure::Outcome;
use crate::moment;
use crate::out::Table;
use crate::quantity::show;
use jiff::tz::TimeZone;
use leadhand_sdk::ContractMessage;
use leadhand_sdk::v1::{BinQuantity, GetStatementResponse, Holder, ItemStock, Movement, Receipt, Shortage, StockLine};
use prost::Message;

const NONE: &str = "nothing is kept yet; 'leadhand stock import FILE' takes over an opening stock, and 'leadhand item add' \
    lists an item";
const NO_ITEM: &str = "there is no such item; 'leadhand stock list' shows those that are kept";

/// Items, a row each.
pub fn items(items: &[ItemStock]) -> Table {
    let header = ["item", "name", "on hand#", "reserved#", "free#", "expired#", "at jobs#", "bins", "fluid"];
    // Where no item is a fluid there is nothing to say about it.
    let shown = if items.iter().any(|stock| stock.fluid.is_some()) { header.len() } else { header.len() - 1 };
    let mut table = Table::new("stock", &header[..shown]).when_empty(NONE);
    for stock in items {
        let amount = |quantity: i64| show(quantity, &stock.unit);
        let bins: Vec<&str> = stock.places.iter().map(|place| place.place.as_str()).collect();
        let cells = [
            stock.item.clone(),
            stock.name.clone(),
            amount(stock.on_hand),
            amount(stock.reserved),
            amount(stock.free),
            if stock.expired > 0 { amount(stock.expired) } else { String::new() },
            if stock.at_jobs > 0 { amount(stock.at_jobs) } else { String::new() },
            bins.join(", "),
            item::told(stock.fluid.as_ref(), ""),
        ];
        table.row_of(cells.into_iter().take(shown));
    }
    table
}

/// One item by bin, and all together.
pub fn bins(items: &[ItemStock]) -> Table {
    let mut table =
        Table::new("stock", &["item", "bin", "on hand#", "reserved#", "free#", "expired#"]).when_empty(NO_ITEM);
    for stock in items {
        let amount = |quantity: i64| show(quantity, &stock.unit);
        for place in &stock.places {
            table.row([
                stock.item.clone(),
                place.place.clone(),
                amount(place.on_hand),
                amount(place.reserved),
                amount(place.free),
                amount(place.expired),
            ]);
        }
        let all = "all bins".to_owned();
        let cells = [stock.on_hand, stock.reserved, stock.free, stock.expired].map(amount);
        let [on_hand, reserved, free, expired] = cells;
        table.row([stock.item.clone(), all, on_hand, reserved, free, expired]);
        if stock.at_jobs > 0 {
            let none = String::new;
            table.row([stock.item.clone(), "at jobs".to_owned(), amount(stock.at_jobs), none(), none(), none()]);
        }
    }
    table
}

/// What happened line by line, and what is short.
pub fn lines<M: ContractMessage + Message>(
    app: &App,
    answer: &M,
    lines: &[StockLine],
    receipt: Option<&Receipt>,
    what: &'static str,
    job: i64,
) -> Outcome {
    // What was set aside before needs no line; what is short does.
    let news: Vec<&StockLine> = lines.iter().filter(|line| line.quantity != 0 || line.short != 0).collect();
    if !app.out.is_json() && !news.is_empty() {
        app.out.table(&line_table(&news, what))?;
    }
    let short = lines.iter().filter(|line| line.short > 0).count();
    let said = match short {
        0 if what == "reserved" => format!("{} for job {job}: nothing is short", capital(what)),
        0 => format!("{} for job {job}", capital(what)),
        1 => format!("{} for job {job}: 1 line is SHORT", capital(what)),
        many => format!("{} for job {job}: {many} lines are SHORT", capital(what)),
    };
    app.done(answer, receipt, None, &said)
}

fn capital(word: &str) -> String {
    let mut letters = word.chars();
    letters.next().map(|first| first.to_uppercase().chain(letters).collect()).unwrap_or_default()
}

fn line_table(lines: &[&StockLine], what: &'static str) -> Table {
    let amount_header = match what {
        "issued" => "issued#",
        "returned" => "returned#",
        "released" => "released#",
        _ => "reserved#",
    };
    let mut table = Table::new("lines", &["stage", "step#", "item", amount_header, "place", "short#", "held by"]);
    for line in lines {
        table.row([
            line.stage.clone(),
            if line.step > 0 { line.step.to_string() } else { String::new() },
            line.item.clone(),
            show(line.quantity, &line.unit),
            if line.bins.is_empty() { line.place.clone() } else { each_bin(&line.bins, &line.unit) },
            if line.short > 0 { show(line.short, &line.unit) } else { String::new() },
            holders(&line.held_by, &line.unit),
        ]);
    }
    table
}

/// What to draw from each bin.
pub fn each_bin(bins: &[BinQuantity], unit: &str) -> String {
    let each = bins.iter().map(|one| format!("{} from {}", show(one.quantity, unit), one.bin));
    each.collect::<Vec<_>>().join(", ")
}

/// Who holds an item meanwhile.
pub fn holders(holders: &[Holder], unit: &str) -> String {
    let parts: Vec<String> =
        holders.iter().map(|holder| format!("job {} ({})", holder.job, show(holder.quantity, unit))).collect();
    parts.join(", ")
}

/// What is short.
pub fn shortages(shortages: &[Shortage], zone: &TimeZone) -> Table {
    let header = ["job#", "stage", "step#", "item", "name", "short#", "since", "holds up", "held by", "order"];
    // Where no item names a supplier there is nothing to say about ordering.
    let ordered = shortages.iter().any(|short| short.order.is_some());
    let shown = if ordered { header.len() } else { header.len() - 1 };
    let mut table = Table::new("shortages", &header[..shown]).when_empty("nothing is short");
    for short in shortages {
        let order = short.order.as_ref().map(|order| supplier::told(order, zone)).unwrap_or_default();
        let cells = [
            short.job.to_string(),
            short.stage.clone(),
            short.step.to_string(),
            short.item.clone(),
            short.name.clone(),
            show(short.quantity, &short.unit),
            moment::show(short.since.as_ref(), zone),
            if short.holds_up { "yes".to_owned() } else { "not yet".to_owned() },
            holders(&short.held_by, &short.unit),
            order,
        ];
        table.row_of(cells.into_iter().take(shown));
    }
    table
}

/// Every movement of an item.
pub fn statement(answer: &GetStatementResponse, zone: &TimeZone) -> Table {
    let header = ["fact#", "when", "why", "from", "to", "quantity#", "on hand after#", "for", "reason"];
    let mut table = Table::new("movements", &header).when_empty("none of it ever moved");
    for movement in &answer.movements {
        table.row([
            movement.number.to_string(),
            moment::show(movement.at.as_ref(), zone),
            movement.why.clone(),
            movement.from_place.clone(),
            movement.to_place.clone(),
            show(movement.quantity, &answer.unit),
            show(movement.on_hand_after, &answer.unit),
            wanted_for(movement),
            movement.reason.clone(),
        ]);
    }
    table
}

fn wanted_for(movement: &Movement) -> String {
    match (movement.job, movement.stage.as_str()) {
        (0, _) => String::new(),
        (job, "") => format!("job {job}"),
        (job, stage) if movement.step == 0 => format!("job {job}, {stage}"),
        (job, stage) => format!("job {job}, {stage}, step {}", movement.step),
    }
}
