//! `leadhand operator`: shops are made, and a lost lead's token is replaced, with an operator's token.

use super::token::Keep;
use super::{PAGE, all_pages};
use crate::app::App;
use crate::failure::Outcome;
use crate::out::Table;
use clap::Subcommand;
use leadhand_sdk::v1::{
    ListShopsRequest, OpenShopRequest, OpenShopResponse, ReplaceLeadTokenRequest, ReplaceLeadTokenResponse,
};
use std::path::PathBuf;

/// What an operator does.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Open a shop with its first lead
    Open {
        /// The shop's name
        name: String,
        /// The shop's time zone, by its IANA name: Europe/Lisbon
        #[arg(long)]
        zone: String,
        /// The first lead's name
        #[arg(long)]
        lead: String,
        /// A new file for the lead's token, readable by you alone, instead of standard output
        #[arg(long, value_name = "FILE")]
        into: Option<PathBuf>,
    },
    /// Every shop: when it was opened, and how far its journal goes
    Shops,
    /// Issue a new lead's token for a shop whose lead lost theirs
    ReplaceLead {
        /// The shop's id, as 'operator shops' shows it
        shop: String,
        /// For whom, by name or id; the shop's first lead when left out
        #[arg(long)]
        person: Option<String>,
        /// Revoke that person's other tokens
        #[arg(long)]
        revoke_others: bool,
        /// A new file for the token, readable by you alone, instead of standard output
        #[arg(long, value_name = "FILE")]
        into: Option<PathBuf>,
    },
}

/// Runs it.
pub async fn run(app: &App, command: Command) -> Outcome {
    match command {
        Command::Open { name, zone, lead, into } => {
            let keep = Keep::begin(into.as_deref())?;
            let answer = app.client.open_shop(OpenShopRequest { write: app.write().await?, name, zone, lead }).await?;
            let shown = OpenShopResponse { secret: String::new(), ..answer.clone() };
            keep.end(app, &answer, &shown, None, &answer.secret, &format!("shop {} is open", answer.shop))
        }
        Command::Shops => {
            let shops = all_pages!(app, list_shops, ListShopsRequest { page_size: PAGE, ..Default::default() }, shops);
            let mut table = Table::new("shops", &["shop", "opened, UTC", "facts#"]);
            for shop in &shops.shops {
                // An operator has no shop, and so no shop's zone.
                let opened = crate::moment::show(shop.opened_at.as_ref(), &jiff::tz::TimeZone::UTC);
                table.row([shop.shop.clone(), opened, shop.number.to_string()]);
            }
            app.show(&shops, &table)
        }
        Command::ReplaceLead { shop, person, revoke_others, into } => {
            let keep = Keep::begin(into.as_deref())?;
            let (write, person) = (app.write().await?, person.unwrap_or_default());
            let request = ReplaceLeadTokenRequest { write, shop, person, revoke_others };
            let answer = app.client.replace_lead_token(request).await?;
            let shown = ReplaceLeadTokenResponse { secret: String::new(), ..answer.clone() };
            keep.end(app, &answer, &shown, answer.receipt.as_ref(), &answer.secret, "the lead has a new token")
        }
    }
}
