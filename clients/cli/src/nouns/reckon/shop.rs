//! Lifting, wheels, plain formulas, and what the trade does.

use super::{answered, job, or_none};
use crate::app::App;
use crate::failure::Outcome;
use crate::words::parse;
use clap::{Args, Subcommand};
use leadhand_sdk::v1::{
    Grip, KnownDuration, Lasting, LeadsDirection, LiftCircumstance, ReadingKind, ReckonBatteryLeadsRequest,
    ReckonBladeFuseRequest, ReckonDurationsRequest, ReckonEarnedValueRequest, ReckonLiftRequest,
    ReckonOrderQuantityRequest, ReckonPertRequest, ReckonReadingsRequest, ReckonReorderPointRequest,
    ReckonRoundedHeadRequest, ReckonRunOutRequest, ReckonStarRequest, ThreePointTask,
};

/// Lifting, wheels, plain formulas, and what the trade does.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// How much one person should lift: one person, two, or a hoist
    #[command(after_help = "Example: leadhand reckon lift 14kg --reach 40cm --from 20cm --to 95cm --grip fair")]
    Lift(Lift),
    /// In which order the nuts of a wheel are tightened, counted clockwise as you face it
    #[command(after_help = "Example: leadhand reckon star 5")]
    Star {
        /// How many studs
        studs: i32,
    },
    /// A run-out: typed, or as the job has it
    #[command(after_help = "Examples:\n  leadhand reckon run-out 0.08mm --limit 0.05mm --hub 0.03mm\n  \
                            leadhand reckon run-out --job 12")]
    RunOut {
        /// Highest less lowest in one turn
        #[arg(required_unless_present = "job", conflicts_with = "job")]
        measured: Option<String>,
        /// What the maker allows; the range of common limits when left out
        #[arg(long, value_name = "LENGTH", conflicts_with = "job")]
        limit: Option<String>,
        /// The hub's own, where it was measured
        #[arg(long, value_name = "LENGTH", conflicts_with = "job")]
        hub: Option<String>,
        #[command(flatten)]
        of: job::OfJob,
    },
    /// Three-point times of tasks one after the other
    #[command(after_help = "Examples:\n  leadhand reckon pert 1/2/3 2/3/4 4/7/14 --due 16\n  \
                            leadhand reckon pert 30min/45min/90min 1h/2h/3h --due 4h")]
    Pert {
        /// A task's best, most likely and worst time: each with its unit, or all of them numbers of one unit
        #[arg(required = true, value_name = "BEST/LIKELY/WORST", value_parser = parse_task)]
        tasks: Vec<ThreePointTask>,
        /// After how long all is to be done
        #[arg(long, value_name = "TIME")]
        due: Option<String>,
    },
    /// How long something lasts, by how long it lasted; what still runs counts as at least as long
    #[command(after_help = "Examples:\n  leadhand reckon lasts 2h 3.5h 3.5h+ 4h 4h 5.5h+ 6h 8h+ --due 5h\n  \
                            leadhand reckon lasts 95min 110min 128min 140min 155min")]
    Lasts {
        /// How long each lasted: each with its unit, or all of them numbers of one unit; with + behind it, it still runs
        #[arg(required = true, value_name = "TIME[+]", value_parser = parse_known)]
        times: Vec<KnownDuration>,
        /// After how long one is to be done
        #[arg(long, value_name = "TIME")]
        due: Option<String>,
    },
    /// At how much left an item is ordered again
    #[command(
        after_help = "Example: leadhand reckon reorder --demand 5 --demand-deviation 2 --lead-time 3 --service 95%"
    )]
    Reorder {
        /// Used in a unit of time, on average
        #[arg(long, value_name = "NUMBER")]
        demand: String,
        /// Its standard deviation; as if nothing varied when left out, which the answer says
        #[arg(long, value_name = "NUMBER")]
        demand_deviation: Option<String>,
        /// How long an order takes, on average
        #[arg(long, value_name = "NUMBER")]
        lead_time: String,
        /// Its standard deviation; as if nothing varied when left out, which the answer says
        #[arg(long, value_name = "NUMBER")]
        lead_time_deviation: Option<String>,
        /// In how many per cent of the cycles it may not run out
        #[arg(long, value_name = "SHARE")]
        service: String,
    },
    /// How much is ordered at once
    #[command(after_help = "Example: leadhand reckon order --demand 1000 --order-cost 10 --holding-cost 0.5")]
    Order {
        /// Used in a year
        #[arg(long, value_name = "NUMBER")]
        demand: String,
        /// What an order costs
        #[arg(long, value_name = "NUMBER")]
        order_cost: String,
        /// What one costs to keep for a year
        #[arg(long, value_name = "NUMBER")]
        holding_cost: String,
    },
    /// What a job will cost in the end, by its indices
    #[command(after_help = "Example: leadhand reckon earned --planned 14 --earned 11 --actual 13 --budget 22")]
    Earned {
        /// Of the work that should be done by now, its planned cost
        #[arg(long, value_name = "NUMBER")]
        planned: String,
        /// Of the work that is done, its planned cost
        #[arg(long, value_name = "NUMBER")]
        earned: String,
        /// What was spent
        #[arg(long, value_name = "NUMBER")]
        actual: String,
        /// The planned cost of all
        #[arg(long, value_name = "NUMBER")]
        budget: String,
    },
    /// Which colour a blade fuse has
    #[command(after_help = "Example: leadhand reckon fuse 15A")]
    Fuse {
        /// Its rating
        rating: String,
    },
    /// How a rounded head is undone
    #[command(after_help = "Example: leadhand reckon rounded 12mm")]
    Rounded {
        /// What it was across flats
        width: String,
    },
    /// In which order the leads of a battery go: off or on
    #[command(after_help = "Example: leadhand reckon battery off")]
    Battery {
        /// Whether they come off or go on
        #[arg(value_parser = parse::<LeadsDirection>)]
        direction: LeadsDirection,
    },
}

