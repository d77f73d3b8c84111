//! What every command needs: the client, the way out, the shop's zone, a write's circumstances.

use crate::args::Global;
use crate::failure::{Failure, Outcome};
use crate::moment;
use crate::out::{self, Out};
use crate::quantity::Typed;
use jiff::tz::TimeZone;
use leadhand_sdk::v1::{GetShopRequest, ListStockRequest, Receipt, WriteContext};
use leadhand_sdk::{Client, ContractMessage, Endpoint, Tls, WriteContextExt, new_write, write_with_id};
use prost::Message;
use prost_types::Timestamp;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;
use tokio::sync::OnceCell;
use uuid::Uuid;

/// What a command works with.
pub struct App {
    /// The server.
    pub client: Client,
    /// The way out.
    pub out: Out,
    global: Global,
    zone: OnceCell<TimeZone>,
    wrote: AtomicBool,
}

impl App {
    /// As the command line asks for it. Nothing is sent yet.
    pub fn new(global: Global) -> Outcome<Self> {
        let mut endpoint =
            Endpoint::new(global.server.as_deref().unwrap_or_default()).budget(Duration::from_secs(global.patience));
        endpoint.token = token(&global)?;
        endpoint.traceparent = crate::trace::parent(global.trace);
        endpoint.tls = Tls {
            authorities: global.ca.as_deref().map(read_text).transpose()?,
            client: match (&global.client_cert, &global.client_key) {
                (Some(cert), Some(key)) => Some((read_text(cert)?, read_text(key)?)),
                _ => None,
            },
        };
        let client = Client::connect(endpoint).map_err(|error| Failure::Usage(error.message))?;
        let out = Out::new(global.output, global.no_colour);
        Ok(Self { client, out, global, zone: OnceCell::new(), wrote: AtomicBool::new(false) })
    }

    /// The shop's zone, asked for once.
    pub async fn zone(&self) -> Outcome<&TimeZone> {
        self.zone
            .get_or_try_init(async || {
                let zone = self.client.get_shop(GetShopRequest {}).await?.zone;
                TimeZone::get(&zone)
                    .map_err(|_| Failure::Defect(format!("this program does not know the shop's time zone '{zone}'")))
            })
            .await
    }

    /// A typed time.
    pub async fn moment(&self, text: &str) -> Outcome<Timestamp> {
        // RFC 3339 needs no zone, and then the server is not asked for one.
        if let Ok(exact) = text.trim().parse() {
            return Ok(moment::to_wire(exact));
        }
        moment::parse(text, self.zone().await?, moment::now()).map(moment::to_wire).map_err(Failure::Usage)
    }

    /// A time that may have been typed.
    pub async fn moment_if(&self, text: Option<&str>) -> Outcome<Option<Timestamp>> {
        match text {
            Some(text) => Ok(Some(self.moment(text).await?)),
            None => Ok(None),
        }
    }

    /// The day that was typed, or today in the shop.
    pub async fn day(&self, typed: Option<String>) -> Outcome<String> {
        match typed {
            Some(day) => Ok(day),
            None => Ok(moment::now().to_zoned_datetime(self.zone().await?.clone()).date().to_string()),
        }
    }

    /// The circumstances of a write.
    pub async fn write(&self) -> Outcome<Option<WriteContext>> {
        self.write_as(None).await
    }

    /// The circumstances of a write whose request id follows from what it says, unless one was
    /// given.
    pub async fn write_as(&self, derived: Option<Uuid>) -> Outcome<Option<WriteContext>> {
        self.wrote.store(true, Ordering::Relaxed);
        let mut write = self.global.request_id.or(derived).map_or_else(new_write, write_with_id);
        if let Some(text) = &self.global.at {
            write = write.at(self.moment(text).await?);
        }
        if let Some(person) = &self.global.for_person {
            write = write.for_person(person);
        }
        Ok(Some(write))
    }

    /// Who does what is recorded, with the verb: "you are", "Moss is".
    pub fn whoever(&self) -> String {
        self.global.for_person.as_ref().map_or_else(|| "you are".to_owned(), |person| format!("{person} is"))
    }

