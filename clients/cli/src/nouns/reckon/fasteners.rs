//! Threads, bolts, torque and spanners.

use super::{answered, grid, or_none};
use crate::app::App;
use crate::failure::{Failure, Outcome};
use clap::{ArgGroup, Args, Subcommand};
use leadhand_sdk::v1::{
    Bearing, Friction, LayoutBolt, ManufacturersFigure, ReckonAcrossFlatsRequest, ReckonAdapterRequest,
    ReckonConversionRequest, ReckonPreloadRequest, ReckonSequenceRequest, ReckonShortFormRequest, ReckonSpannerRequest,
    ReckonStrengthRequest, ReckonThreadRequest, ReckonThreadsOfHeadRequest, ReckonTorqueRequest,
    ReckonTorqueThenAngleRequest,
};
use std::path::PathBuf;

/// Threads, bolts, torque and spanners.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// A quantity in another unit
    #[command(after_help = "Example: leadhand reckon convert '70 lbf.ft' Nm")]
    Convert {
        /// What is to be converted
        #[arg(allow_hyphen_values = true)]
        amount: String,
        /// Into which unit
        into: String,
    },
    /// The geometry of a metric thread
    #[command(after_help = "Example: leadhand reckon thread M10x1.25")]
    Thread {
        /// The thread
        thread: String,
    },
    /// What a bolt of a size and class bears
    #[command(after_help = "Example: leadhand reckon strength M8 8.8")]
    Strength {
        /// The thread
        thread: String,
        /// What is stamped on its head
        class: String,
        #[command(flatten)]
        maker: Manufacturer,
    },
    /// The torque for a wanted preload
    #[command(after_help = "Examples:\n  leadhand reckon torque M10 10.9 --preload 75% --friction 0.12\n  \
                            leadhand reckon torque M10 10.9 --preload 36kN --friction 0.14 --face 14.6mm --hole 11mm \
                            --manufacturer torque=58Nm")]
    Torque(Torque),
    /// The preload that a torque gives, with its scatter
    #[command(after_help = "Examples:\n  leadhand reckon preload M10 10.9 59Nm --least 0.10 --most 0.16\n  \
                            leadhand reckon preload M10 10.9 59Nm --least 0.10 --most 0.16 --head-least 0.08 \
                            --head-most 0.12")]
    Preload(Preload),
    /// The torque by the short form K·d·F, and where it overtightens
    #[command(after_help = "Example: leadhand reckon short-form M10 36kN --k 0.2 --friction 0.12 --class 10.9")]
    ShortForm(ShortForm),
    /// What to set on a torque wrench that turns through an adapter
    #[command(after_help = "Examples:\n  leadhand reckon adapter 80Nm --wrench 400mm --adapter 50mm\n  \
                            leadhand reckon adapter '59 lbf.ft' --wrench 400mm --adapter 2in --angle 45deg")]
    Adapter {
        /// The torque that the fastener is to have
        torque: String,
        /// From the wrench's square drive to the middle of the grip
        #[arg(long, value_name = "LENGTH")]
        wrench: String,
        /// From the square drive to the middle of the fastener
        #[arg(long, value_name = "LENGTH")]
        adapter: String,
        /// Of the adapter: 0° in line with the wrench, 90° square, 180° folded back
        #[arg(long, value_name = "ANGLE", default_value = "0°", allow_hyphen_values = true)]
        angle: String,
    },
    /// The force at the end of a spanner, or how long it has to be
    #[command(after_help = "Examples:\n  leadhand reckon spanner 60Nm --length 350mm\n  \
                            leadhand reckon spanner 60Nm --most 250N")]
    #[command(group = ArgGroup::new("what_is_known").args(["length", "most"]).required(true).multiple(true))]
    Spanner {
        /// The torque
        torque: String,
        /// From the fastener to the hand
        #[arg(long, value_name = "LENGTH")]
        length: Option<String>,
        /// The most that the hand is to pull: how long it has to be then
        #[arg(long, value_name = "FORCE")]
        most: Option<String>,
    },
    /// What each stage of a tightening by torque and angles reaches
    #[command(after_help = "Examples:\n  leadhand reckon angle M10x1.25 10.9 --seated 10kN --length 110mm 90 90\n  \
                            leadhand reckon angle M10x1.25 10.9 --seated 30Nm --friction 0.12 --length 110mm 90deg 90deg")]
    Angle(Angle),
    /// In which order the bolts of a layout are tightened and undone
    #[command(after_help = "Examples:\n  leadhand reckon sequence --grid 2x5\n  \
                            leadhand reckon sequence bolts.csv      with lines such as A1,0 mm,90 mm")]
    Sequence {
        /// A file with a bolt a line, name, place along, place across; - for standard input
        #[arg(required_unless_present = "grid", value_name = "FILE")]
        file: Option<PathBuf>,
        /// So many rows of so many columns, such as 2x5; row A is the top one
        #[arg(long, conflicts_with = "file", value_name = "ROWSxCOLUMNS", value_parser = grid::parse_grid)]
        grid: Option<(usize, usize)>,
        /// The unit of places that have none
        #[arg(long, default_value = "mm")]
        unit: String,
    },
    /// The usual widths across flats for a thread
    #[command(after_help = "Example: leadhand reckon across-flats M8")]
    AcrossFlats {
        /// The thread
        thread: String,
        #[command(flatten)]
        maker: Manufacturer,
    },
    /// The threads that a head of a width may belong to
    #[command(after_help = "Example: leadhand reckon head 12mm")]
    Head {
        /// Width across flats
        width: String,
    },
}