/// A lift.
#[derive(Debug, Args)]
pub struct Lift {
    /// What is lifted
    load: String,
    /// From between the ankles to the hands, out in front
    #[arg(long, value_name = "LENGTH")]
    reach: String,
    /// Height of the hands above the floor where the lift begins
    #[arg(long, value_name = "LENGTH")]
    from: String,
    /// And where it ends
    #[arg(long, value_name = "LENGTH")]
    to: String,
    /// Out in front where it ends, when it has to be put down with care
    #[arg(long, value_name = "LENGTH")]
    reach_at_end: Option<String>,
    /// How far the body turns; not at all when left out
    #[arg(long, value_name = "ANGLE")]
    twist: Option<String>,
    /// How it is held: good, fair or poor
    #[arg(long, value_parser = parse::<Grip>)]
    grip: Grip,
    /// Lifts a minute; once in five minutes when left out
    #[arg(long, value_name = "NUMBER")]
    per_minute: Option<String>,
    /// How long it goes on: hour, two-hours or eight-hours
    #[arg(long, value_parser = parse::<Lasting>, default_value = "hour")]
    lasting: Lasting,
    /// What else is so, such as one-handed, cramped or unstable: for that there is no answer
    #[arg(long = "but", value_parser = parse::<LiftCircumstance>, value_name = "CIRCUMSTANCE")]
    circumstances: Vec<LiftCircumstance>,
}

fn parse_task(text: &str) -> Result<ThreePointTask, String> {
    match text.split('/').map(str::trim).collect::<Vec<_>>().as_slice() {
        [best, likely, worst] => {
            let [best, likely, worst] = [best, likely, worst].map(|time| (*time).to_owned());
            Ok(ThreePointTask { best, likely, worst })
        }
        _ => Err("write best, most likely and worst time, such as 1/2/3".to_owned()),
    }
}

#[allow(clippy::unnecessary_wraps, reason = "clap asks for a result")]
fn parse_known(text: &str) -> Result<KnownDuration, String> {
    let (time, running) = text.trim().strip_suffix('+').map_or((text, false), |time| (time, true));
    Ok(KnownDuration { time: time.trim().to_owned(), running })
}

/// Runs it.
pub async fn run(app: &App, command: Command) -> Outcome {
    match command {
        Command::Lift(asked) => lift(app, asked).await,
        Command::Star { studs } => answered!(app, reckon_star(ReckonStarRequest { studs })),
        Command::RunOut { of, .. } if of.is_said() => {
            job::readings(app, of, ReadingKind::RunOut, ReckonReadingsRequest::default(), None).await
        }
        Command::RunOut { measured, limit, hub, .. } => {
            let (measured, limit, hub) = (or_none(measured), or_none(limit), or_none(hub));
            answered!(app, reckon_run_out(ReckonRunOutRequest { measured, limit, hub }))
        }
        Command::Pert { tasks, due } => answered!(app, reckon_pert(ReckonPertRequest { tasks, due: or_none(due) })),
        Command::Lasts { times, due } => {
            answered!(app, reckon_durations(ReckonDurationsRequest { times, due: or_none(due) }))
        }
        Command::Reorder { demand, demand_deviation, lead_time, lead_time_deviation, service } => {
            let (demand_deviation, lead_time_deviation) = (or_none(demand_deviation), or_none(lead_time_deviation));
            let request =
                ReckonReorderPointRequest { demand, demand_deviation, lead_time, lead_time_deviation, service };
            answered!(app, reckon_reorder_point(request))
        }
        Command::Order { demand, order_cost, holding_cost } => {
            answered!(app, reckon_order_quantity(ReckonOrderQuantityRequest { demand, order_cost, holding_cost }))
        }
        Command::Earned { planned, earned, actual, budget } => {
            answered!(app, reckon_earned_value(ReckonEarnedValueRequest { planned, earned, actual, budget }))
        }
        Command::Fuse { rating } => answered!(app, reckon_blade_fuse(ReckonBladeFuseRequest { rating })),
        Command::Rounded { width } => answered!(app, reckon_rounded_head(ReckonRoundedHeadRequest { width })),
        Command::Battery { direction } => {
            answered!(app, reckon_battery_leads(ReckonBatteryLeadsRequest { direction: direction.into() }))
        }
    }
}

async fn lift(app: &App, asked: Lift) -> Outcome {
    let request = ReckonLiftRequest {
        load: asked.load,
        reach: asked.reach,
        from: asked.from,
        to: asked.to,
        reach_at_end: or_none(asked.reach_at_end),
        twist: or_none(asked.twist),
        grip: asked.grip.into(),
        per_minute: or_none(asked.per_minute),
        lasting: asked.lasting.into(),
        circumstances: asked.circumstances.into_iter().map(i32::from).collect(),
    };
    answered!(app, reckon_lift(request))
}
