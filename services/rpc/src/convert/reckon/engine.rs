//! Questions about engine condition and the cylinder head.

use super::{Question, chosen, said};
use leadhand_proto::v1;
use leadhand_reckoner::engine::{Compression, Cylinder, Heard, Ignition, LeakDown};
use leadhand_reckoner::head::{CompressionChange, Flatness, Point, Skim, surface_svg};
use leadhand_reckoner::{Amount, Answer, Kind, Refusal};

/// How the engine lights its fuel: by a spark when it is not said.
pub(super) fn ignition(value: i32) -> Result<Ignition, Refusal> {
    Ok(match chosen("ignition", value)? {
        Some(v1::Ignition::Compression) => Ignition::Compression,
        _ => Ignition::Spark,
    })
}

/// The same where nobody has to say.
pub(super) fn ignition_some(value: i32) -> Result<Option<Ignition>, Refusal> {
    Ok(if value == 0 { None } else { Some(ignition(value)?) })
}

impl Question for v1::ReckonCompressionRequest {
    fn reckon(&self) -> Result<Answer, Refusal> {
        let bank = |(at, bank): (usize, &v1::CylinderBank)| {
            let cylinder = |(index, one): (usize, &v1::CylinderReading)| {
                let field = format!("banks[{at}].cylinders[{index}]");
                Ok(Cylinder {
                    name: one.name.clone(),
                    dry: Amount::read(Kind::Pressure, &format!("{field}.dry"), &one.dry)?,
                    wet: said(Kind::Pressure, &format!("{field}.wet"), &one.wet)?,
                })
            };
            bank.cylinders.iter().enumerate().map(cylinder).collect::<Result<Vec<_>, Refusal>>()
        };
        let asked = Compression {
            banks: self.banks.iter().enumerate().map(bank).collect::<Result<_, _>>()?,
            ignition: Some(ignition(self.ignition)?),
            in_order: true,
            spread: said(Kind::Share, "spread", &self.spread)?,
            least: said(Kind::Pressure, "least", &self.least)?,
            rise: said(Kind::Share, "rise", &self.rise)?,
        };
        asked.reckon()
    }
}

/// Where it is heard or seen.
pub(super) fn heard_at(field: &str, value: i32) -> Result<Heard, Refusal> {
    match chosen(field, value)? {
        Some(v1::HeardAt::Throttle) => Ok(Heard::Throttle),
        Some(v1::HeardAt::Tailpipe) => Ok(Heard::Tailpipe),
        Some(v1::HeardAt::OilFiller) => Ok(Heard::OilFiller),
        Some(v1::HeardAt::Radiator) => Ok(Heard::Radiator),
        Some(v1::HeardAt::NextPlugHole) => Ok(Heard::NextPlugHole),
        Some(v1::HeardAt::Unspecified) | None => Err(super::unchosen(field)),
    }
}

impl Question for v1::ReckonLeakDownRequest {
    fn reckon(&self) -> Result<Answer, Refusal> {
        let heard = |(at, value): (usize, &i32)| heard_at(&format!("heard[{at}]"), *value);
        let asked = LeakDown {
            supply: Amount::read(Kind::Pressure, "supply", &self.supply)?,
            cylinder: Amount::read(Kind::Pressure, "cylinder", &self.cylinder)?,
            orifice: said(Kind::Length, "orifice", &self.orifice)?,
            sound: said(Kind::Share, "sound", &self.sound)?,
            heard: self.heard.iter().enumerate().map(heard).collect::<Result<_, _>>()?,
        };
        asked.reckon()
    }
}

/// The flatness of a face, and its picture where one is wanted.
pub fn flatness(asked: &v1::ReckonFlatnessRequest) -> Result<(Answer, Option<String>), Refusal> {
    let point = |(at, point): (usize, &v1::SurfacePoint)| {
        // The field is named only when it is wrong, since there may be thousands.
        let read = |axis: &str, text: &str| {
            Amount::read(Kind::Length, "", text)
                .or_else(|_| Amount::read(Kind::Length, &format!("points[{at}].{axis}"), text))
        };
        Ok(Point { x: read("x", &point.x)?, y: read("y", &point.y)?, z: read("z", &point.z)? })
    };
    let points = asked.points.iter().enumerate().map(point).collect::<Result<Vec<_>, Refusal>>()?;
    let limit = said(Kind::Length, "limit", &asked.limit)?;
    let picture = if asked.picture { Some(surface_svg(&points)?) } else { None };
    Ok((Flatness { points, limit }.reckon()?, picture))
}

impl Question for v1::ReckonSkimRequest {
    fn reckon(&self) -> Result<Answer, Refusal> {
        let asked = Skim {
            height: Amount::read(Kind::Length, "height", &self.height)?,
            least_height: Amount::read(Kind::Length, "least_height", &self.least_height)?,
            cut: Amount::read(Kind::Length, "cut", &self.cut)?,
        };
        asked.reckon()
    }
}

impl Question for v1::ReckonCompressionChangeRequest {
    fn reckon(&self) -> Result<Answer, Refusal> {
        let asked = CompressionChange {
            bore: Amount::read(Kind::Length, "bore", &self.bore)?,
            stroke: Amount::read(Kind::Length, "stroke", &self.stroke)?,
            ratio: Amount::read_ratio("ratio", &self.ratio)?,
            cut: Amount::read(Kind::Length, "cut", &self.cut)?,
            chamber: said(Kind::Share, "chamber", &self.chamber)?,
            gasket: said(Kind::Length, "gasket", &self.gasket)?,
        };
        asked.reckon()
    }
}