/// The manufacturer's figure, which comes first.
#[derive(Debug, Args)]
pub struct Manufacturer {
    /// The manufacturer's figure in the place of a reckoned one, such as torque=58Nm; once for each
    #[arg(long = "manufacturer", value_name = "FIGURE=VALUE", value_parser = parse_manufacturer)]
    figures: Vec<ManufacturersFigure>,
}

impl Manufacturer {
    /// For the contract.
    pub fn figures(self) -> Vec<ManufacturersFigure> {
        self.figures
    }
}

fn parse_manufacturer(text: &str) -> Result<ManufacturersFigure, String> {
    let (figure, value) = text.split_once('=').ok_or("write the figure's name and its value, such as torque=58Nm")?;
    Ok(ManufacturersFigure { figure: figure.trim().to_owned(), value: value.trim().to_owned() })
}

/// Friction.
#[derive(Debug, Args)]
pub struct Rubs {
    /// Friction in the thread and under the head alike, such as 0.12
    #[arg(long, value_name = "NUMBER")]
    friction: Option<String>,
    /// Friction under the head, where it is another than in the thread
    #[arg(long, requires = "friction", value_name = "NUMBER")]
    head_friction: Option<String>,
}

impl Rubs {
    /// For the contract, when it was said.
    pub fn friction(&self) -> Option<Friction> {
        let thread = self.friction.clone()?;
        let bearing = self.head_friction.clone().unwrap_or_else(|| thread.clone());
        Some(Friction { thread, bearing })
    }
}

/// What a head rests on.
#[derive(Debug, Args)]
pub struct Rests {
    /// Outer diameter of the face that turns; a plain hexagon head's when left out
    #[arg(long, requires = "hole", value_name = "LENGTH")]
    face: Option<String>,
    /// Diameter of the hole under it
    #[arg(long, requires = "face", value_name = "LENGTH")]
    hole: Option<String>,
}

impl Rests {
    fn bearing(&self) -> Option<Bearing> {
        Some(Bearing { face: self.face.clone()?, hole: self.hole.clone()? })
    }
}

/// Friction, and what a head rests on.
#[derive(Debug, Args)]
pub struct Contact {
    #[command(flatten)]
    rubs: Rubs,
    #[command(flatten)]
    rests: Rests,
}

/// A torque for a preload.
#[derive(Debug, Args)]
pub struct Torque {
    /// The thread
    thread: String,
    /// What is stamped on the bolt's head
    class: String,
    /// How tight: a force, or a share of the proof load
    #[arg(long, default_value = "75%", value_name = "FORCE|SHARE")]
    preload: String,
    #[command(flatten)]
    contact: Contact,
    #[command(flatten)]
    maker: Manufacturer,
}

/// A preload from a torque.
#[derive(Debug, Args)]
pub struct Preload {
    /// The thread
    thread: String,
    /// What is stamped on the bolt's head
    class: String,
    /// The torque at the wrench
    torque: String,
    /// The least friction to reckon with
    #[arg(long, value_name = "NUMBER")]
    least: String,
    /// The most
    #[arg(long, value_name = "NUMBER")]
    most: String,
    /// The least friction under the head, where it is another than in the thread
    #[arg(long, value_name = "NUMBER")]
    head_least: Option<String>,
    /// The most under the head
    #[arg(long, value_name = "NUMBER")]
    head_most: Option<String>,
    /// How far the wrench may be off, either way; 4 % when left out
    #[arg(long, value_name = "SHARE")]
    wrench: Option<String>,
    #[command(flatten)]
    rests: Rests,
}

/// A torque by the short form.
#[derive(Debug, Args)]
pub struct ShortForm {
    /// The thread
    thread: String,
    /// The wanted force
    preload: String,
    /// The nut factor; 0.2 when left out
    #[arg(long, value_name = "NUMBER")]
    k: Option<String>,
    /// The bolt's class, to be told when its proof load is exceeded
    #[arg(long)]
    class: Option<String>,
    #[command(flatten)]
    contact: Contact,
    #[command(flatten)]
    maker: Manufacturer,
}

