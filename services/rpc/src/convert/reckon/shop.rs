//! Questions about lifting, wheels, plain formulas and what the trade does.

use super::{Question, chosen, number, overridden, said, unchosen};
use leadhand_proto::v1;
use leadhand_reckoner::formulas::{Duration, Durations, EarnedValue, OrderQuantity, Pert, ReorderPoint, ThreePoints};
use leadhand_reckoner::lifting::{Circumstance, Grip, Lasting, Lift};
use leadhand_reckoner::practice::{BatteryLeads, BladeFuse, RoundedHead};
use leadhand_reckoner::wheels::{Recheck, RunOut, Star};
use leadhand_reckoner::{Amount, Answer, Kind, Refusal};

fn circumstance(at: usize, value: i32) -> Result<Circumstance, Refusal> {
    use v1::LiftCircumstance as Said;
    let field = format!("circumstances[{at}]");
    match chosen(&field, value)? {
        Some(Said::OneHanded) => Ok(Circumstance::OneHanded),
        Some(Said::SeatedOrKneeling) => Ok(Circumstance::SeatedOrKneeling),
        Some(Said::Cramped) => Ok(Circumstance::Cramped),
        Some(Said::Unstable) => Ok(Circumstance::Unstable),
        Some(Said::PushedOrPulled) => Ok(Circumstance::PushedOrPulled),
        Some(Said::FastMovement) => Ok(Circumstance::FastMovement),
        Some(Said::SlipperyFloor) => Ok(Circumstance::SlipperyFloor),
        Some(Said::HotOrCold) => Ok(Circumstance::HotOrCold),
        Some(Said::LongerThanEightHours) => Ok(Circumstance::LongerThanEightHours),
        Some(Said::Unspecified) | None => Err(unchosen(&field)),
    }
}

impl Question for v1::ReckonLiftRequest {
    fn reckon(&self) -> Result<Answer, Refusal> {
        let circumstances = self.circumstances.iter().enumerate().map(|(at, value)| circumstance(at, *value));
        let grip = match chosen("grip", self.grip)? {
            Some(v1::Grip::Good) => Grip::Good,
            Some(v1::Grip::Fair) => Grip::Fair,
            Some(v1::Grip::Poor) => Grip::Poor,
            Some(v1::Grip::Unspecified) | None => return Err(unchosen("grip")),
        };
        let lasting = match chosen("lasting", self.lasting)? {
            Some(v1::Lasting::Hour) => Lasting::Hour,
            Some(v1::Lasting::TwoHours) => Lasting::TwoHours,
            Some(v1::Lasting::EightHours) => Lasting::EightHours,
            Some(v1::Lasting::Unspecified) | None => return Err(unchosen("lasting")),
        };
        let asked = Lift {
            load: Amount::read(Kind::Mass, "load", &self.load)?,
            reach: Amount::read(Kind::Length, "reach", &self.reach)?,
            from: Amount::read(Kind::Length, "from", &self.from)?,
            to: Amount::read(Kind::Length, "to", &self.to)?,
            reach_at_end: said(Kind::Length, "reach_at_end", &self.reach_at_end)?,
            twist: said(Kind::Angle, "twist", &self.twist)?,
            grip,
            per_minute: said(Kind::Number, "per_minute", &self.per_minute)?,
            lasting,
            circumstances: circumstances.collect::<Result<_, _>>()?,
        };
        asked.reckon()
    }
}

impl Question for v1::ReckonStarRequest {
    fn reckon(&self) -> Result<Answer, Refusal> {
        let negative = |_| Refusal::Contradiction {
            field: "studs".to_owned(),
            problem: "a wheel has no fewer than none".to_owned(),
            todo: "count the studs of one wheel".to_owned(),
        };
        Star { studs: u32::try_from(self.studs).map_err(negative)? }.reckon()
    }
}

impl Question for v1::ReckonRecheckRequest {
    fn reckon(&self) -> Result<Answer, Refusal> {
        let asked = Recheck {
            fitted_at: Amount::read_distance("fitted_at", &self.fitted_at)?,
            after: said(Kind::Length, "after", &self.after)?,
        };
        overridden(asked.reckon()?, &self.manufacturer)
    }
}

