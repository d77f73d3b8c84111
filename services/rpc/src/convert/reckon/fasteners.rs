//! Questions about fasteners, and conversions.

use super::{Question, overridden, overridden_but, said};
use leadhand_proto::v1;
use leadhand_reckoner::fasteners::{
    AcrossFlats, Adapter, Bearing, Bolt, Friction, Preload, PreloadFromTorque, PropertyClass, Seated, Sequence,
    ShortForm, Spanner, Strength, Thread, ThreadsOfHead, TorqueFromPreload, TorqueThenAngle,
};
use leadhand_reckoner::quantity::Conversion;
use leadhand_reckoner::{Amount, Answer, Kind, Refusal};

pub(super) fn friction(said: Option<&v1::Friction>) -> Result<Friction, Refusal> {
    let nothing = v1::Friction::default();
    let said = said.unwrap_or(&nothing);
    Ok(Friction {
        thread: Amount::read(Kind::Number, "friction.thread", &said.thread)?,
        bearing: Amount::read(Kind::Number, "friction.bearing", &said.bearing)?,
    })
}

fn bearing(said: Option<&v1::Bearing>) -> Result<Option<Bearing>, Refusal> {
    let read = |said: &v1::Bearing| {
        Ok(Bearing {
            face: Amount::read(Kind::Length, "bearing.face", &said.face)?,
            hole: Amount::read(Kind::Length, "bearing.hole", &said.hole)?,
        })
    };
    said.map(read).transpose()
}

/// A force, or a share of the proof load: the unit says which.
pub(super) fn preload(text: &str) -> Result<Preload, Refusal> {
    if is_of(Kind::Share, text) {
        return Ok(Preload::OfProof(Amount::read(Kind::Share, "preload", text)?));
    }
    Ok(Preload::Force(Amount::read(Kind::Force, "preload", text)?))
}

/// Whether a text is a quantity of this kind.
pub(super) fn is_of(kind: Kind, text: &str) -> bool {
    Amount::read(kind, "", text).is_ok()
}

/// The manufacturer's torque, which the other figures follow; the last where several are given.
fn manufacturers_torque(figures: &[v1::ManufacturersFigure]) -> Result<Option<Amount>, Refusal> {
    let read = |(at, figure): (usize, &v1::ManufacturersFigure)| {
        Amount::read(Kind::Torque, &format!("manufacturer[{at}].value"), &figure.value)
    };
    let torques = figures.iter().enumerate().filter(|(_, figure)| figure.figure == "torque");
    Ok(torques.map(read).collect::<Result<Vec<_>, _>>()?.pop())
}

impl Question for v1::ReckonConversionRequest {
    fn reckon(&self) -> Result<Answer, Refusal> {
        Conversion { amount: Amount::read_any("amount", &self.amount)?, into: self.into.clone() }.reckon()
    }
}

impl Question for v1::ReckonThreadRequest {
    fn reckon(&self) -> Result<Answer, Refusal> {
        Thread::read("thread", &self.thread)?.reckon()
    }
}

impl Question for v1::ReckonStrengthRequest {
    fn reckon(&self) -> Result<Answer, Refusal> {
        let asked = Strength {
            thread: Thread::read("thread", &self.thread)?,
            class: PropertyClass::read("class", &self.class)?,
        };
        overridden(asked.reckon()?, &self.manufacturer)
    }
}

impl Question for v1::ReckonTorqueRequest {
    fn reckon(&self) -> Result<Answer, Refusal> {
        let asked = TorqueFromPreload {
            thread: Thread::read("thread", &self.thread)?,
            class: PropertyClass::read("class", &self.class)?,
            preload: Some(preload(&self.preload)?),
            friction: Some(friction(self.friction.as_ref())?),
            bearing: bearing(self.bearing.as_ref())?,
            maker: manufacturers_torque(&self.manufacturer)?,
        };
        overridden_but(asked.reckon()?, &self.manufacturer, "torque")
    }
}

impl Question for v1::ReckonPreloadRequest {
    fn reckon(&self) -> Result<Answer, Refusal> {
        let asked = PreloadFromTorque {
            thread: Thread::read("thread", &self.thread)?,
            class: PropertyClass::read("class", &self.class)?,
            torque: Amount::read(Kind::Torque, "torque", &self.torque)?,
            friction_least: Amount::read(Kind::Number, "friction_least", &self.friction_least)?,
            friction_most: Amount::read(Kind::Number, "friction_most", &self.friction_most)?,
            head_least: said(Kind::Number, "head_least", &self.head_least)?,
            head_most: said(Kind::Number, "head_most", &self.head_most)?,
            wrench: said(Kind::Share, "wrench", &self.wrench)?,
            bearing: bearing(self.bearing.as_ref())?,
        };
        asked.reckon()
    }
}

