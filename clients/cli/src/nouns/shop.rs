//! `leadhand shop` and `leadhand whoami`.

use crate::app::App;
use crate::failure::{Failure, Outcome};
use crate::hours;
use crate::moment::{self, parse_day};
use crate::out::Table;
use crate::words::word;
use clap::{ArgGroup, Args, Subcommand};
use leadhand_sdk::v1::{
    BayKind, GetCalendarRequest, GetShopRequest, Role, SetDayRequest, SetHoursRequest, SetShiftRequest, SetYardRequest,
    WhoAmIRequest,
};

/// The shop, its hours and its calendar.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// The shop, its bays and its persons
    Show,
    /// Weekly shop hours
    #[command(subcommand)]
    Hours(HoursCommand),
    /// The hours of one day
    #[command(subcommand)]
    Day(DayCommand),
    /// A person's weekly shift
    #[command(subcommand)]
    Shift(ShiftCommand),
    /// Places outside, and how long it takes to move a vehicle; plans go by that
    #[command(subcommand)]
    Yard(YardCommand),
    /// What was said about hours and days, and the open hours that follow from it
    Calendar(Calendar),
}

/// Weekly shop hours.
#[derive(Debug, Subcommand)]
pub enum HoursCommand {
    /// Set weekly hours from a day on; days that are not named are closed
    Set(Week),
}

/// A week from a day on.
#[derive(Debug, Args)]
pub struct Week {
    /// Days and hours, such as 'mon-fri 08:00-12:00,13:00-17:00'
    #[arg(required = true, value_parser = hours::parse_week, value_name = "WEEK")]
    week: Vec<hours::Days>,
    /// The first day; today when left out
    #[arg(long, value_parser = parse_day, value_name = "DAY")]
    from: Option<String>,
}

/// The hours of one day.
#[derive(Debug, Subcommand)]
pub enum DayCommand {
    /// Set one day's hours, or close it
    Set {
        /// The day, YYYY-MM-DD
        #[arg(value_parser = parse_day)]
        day: String,
        /// Its hours, such as 08:00-12:00,13:00-15:00
        #[arg(value_parser = hours::parse_day, required_unless_present = "closed")]
        hours: Option<hours::Hours>,
        /// The shop is closed on it
        #[arg(long, conflicts_with = "hours")]
        closed: bool,
        /// Why
        #[arg(long, default_value = "", hide_default_value = true)]
        reason: String,
    },
}

/// A person's weekly shift.
#[derive(Debug, Subcommand)]
pub enum ShiftCommand {
    /// Set a person's weekly shift from a day on; it counts while the shop is open, and what is beyond that is overtime
    Set {
        /// The person, by name or id
        person: String,
        /// The week
        #[command(flatten)]
        week: Week,
    },
}

/// Places outside, and how long it takes to move a vehicle.
#[derive(Debug, Subcommand)]
pub enum YardCommand {
    /// Say how many vehicles may stand outside between stages, how long it takes to move one, or both
    #[command(group = ArgGroup::new("what_is_said").args(["places", "moving"]).required(true).multiple(true))]
    Set {
        /// Vehicles that may stand outside between stages
        #[arg(long)]
        places: Option<i32>,
        /// Minutes to roll a vehicle out, to bring one in that stands outside, or to take it to another bay; in a plan
        /// one that comes to the shop and goes straight into a bay takes none
        #[arg(long, value_name = "MINUTES")]
        moving: Option<i32>,
    },
}

/// Which calendar.
#[derive(Debug, Args)]
pub struct Calendar {
    /// Whose shift, by name or id, while the shop is open; the shop's hours when left out
    #[arg(long)]
    person: Option<String>,
    /// From when; now when left out
    #[arg(long, value_name = "TIME")]
    from: Option<String>,
    /// Until when; 14 days later when left out
    #[arg(long, value_name = "TIME")]
    until: Option<String>,
}

/// Runs it.
pub async fn run(app: &App, command: Command) -> Outcome {
    match command {
        Command::Show => show(app).await,
        Command::Hours(HoursCommand::Set(week)) => set_hours(app, week).await,
        Command::Day(DayCommand::Set { day, hours, reason, closed: _ }) => {
            let said = match &hours {
                Some(hours) => format!("{day}: the shop is open {}", hours::told(hours)),
                None => format!("{day}: the shop is closed"),
            };
            let write = app.write().await?;
            let request = SetDayRequest { write, day, hours: hours.unwrap_or_default(), reason };
            let answer = app.client.set_day(request).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &said)
        }
        Command::Shift(ShiftCommand::Set { person, week }) => set_shift(app, person, week).await,
        Command::Yard(YardCommand::Set { places, moving }) => set_yard(app, places, moving).await,
        Command::Calendar(which) => calendar(app, which).await,
    }
}

