//! Readings, what stands against a hand-over, the sheet that goes with it, and what is open at the end of a shift.

use super::Reading;
use crate::App;
use crate::access::Principal;
use crate::error::AppError;
use crate::words::Words;
use leadhand_domain::condition;
use leadhand_domain::fill;
use leadhand_domain::hand_over::{Line, lines};
use leadhand_domain::look;
use leadhand_domain::need::Need;
use leadhand_domain::state::State;
use leadhand_domain::view::hand_over::{LooseJob, ReadingsView, Sheet, items_of, loose_ends, readings_view, sheet};
use leadhand_domain::view::tools::{ToolLine, jobs_with_tools, tool_lines};
use leadhand_facts::rows::{FluidRow, ItemRow, StepRow};
use leadhand_facts::words::{JobState, Role};
use leadhand_facts::{FluidKey, ItemKey, JobNo, PersonId, TextId};
use std::collections::{BTreeMap, BTreeSet};

/// What is shown, with the words and names that it refers to.
#[derive(Debug, Clone)]
pub struct Told<V> {
    /// What is shown.
    pub view: V,
    /// Names of persons, by id; empty for somebody who was forgotten.
    pub names: BTreeMap<PersonId, String>,
    /// The words.
    pub words: Words,
    /// The journal number at which it is true.
    pub number: i64,
}

/// What is open at the end of a shift.
#[derive(Debug, Clone)]
pub struct LooseEnds {
    /// Job by job.
    pub jobs: Vec<LooseJob>,
    /// Shared tools that jobs still have which are over.
    pub tools: Vec<ToolLine>,
}

/// What stands against handing a job over.
#[derive(Debug, Clone)]
pub struct HandOver {
    /// The lines, gravest first.
    pub lines: Vec<Line>,
    /// Whether the job is open.
    pub open: bool,
    /// The journal number at which it is true.
    pub number: i64,
}

/// The fluids of a job, by key, with its steps and the item that is to be poured in.
#[derive(Debug, Clone)]
pub struct FillBooks {
    /// The fluids.
    pub fluids: Vec<FluidRow>,
    /// The steps, stage after stage.
    pub steps: Vec<StepRow>,
    /// The item, where one was named.
    pub item: Option<ItemRow>,
    /// The items that its steps ask for, as far as they are listed.
    pub listed: Vec<ItemRow>,
    /// Of each fluid the millilitres that the job has set aside of other items than this one, and the step that fills it.
    of_fluid: BTreeMap<FluidKey, (i64, Option<StepRow>)>,
}

impl FillBooks {
    /// Millilitres of a fluid that the job has set aside of other items.
    pub fn kept_ml(&self, fluid: &FluidKey) -> i64 {
        self.of_fluid.get(fluid).map_or(0, |(kept, _)| *kept)
    }

    /// The step that fills a fluid with the item, where one does.
    pub fn filling(&self, fluid: &FluidKey) -> Option<&StepRow> {
        self.of_fluid.get(fluid)?.1.as_ref()
    }
}

impl App {
    /// The readings of a job.
    pub async fn readings(&self, who: &Principal, job: JobNo) -> Result<Told<ReadingsView>, AppError> {
        let reading = self.about_job(who, job).await?;
        let view = readings_view(&reading.state, job);
        let (texts, persons) = (view.text_ids().collect(), view.persons().collect());
        told(reading, view, texts, persons).await
    }

    /// What stands against handing a job over.
    pub async fn hand_over(&self, who: &Principal, job: JobNo) -> Result<HandOver, AppError> {
        let reading = self.about_job(who, job).await?;
        let open = look::job(&reading.state, job)?.state == JobState::Open;
        let lines = if open { lines(&reading.state, job, reading.now()) } else { Vec::new() };
        let number = reading.state.head;
        reading.words([]).await?;
        Ok(HandOver { lines, open, number })
    }

