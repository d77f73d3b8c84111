//! The pictures of the time page: a job's hours, the spread of a template's stages, and what held the shop up.

use crate::sheet::Caller;
use crate::texts::Texts;
use crate::view::Look;
use leadhand_pictures::{
    Bar, HoursWords, LABELS, Lost, LostWords, Picture, SpreadWords, Took, hours, lost, spread, weeks,
};
use leadhand_sdk::v1::{AuditBy, AuditLine, AuditTimeRequest, AuditTimeResponse, Cause, Minutes};
use leadhand_sdk::{SdkError, WireTimestamp, moment};

/// So many weeks are looked back.
const WEEKS: usize = 12;

/// A picture with its title, and the same in figures.
pub struct Drawing {
    pub title: String,
    pub picture: Picture,
    pub figures: Vec<Figure>,
    /// What is said when there is nothing to be drawn.
    pub none: String,
}

/// A line of what a picture shows.
pub struct Figure {
    pub name: String,
    pub words: String,
}

/// What the pictures are drawn from.
pub struct Loaded {
    job: Option<(i64, AuditTimeResponse)>,
    template: Option<(String, Vec<AuditLine>)>,
    cuts: Vec<WireTimestamp>,
    lost: Vec<AuditLine>,
}

/// Asks for it: of this job unless it is 0, of this template unless it is empty.
pub async fn load(caller: &Caller, job: i64, template: &str) -> Result<Loaded, SdkError> {
    let client = caller.client();
    let by_stage = AuditTimeRequest { by: AuditBy::Stage.into(), ..AuditTimeRequest::default() };
    let of_job = match job {
        0 => None,
        job => Some((job, client.audit_time(AuditTimeRequest { job, ..by_stage.clone() }).await?)),
    };
    let of_template = match template {
        "" => None,
        key => {
            let asked = AuditTimeRequest { template: key.to_owned(), ..by_stage };
            Some((key.to_owned(), client.audit_time(asked).await?.lines))
        }
    };
    let cuts = weeks(WEEKS, &caller.zone, caller.now);
    let (by, cut_at) = (AuditBy::Cause.into(), cuts.clone());
    let lost = client.audit_time(AuditTimeRequest { by, cut_at, ..AuditTimeRequest::default() }).await?.lines;
    Ok(Loaded { job: of_job, template: of_template, cuts, lost })
}

impl Loaded {
    /// The pictures, those of what was asked for first.
    pub fn drawings(&self, look: Look<'_>) -> Vec<Drawing> {
        let t = look.texts;
        let of_job = self.job.as_ref().map(|(job, audit)| job_drawing(*job, audit, t));
        let of_template = self.template.as_ref().map(|(key, lines)| template_drawing(key, lines, t));
        of_job.into_iter().chain(of_template).chain([self.lost_drawing(look)]).collect()
    }

    fn lost_drawing(&self, look: Look<'_>) -> Drawing {
        let t = look.texts;
        let all = Lost::of(&self.lost, &self.cuts);
        let title = t.fill("hours-lost", "weeks", &WEEKS.to_string());
        let day = |cut: &WireTimestamp| {
            let at = moment::from_wire(cut).map(|at| at.to_zoned_datetime(look.zone.clone()));
            at.map(|at| t.day(at.date(), false)).unwrap_or_default()
        };
        let days: Vec<String> = self.cuts.iter().take(WEEKS).map(day).collect();
        let name = |cause: i32| cause_name(cause, t);
        let figure = |one: &Lost| {
            let some = one.weeks.iter().zip(&days).filter(|(seconds, _)| **seconds > 0);
            let told: Vec<String> =
                some.map(|(seconds, day)| format!("{day}: {}", moment::show_length(*seconds))).collect();
            Figure { name: format!("{} {}", name(one.cause), moment::show_length(one.whole())), words: told.join(", ") }
        };
        Drawing {
            figures: all.iter().map(figure).collect(),
            picture: lost(&all, &LostWords { title: title.clone(), weeks: days.clone() }, name),
            none: t.say("nothing-lost"),
            title,
        }
    }
}

/// The name of a cause, as on its tile.
fn cause_name(cause: i32, t: &Texts) -> String {
    let name = Cause::try_from(cause).unwrap_or_default().as_str_name().trim_start_matches("CAUSE_");
    t.say(&format!("cause-{}", name.to_lowercase().replace('_', "-")))
}

fn job_drawing(job: i64, audit: &AuditTimeResponse, t: &Texts) -> Drawing {
    let labels = LABELS.map(|class| t.say(&format!("label-{class}")));
    let bar = |line: &AuditLine| {
        let planned = line.minutes.as_ref().filter(|minutes| minutes.likely > 0);
        let beside = planned.map(|minutes| t.fill("planned-likely", "length", &length(minutes.likely)));
        Bar { beside: beside.unwrap_or_default(), ..Bar::of(line) }
    };
    let bars: Vec<Bar> = audit.lines.iter().map(bar).filter(|bar| bar.whole() > 0).collect();
    let title = t.fill("where-the-hours-went", "what", &t.fill("job", "job", &job.to_string()));
    let all = audit.total.as_ref().map(Bar::of).filter(|bar| bar.whole() > 0);
    let all = all.map(|bar| Figure { name: t.say("all-stages"), words: bar.told(&labels) });
    let of_stage = bars.iter().map(|bar| Figure { name: bar.title.clone(), words: bar.told(&labels) });
    Drawing {
        figures: all.into_iter().chain(of_stage).collect(),
        picture: hours(&bars, &HoursWords { title: title.clone(), labels }),
        none: t.say("no-hours-yet"),
        title,
    }
}

fn template_drawing(key: &str, lines: &[AuditLine], t: &Texts) -> Drawing {
    let all = Took::of(lines);
    let title = t.fill("how-long-stages-took", "template", key);
    let words = SpreadWords {
        title: title.clone(),
        band: t.say("spread-band"),
        likely: t.say("spread-likely"),
        ring: t.say("spread-ring"),
        middle: t.say("spread-middle"),
    };
    let caption = |took: &Took| {
        let jobs = t.count("jobs-count", took.worked.len());
        let half = t.fill("half-took", "length", &moment::show_length(took.middle()));
        let template = took.minutes.as_ref().map_or_else(|| t.say("no-minutes"), |minutes| range(minutes, t));
        format!("{template} · {jobs} · {half}")
    };
    let figure = |took: &Took| {
        let each: Vec<String> = took.worked.iter().map(|worked| moment::show_length(*worked)).collect();
        Figure { name: took.title.clone(), words: format!("{}: {}", caption(took), each.join(", ")) }
    };
    Drawing {
        figures: all.iter().map(figure).collect(),
        picture: spread(&all, &words, caption),
        none: t.say("no-stage-finished"),
        title,
    }
}

fn length(minutes: i32) -> String {
    moment::show_length(i64::from(minutes) * 60)
}

fn range(minutes: &Minutes, t: &Texts) -> String {
    let given = [("low", minutes.low), ("likely", minutes.likely), ("high", minutes.high)];
    t.with("template-range", &given.map(|(name, value)| (name, value.to_string().into())))
}
