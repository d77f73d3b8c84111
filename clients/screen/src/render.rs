//! The parts of the wall as HTML. Each is made once for all browsers, and is equal to itself as long as nothing changed.

use crate::bring::ToBring;
use crate::layout::Layout;
use crate::texts::Texts;
use crate::view::{JobView, Look, in_order, is_troubled, key};
use askama::Template;
use leadhand_sdk::v1::BoardJob;
use leadhand_sdk::{Board, Standing};
use std::collections::BTreeMap;

/// Lines that the lists beside the bays have room for, together.
const LINES: usize = 10;

/// The wall, ready to be shown.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Rendered {
    /// Style classes of the bays' grid.
    pub layout: String,
    /// The bays' parts in the order in which they are looked at.
    pub order: Vec<String>,
    /// Every part by its name.
    pub parts: BTreeMap<String, String>,
}

#[derive(Template)]
#[template(path = "tile.html")]
struct Tile<'a> {
    t: &'a Texts,
    part: &'a str,
    bay: &'a str,
    roomy: bool,
    /// The style of a heading that has smaller type to be read whole.
    fit: &'static str,
    job: JobView,
}

/// Characters of bay and vehicle that have room in the largest type, and in the next, as measured in a browser.
const FITS: [(usize, &str); 2] = [(19, ""), (25, "long")];

/// How large a heading may be. Beyond the smallest it is cut off, and its bay stands first.
fn fit(bay: &str, vehicle: &str) -> &'static str {
    let length = bay.chars().count() + 1 + vehicle.chars().count();
    FITS.iter().find(|(most, _)| length <= *most).map_or("longer", |(_, style)| *style)
}

#[derive(Template)]
#[template(path = "head.html")]
struct Head<'a> {
    t: &'a Texts,
    shop: &'a str,
    counts: Vec<Count>,
}

/// How many stand so.
struct Count {
    class: &'static str,
    words: String,
}

#[derive(Template)]
#[template(path = "free.html")]
struct Free<'a> {
    t: &'a Texts,
    bays: Vec<&'a str>,
    any: bool,
}

#[derive(Template)]
#[template(path = "outside.html")]
struct Outside<'a> {
    t: &'a Texts,
    jobs: Vec<JobView>,
    /// How many there are.
    total: usize,
    more: String,
}

#[derive(Template)]
#[template(path = "bring.html")]
struct Bring<'a> {
    t: &'a Texts,
    /// Whether it is known what is to be brought.
    known: bool,
    lines: Vec<BringLine<'a>>,
    /// How many there are.
    total: usize,
    more: String,
}

struct BringLine<'a> {
    bay: &'a str,
    what: &'a str,
    place: String,
    now: bool,
}

/// The whole wall. What is to be brought may not be known yet.
pub fn wall(shop: &str, board: &Board, bring: Option<&[ToBring]>, look: Look<'_>) -> Rendered {
    let t = look.texts;
    let known = bring.is_some();
    let bring = bring.unwrap_or_default();
    let (taken, free) = in_order(&board.bays);
    let troubled = taken.iter().filter(|(standing, ..)| is_troubled(*standing)).count();
    let layout = Layout::of(troubled, taken.len() - troubled);
    let mut rendered = Rendered { layout: layout.classes(), ..Rendered::default() };
    for (standing, bay, job) in &taken {
        let part = format!("bay-{}", key(bay));
        let roomy = layout.roomy || is_troubled(*standing);
        let job = JobView::of(job, look);
        let tile = Tile { t, part: &part, bay: key(bay), roomy, fit: fit(key(bay), &job.vehicle), job };
        put(&mut rendered.parts, &part, &tile);
        rendered.order.push(part);
    }
    put(&mut rendered.parts, "head", &Head { t, shop, counts: counts(&taken, t) });
    let free = free.into_iter().map(key).collect();
    put(&mut rendered.parts, "free", &Free { t, bays: free, any: !board.bays.is_empty() });
    let (outside, lines) = share(board.outside.len(), bring.len());
    let mut jobs: Vec<(Standing, &BoardJob)> = board.outside.iter().map(|job| (Standing::of(job), job)).collect();
    jobs.sort_by_key(|(standing, job)| (*standing, job.priority, job.job));
    let left = more(jobs.len() - outside, t);
    let jobs = jobs.into_iter().take(outside).map(|(_, job)| JobView::of(job, look)).collect();
    put(&mut rendered.parts, "outside", &Outside { t, jobs, total: board.outside.len(), more: left });
    let left = more(bring.len() - lines, t);
    let lines = bring.iter().take(lines).map(|line| bring_line(line, t)).collect();
    put(&mut rendered.parts, "bring", &Bring { t, known, lines, total: bring.len(), more: left });
    rendered
}

/// How much there is beyond what is shown; nothing when that is all.
fn more(n: usize, t: &Texts) -> String {
    if n == 0 { String::new() } else { t.count("and-more", n) }
}

fn bring_line<'a>(line: &'a ToBring, t: &Texts) -> BringLine<'a> {
    let place = match line.step {
        0 => line.stage.clone(),
        step => t.with("for-step", &[("stage", line.stage.as_str().into()), ("step", step.into())]),
    };
    BringLine { bay: &line.bay, what: &line.what, place, now: line.now }
}

fn put(parts: &mut BTreeMap<String, String>, name: &str, template: &impl Template) {
    match template.render() {
        Ok(html) => {
            parts.insert(name.to_owned(), html);
        }
        Err(error) => tracing::error!(%error, "the part {name} can't be put together"),
    }
}

/// How many lines each list beside the bays gets: half each, and what the other leaves over.
fn share(outside: usize, bring: usize) -> (usize, usize) {
    let half = LINES / 2;
    let first = outside.min(half.max(LINES.saturating_sub(bring)));
    (first, bring.min(LINES - first))
}

/// How many bays stand how, in the order in which they are looked at.
fn counts<B, J>(taken: &[(Standing, B, J)], t: &Texts) -> Vec<Count> {
    use Standing::{AtRisk, HeldUp, Late, Unattended, UnderWay};
    [HeldUp, Late, AtRisk, UnderWay, Unattended]
        .into_iter()
        .filter_map(|standing| {
            let n = taken.iter().filter(|(one, ..)| *one == standing).count();
            let class = crate::view::standing_name(standing);
            (n > 0).then(|| Count { class, words: t.count(&format!("count-{class}"), n) })
        })
        .collect()
}

#[cfg(test)]
#[path = "render_tests.rs"]
mod tests;