impl Question for v1::ReckonShortFormRequest {
    fn reckon(&self) -> Result<Answer, Refusal> {
        let class = (!self.class.is_empty()).then(|| PropertyClass::read("class", &self.class)).transpose()?;
        let asked = ShortForm {
            thread: Thread::read("thread", &self.thread)?,
            preload: Amount::read(Kind::Force, "preload", &self.preload)?,
            k: said(Kind::Number, "k", &self.k)?,
            class,
            friction: self.friction.as_ref().map(|said| friction(Some(said))).transpose()?,
            bearing: bearing(self.bearing.as_ref())?,
        };
        overridden(asked.reckon()?, &self.manufacturer)
    }
}

impl Question for v1::ReckonAdapterRequest {
    fn reckon(&self) -> Result<Answer, Refusal> {
        let asked = Adapter {
            torque: Amount::read(Kind::Torque, "torque", &self.torque)?,
            wrench: Amount::read(Kind::Length, "wrench", &self.wrench)?,
            adapter: Amount::read(Kind::Length, "adapter", &self.adapter)?,
            angle: said(Kind::Angle, "angle", &self.angle)?.unwrap_or_else(|| Amount::of(Kind::Angle, 0.0)),
        };
        asked.reckon()
    }
}

impl Question for v1::ReckonSpannerRequest {
    fn reckon(&self) -> Result<Answer, Refusal> {
        let asked = Spanner {
            torque: Amount::read(Kind::Torque, "torque", &self.torque)?,
            length: said(Kind::Length, "length", &self.length)?,
            most: said(Kind::Force, "most", &self.most)?,
        };
        asked.reckon()
    }
}

impl Question for v1::ReckonTorqueThenAngleRequest {
    fn reckon(&self) -> Result<Answer, Refusal> {
        let angle = |(at, text): (usize, &String)| Amount::read(Kind::Angle, &format!("angles[{at}]"), text);
        let bearing = bearing(self.bearing.as_ref())?;
        let seated = if is_of(Kind::Torque, &self.seated) {
            Seated::Torque {
                torque: Amount::read(Kind::Torque, "seated", &self.seated)?,
                friction: friction(self.friction.as_ref())?,
                bearing,
            }
        } else {
            let force = Amount::read(Kind::Force, "seated", &self.seated)?;
            let beside = [("friction", self.friction.is_some()), ("bearing", bearing.is_some())];
            if let Some((field, _)) = beside.into_iter().find(|(_, said)| *said) {
                return Err(Refusal::Contradiction {
                    field: field.to_owned(),
                    problem: "it says what a seating torque comes to, and the bolt is seated to a force".to_owned(),
                    todo: "leave it out, or give the torque".to_owned(),
                });
            }
            Seated::Preload(force)
        };
        let asked = TorqueThenAngle {
            thread: Thread::read("thread", &self.thread)?,
            class: PropertyClass::read("class", &self.class)?,
            seated,
            angles: self.angles.iter().enumerate().map(angle).collect::<Result<_, _>>()?,
            length: Amount::read(Kind::Length, "length", &self.length)?,
            modulus: said(Kind::Pressure, "modulus", &self.modulus)?,
            joint: said(Kind::Number, "joint", &self.joint)?,
        };
        asked.reckon()
    }
}

impl Question for v1::ReckonSequenceRequest {
    fn reckon(&self) -> Result<Answer, Refusal> {
        let bolt = |(at, bolt): (usize, &v1::LayoutBolt)| {
            Ok(Bolt {
                name: bolt.name.clone(),
                x: Amount::read(Kind::Length, &format!("bolts[{at}].x"), &bolt.x)?,
                y: Amount::read(Kind::Length, &format!("bolts[{at}].y"), &bolt.y)?,
            })
        };
        Sequence { bolts: self.bolts.iter().enumerate().map(bolt).collect::<Result<_, Refusal>>()? }.reckon()
    }
}

impl Question for v1::ReckonAcrossFlatsRequest {
    fn reckon(&self) -> Result<Answer, Refusal> {
        let answer = AcrossFlats { thread: Thread::read("thread", &self.thread)? }.reckon()?;
        overridden(answer, &self.manufacturer)
    }
}

impl Question for v1::ReckonThreadsOfHeadRequest {
    fn reckon(&self) -> Result<Answer, Refusal> {
        ThreadsOfHead { width: Amount::read(Kind::Length, "width", &self.width)? }.reckon()
    }
}