/// A tightening by torque and angles.
#[derive(Debug, Args)]
pub struct Angle {
    /// The thread
    thread: String,
    /// What is stamped on the bolt's head
    class: String,
    /// The angles, one after the other
    #[arg(required = true)]
    angles: Vec<String>,
    /// How it is seated first: a force, or a torque at a friction
    #[arg(long, value_name = "FORCE|TORQUE")]
    seated: String,
    /// The length of bolt that stretches
    #[arg(long)]
    length: String,
    /// The bolt's elastic modulus; 205 GPa when left out
    #[arg(long, value_name = "PRESSURE")]
    modulus: Option<String>,
    /// How many times stiffer the clamped parts are than the bolt; 5 when left out
    #[arg(long, value_name = "NUMBER")]
    joint: Option<String>,
    #[command(flatten)]
    contact: Contact,
}

/// Runs it.
pub async fn run(app: &App, command: Command) -> Outcome {
    match command {
        Command::Convert { amount, into } => {
            answered!(app, reckon_conversion(ReckonConversionRequest { amount, into }))
        }
        Command::Thread { thread } => answered!(app, reckon_thread(ReckonThreadRequest { thread })),
        Command::Strength { thread, class, maker } => {
            let manufacturer = maker.figures();
            answered!(app, reckon_strength(ReckonStrengthRequest { thread, class, manufacturer }))
        }
        Command::Torque(asked) => torque(app, asked).await,
        Command::Preload(asked) => preload(app, asked).await,
        Command::ShortForm(asked) => short_form(app, asked).await,
        Command::Adapter { torque, wrench, adapter, angle } => {
            answered!(app, reckon_adapter(ReckonAdapterRequest { torque, wrench, adapter, angle }))
        }
        Command::Spanner { torque, length, most } => {
            let (length, most) = (or_none(length), or_none(most));
            answered!(app, reckon_spanner(ReckonSpannerRequest { torque, length, most }))
        }
        Command::Angle(asked) => angle(app, asked).await,
        Command::Sequence { file, grid, unit } => {
            let bolts = bolts(file, grid, &unit)?;
            answered!(app, reckon_sequence(ReckonSequenceRequest { bolts }))
        }
        Command::AcrossFlats { thread, maker } => {
            let manufacturer = maker.figures();
            answered!(app, reckon_across_flats(ReckonAcrossFlatsRequest { thread, manufacturer }))
        }
        Command::Head { width } => answered!(app, reckon_threads_of_head(ReckonThreadsOfHeadRequest { width })),
    }
}

fn no_friction() -> Failure {
    Failure::Usage(
        "say the friction with --friction, such as 0.12 for oiled steel: one torque is another preload at each".into(),
    )
}

async fn torque(app: &App, asked: Torque) -> Outcome {
    let request = ReckonTorqueRequest {
        thread: asked.thread,
        class: asked.class,
        preload: asked.preload,
        friction: Some(asked.contact.rubs.friction().ok_or_else(no_friction)?),
        bearing: asked.contact.rests.bearing(),
        manufacturer: asked.maker.figures(),
    };
    answered!(app, reckon_torque(request))
}

async fn preload(app: &App, asked: Preload) -> Outcome {
    let request = ReckonPreloadRequest {
        thread: asked.thread,
        class: asked.class,
        torque: asked.torque,
        friction_least: asked.least,
        friction_most: asked.most,
        head_least: or_none(asked.head_least),
        head_most: or_none(asked.head_most),
        wrench: or_none(asked.wrench),
        bearing: asked.rests.bearing(),
    };
    answered!(app, reckon_preload(request))
}

async fn short_form(app: &App, asked: ShortForm) -> Outcome {
    let request = ReckonShortFormRequest {
        thread: asked.thread,
        preload: asked.preload,
        k: or_none(asked.k),
        class: or_none(asked.class),
        friction: asked.contact.rubs.friction(),
        bearing: asked.contact.rests.bearing(),
        manufacturer: asked.maker.figures(),
    };
    answered!(app, reckon_short_form(request))
}

async fn angle(app: &App, asked: Angle) -> Outcome {
    let request = ReckonTorqueThenAngleRequest {
        thread: asked.thread,
        class: asked.class,
        seated: asked.seated,
        friction: asked.contact.rubs.friction(),
        bearing: asked.contact.rests.bearing(),
        angles: asked.angles,
        length: asked.length,
        modulus: or_none(asked.modulus),
        joint: or_none(asked.joint),
    };
    answered!(app, reckon_torque_then_angle(request))
}

fn bolts(file: Option<PathBuf>, size: Option<(usize, usize)>, unit: &str) -> Outcome<Vec<LayoutBolt>> {
    match (file, size) {
        (Some(file), _) if !file.exists() && grid::parse_grid(&file.to_string_lossy()).is_ok() => {
            let size = file.display();
            Err(Failure::Usage(format!("there is no file '{size}'; for so many rows and columns write --grid {size}")))
        }
        (Some(file), _) => grid::bolts_of(&crate::app::read_text(&file)?, unit).map_err(Failure::Usage),
        (None, size) => Ok(grid::bolts_in_grid(size.unwrap_or_default())),
    }
}