impl Question for v1::ReckonRunOutRequest {
    fn reckon(&self) -> Result<Answer, Refusal> {
        let asked = RunOut {
            measured: Amount::read(Kind::Length, "measured", &self.measured)?,
            limit: said(Kind::Length, "limit", &self.limit)?,
            hub: said(Kind::Length, "hub", &self.hub)?,
        };
        asked.reckon()
    }
}

impl Question for v1::ReckonPertRequest {
    fn reckon(&self) -> Result<Answer, Refusal> {
        let task = |(at, task): (usize, &v1::ThreePointTask)| {
            Ok(ThreePoints {
                best: Amount::read_time(&format!("tasks[{at}].best"), &task.best)?,
                likely: Amount::read_time(&format!("tasks[{at}].likely"), &task.likely)?,
                worst: Amount::read_time(&format!("tasks[{at}].worst"), &task.worst)?,
            })
        };
        let due = Some(self.due.as_str()).filter(|due| !due.is_empty());
        let asked = Pert {
            tasks: self.tasks.iter().enumerate().map(task).collect::<Result<_, Refusal>>()?,
            due: due.map(|due| Amount::read_time("due", due)).transpose()?,
        };
        asked.reckon()
    }
}

impl Question for v1::ReckonDurationsRequest {
    fn reckon(&self) -> Result<Answer, Refusal> {
        let one = |(at, one): (usize, &v1::KnownDuration)| {
            Ok(Duration { time: Amount::read_time(&format!("times[{at}].time"), &one.time)?, running: one.running })
        };
        let due = Some(self.due.as_str()).filter(|due| !due.is_empty());
        let asked = Durations {
            all: self.times.iter().enumerate().map(one).collect::<Result<_, Refusal>>()?,
            due: due.map(|due| Amount::read_time("due", due)).transpose()?,
        };
        asked.reckon()
    }
}

/// A number that may be left out.
fn number_some(field: &str, text: &str) -> Result<Option<f64>, Refusal> {
    Ok(said(Kind::Number, field, text)?.map(|amount| amount.value()))
}

impl Question for v1::ReckonReorderPointRequest {
    fn reckon(&self) -> Result<Answer, Refusal> {
        let asked = ReorderPoint {
            demand: number("demand", &self.demand)?,
            demand_deviation: number_some("demand_deviation", &self.demand_deviation)?,
            lead_time: number("lead_time", &self.lead_time)?,
            lead_time_deviation: number_some("lead_time_deviation", &self.lead_time_deviation)?,
            service: Amount::read(Kind::Share, "service", &self.service)?.value(),
        };
        asked.reckon()
    }
}

impl Question for v1::ReckonOrderQuantityRequest {
    fn reckon(&self) -> Result<Answer, Refusal> {
        let asked = OrderQuantity {
            demand: number("demand", &self.demand)?,
            order_cost: number("order_cost", &self.order_cost)?,
            holding_cost: number("holding_cost", &self.holding_cost)?,
        };
        asked.reckon()
    }
}

impl Question for v1::ReckonEarnedValueRequest {
    fn reckon(&self) -> Result<Answer, Refusal> {
        let asked = EarnedValue {
            planned: number("planned", &self.planned)?,
            earned: number("earned", &self.earned)?,
            actual: number("actual", &self.actual)?,
            budget: number("budget", &self.budget)?,
        };
        asked.reckon()
    }
}

impl Question for v1::ReckonBladeFuseRequest {
    fn reckon(&self) -> Result<Answer, Refusal> {
        BladeFuse::read("rating", &self.rating)?.reckon()
    }
}

impl Question for v1::ReckonRoundedHeadRequest {
    fn reckon(&self) -> Result<Answer, Refusal> {
        RoundedHead { width: Amount::read(Kind::Length, "width", &self.width)? }.reckon()
    }
}

impl Question for v1::ReckonBatteryLeadsRequest {
    fn reckon(&self) -> Result<Answer, Refusal> {
        match chosen("direction", self.direction)? {
            Some(v1::LeadsDirection::Off) => BatteryLeads::Off.reckon(),
            Some(v1::LeadsDirection::On) => BatteryLeads::On.reckon(),
            Some(v1::LeadsDirection::Unspecified) | None => Err(unchosen("direction")),
        }
    }
}