    /// What was said for a write though nothing was written: worth a word.
    pub fn note_unused(&self) {
        let said = [
            (self.global.request_id.is_some(), "--request-id"),
            (self.global.at.is_some(), "--at"),
            (self.global.for_person.is_some(), "--for"),
        ];
        if !self.wrote.load(Ordering::Relaxed) {
            for (_, option) in said.iter().filter(|(given, _)| *given) {
                out::note(&format!("leadhand: {option} has no effect here, since nothing is recorded"));
            }
        }
    }

    /// A typed quantity in the item's unit; the server is asked for that only where it matters.
    pub async fn quantity(&self, item: &str, typed: &Typed) -> Outcome<i64> {
        let unit = if typed.is_plain() { "1".to_owned() } else { self.unit(item).await? };
        typed.in_unit(&unit).map_err(Failure::Usage)
    }

    /// The unit in which an item is kept.
    pub async fn unit(&self, item: &str) -> Outcome<String> {
        let request = ListStockRequest { item: item.to_owned(), ..Default::default() };
        let answer = self.client.list_stock(request).await?;
        let found = answer.items.into_iter().find(|stock| stock.item == item);
        found
            .map(|stock| stock.unit)
            .ok_or_else(|| Failure::Missing(format!("there is no item '{item}'; add it with 'leadhand item add'")))
    }

    /// Shows what a write came to: the answer as JSON, or what it made on standard output and a
    /// sentence aside.
    pub fn done<M: ContractMessage + Message>(
        &self,
        answer: &M,
        receipt: Option<&Receipt>,
        made: Option<&str>,
        sentence: &str,
    ) -> Outcome {
        if self.out.is_json() {
            out::json(answer)?;
        } else {
            if let Some(made) = made {
                out::line(&out::clean(made))?;
            }
            out::note(&confirmation(sentence, receipt));
        }
        for notice in receipt.map_or(&[][..], |receipt| &receipt.notices) {
            out::note(&format!("note: {}", out::clean(&notice.text)));
        }
        Ok(())
    }

    /// Shows a table, or the answer that it is made of as JSON.
    pub fn show<M: ContractMessage + Message>(&self, answer: &M, table: &out::Table) -> Outcome {
        if self.out.is_json() { out::json(answer) } else { self.out.table(table) }
    }
}

fn confirmation(sentence: &str, receipt: Option<&Receipt>) -> String {
    let sentence = out::clean(sentence);
    match receipt {
        Some(receipt) if receipt.dry_run => format!("dry run, nothing was recorded; it would be so: {sentence}"),
        Some(receipt) if receipt.repeated => {
            format!("{sentence}: this request was taken before, and nothing was done twice (fact {})", receipt.number)
        }
        Some(receipt) if receipt.recorded_at.is_none() => format!("{sentence}: that was so already"),
        Some(receipt) => format!("{sentence} (fact {})", receipt.number),
        None => sentence,
    }
}

fn token(global: &Global) -> Outcome<Option<String>> {
    // Read here and not by the parser, for which an empty variable is a mistake of the command line.
    let from_env = || std::env::var_os("LEADHAND_TOKEN_FILE").filter(|path| !path.is_empty()).map(PathBuf::from);
    if let Some(path) = global.token_file.clone().or_else(from_env) {
        return read_token(&path).map(Some);
    }
    Ok(std::env::var("LEADHAND_TOKEN").ok().filter(|token| !token.trim().is_empty()))
}

fn read_token(path: &Path) -> Outcome<String> {
    let shown = path.display();
    let text = std::fs::read_to_string(path)
        .map_err(|error| Failure::Token(format!("the token file {shown} can't be read: {error}")))?;
    match text.trim() {
        "" => Err(Failure::Token(format!("the token file {shown} is empty; put the token that was issued into it"))),
        token => Ok(token.to_owned()),
    }
}

/// Reads a file, or standard input for `-`.
pub fn read_text(path: &Path) -> Outcome<String> {
    let text =
        if path.as_os_str() == "-" { std::io::read_to_string(std::io::stdin()) } else { std::fs::read_to_string(path) };
    text.map_err(|error| Failure::Usage(format!("{} can't be read: {error}", path.display())))
}