    /// The sheet that goes with a vehicle.
    pub async fn sheet(&self, who: &Principal, job: JobNo) -> Result<Told<Sheet>, AppError> {
        let mut reading = self.about_job(who, job).await?;
        reading.load(&[Need::Items(items_of(&reading.state, job))]).await?;
        let mut view = sheet(&reading.state, job, reading.now())
            .ok_or_else(|| AppError::Internal(format!("job {job} has no sheet")))?;
        // A screen that only looks hangs where visitors see it.
        if who.role == Role::Viewer {
            view.plate = None;
            view.told.clear();
        }
        let (texts, persons) = (view.text_ids().into_iter().collect(), view.persons().into_iter().collect());
        told(reading, view, texts, persons).await
    }

    /// What is loose, put in, out of its limits or half done; and shared tools that jobs still have which are over.
    pub async fn loose_ends(&self, who: &Principal, job: Option<JobNo>) -> Result<Told<LooseEnds>, AppError> {
        let mut reading = Reading::begin(self, who.shop).await?;
        let which = job.map_or(Need::OpenJobs, Need::Job);
        reading.load(&[Need::Shop, which]).await?;
        if let Some(job) = job {
            look::job(&reading.state, job)?;
        }
        let tools: Vec<Need> = jobs_with_tools(&reading.state).into_iter().map(Need::Job).collect();
        reading.load(&tools).await?;
        let jobs = loose_ends(&reading.state, job, reading.now());
        let of_it =
            |line: &ToolLine| job.is_none_or(|job| line.loan.as_ref().is_some_and(|loan| loan.job == Some(job)));
        let tools = tool_lines(&reading.state, false, reading.now()).into_iter().filter(|line| line.overdue);
        let view = LooseEnds { jobs, tools: tools.filter(of_it).collect() };
        let texts = view.jobs.iter().flat_map(LooseJob::text_ids).collect();
        told(reading, view, texts, Vec::new()).await
    }

    /// What the books have to do with a fill of a job, perhaps out of an item.
    pub async fn fill_books(&self, who: &Principal, job: JobNo, item: Option<ItemKey>) -> Result<FillBooks, AppError> {
        let mut reading = self.about_job(who, job).await?;
        let steps = look::stages(&reading.state, job).flat_map(|stage| look::steps(&reading.state, job, &stage.stage));
        let asked: BTreeSet<ItemKey> = steps.flat_map(|step| &step.needs).map(|need| need.item.clone()).collect();
        reading.load(&[Need::Items(asked.iter().chain(&item).cloned().collect())]).await?;
        let state = &reading.state;
        let item = item.map(|item| look::item(state, &item).cloned()).transpose()?;
        let of_fluid = |row: &FluidRow| {
            let books = item.as_ref().map(|item| fill::FillBooks::of(state, row, &item.item));
            let filling = books.as_ref().and_then(|books| books.filling).cloned();
            (row.fluid.clone(), (books.map_or(0, |books| books.kept_ml()), filling))
        };
        let books = FillBooks {
            of_fluid: condition::fluids(state, job).map(of_fluid).collect(),
            fluids: condition::fluids(state, job).cloned().collect(),
            steps: look::stages(state, job).flat_map(|stage| look::steps(state, job, &stage.stage)).cloned().collect(),
            listed: asked.iter().filter_map(|item| look::item(state, item).ok()).cloned().collect(),
            item,
        };
        reading.words([]).await?;
        Ok(books)
    }

    async fn about_job(&self, who: &Principal, job: JobNo) -> Result<Reading, AppError> {
        let mut reading = Reading::begin(self, who.shop).await?;
        reading.load(&[Need::Shop, Need::Job(job)]).await?;
        look::job(&reading.state, job)?;
        Ok(reading)
    }
}

async fn told<V>(
    reading: Reading,
    view: V,
    mut texts: Vec<TextId>,
    persons: Vec<PersonId>,
) -> Result<Told<V>, AppError> {
    let number = reading.state.head;
    let named = name_ids(&reading.state, persons);
    texts.extend(named.values().copied());
    let words = reading.words(texts).await?;
    let names = named.into_iter().map(|(id, name)| (id, words.get(Some(name)).to_owned())).collect();
    Ok(Told { view, names, words, number })
}

fn name_ids(state: &State, persons: Vec<PersonId>) -> BTreeMap<PersonId, TextId> {
    persons.into_iter().filter_map(|id| Some((id, state.persons.get(&(id,))?.name))).collect()
}