async fn show(app: &App) -> Outcome {
    let shop = app.client.get_shop(GetShopRequest {}).await?;
    if app.out.is_json() {
        return crate::out::json(&shop);
    }
    crate::out::line(&crate::out::clean(&format!("{}, {}, fact {}", shop.name, shop.zone, shop.number)))?;
    crate::out::line(&format!(
        "{} vehicle(s) may stand outside between stages; moving one takes {} min",
        shop.places_outside, shop.moving_minutes
    ))?;
    let mut bays = Table::new("bays", &["bay", "name", "kind", "kg#"]).when_empty(super::bay::NONE);
    for bay in shop.bays {
        bays.row([bay.bay, bay.name, word::<BayKind>(bay.kind), super::bay::rated(bay.rated_kg)]);
    }
    crate::out::line("")?;
    app.out.table(&bays)?;
    crate::out::line("")?;
    app.out.table(&super::person::table(shop.persons))
}

/// `leadhand whoami`.
pub async fn whoami(app: &App) -> Outcome {
    let who = app.client.who_am_i(WhoAmIRequest {}).await?;
    if app.out.is_json() {
        return crate::out::json(&who);
    }
    let zone = app.zone().await?;
    let mut table = Table::new("holder", &["name", "role", "shop", "token expires", "server"]);
    let name = if who.person.is_empty() { format!("{} (a device)", who.name) } else { who.name };
    let expires = match &who.expires_at {
        Some(at) => moment::show(Some(at), zone),
        None => "never".to_owned(),
    };
    table.row([name.trim().to_owned(), word::<Role>(who.role), who.shop_name, expires, who.server_version]);
    app.out.table(&table)
}

async fn set_yard(app: &App, places_outside: Option<i32>, moving_minutes: Option<i32>) -> Outcome {
    let parts = [
        places_outside.map(|places| format!("{places} vehicle(s) may stand outside")),
        moving_minutes.map(|minutes| format!("moving one takes {minutes} min")),
    ];
    let said = parts.into_iter().flatten().collect::<Vec<_>>().join(", ");
    let answer =
        app.client.set_yard(SetYardRequest { write: app.write().await?, places_outside, moving_minutes }).await?;
    app.done(&answer, answer.receipt.as_ref(), None, &said)
}

async fn set_hours(app: &App, week: Week) -> Outcome {
    let from_day = app.day(week.from).await?;
    let said = format!("the shop's hours from {from_day} on: {}", hours::week_told(&week.week));
    let week = hours::join(week.week).map_err(Failure::Usage)?;
    let answer = app.client.set_hours(SetHoursRequest { write: app.write().await?, from_day, week }).await?;
    app.done(&answer, answer.receipt.as_ref(), None, &said)
}

async fn set_shift(app: &App, person: String, week: Week) -> Outcome {
    let from_day = app.day(week.from).await?;
    let said = format!("the shift of {person} from {from_day} on: {}", hours::week_told(&week.week));
    let week = hours::join(week.week).map_err(Failure::Usage)?;
    let request = SetShiftRequest { write: app.write().await?, person, from_day, week };
    let answer = app.client.set_shift(request).await?;
    app.done(&answer, answer.receipt.as_ref(), None, &said)
}

async fn calendar(app: &App, which: Calendar) -> Outcome {
    let request = GetCalendarRequest {
        person: which.person.unwrap_or_default(),
        from_at: app.moment_if(which.from.as_deref()).await?,
        until_at: app.moment_if(which.until.as_deref()).await?,
    };
    let calendar = app.client.get_calendar(request).await?;
    if app.out.is_json() {
        return crate::out::json(&calendar);
    }
    let zone = app.zone().await?;
    let mut said = Table::new("calendar entries", &["revision#", "what was said", "fact#"])
        .when_empty("no hours were said yet; 'leadhand shop hours set' and 'leadhand shop shift set' do that");
    for statement in calendar.statements {
        said.row([statement.revision.to_string(), statement.text, statement.number.to_string()]);
    }
    app.out.table(&said)?;
    crate::out::line("")?;
    let mut windows =
        Table::new("open hours", &["from", "until", "length#"]).when_empty("nothing is open in that time");
    for window in calendar.windows {
        let length = match (&window.from_at, &window.until_at) {
            (Some(from), Some(until)) => moment::show_length(until.seconds - from.seconds),
            _ => String::new(),
        };
        windows.row([
            moment::show(window.from_at.as_ref(), zone),
            moment::show(window.until_at.as_ref(), zone),
            length,
        ]);
    }
    app.out.table(&windows)
}
