//! Steps of jobs that are over, packed until somebody asks for them. They are by far the most rows of a shop with a past,
//! nearly all of them alike, and hardly ever touched again: packed they take a fiftieth of the room.

use crate::tables::{Kept, Tables};
use leadhand_facts::rows::StepRow;
use leadhand_facts::{JobNo, StageKey, StepNo};
use miniz_oxide::deflate::compress_to_vec;
use miniz_oxide::inflate::decompress_to_vec;
use std::collections::BTreeMap;

/// The quickest that packs at all; others are smaller by little.
const LEVEL: u8 = 1;

/// Packed steps by job.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Packed(BTreeMap<JobNo, Vec<u8>>);

impl Packed {
    fn steps(&self, job: JobNo) -> Vec<StepRow> {
        // What was packed here is read again, or there is nothing: the rows are then missing, and told as such.
        let read = |packed: &Vec<u8>| serde_json::from_slice(&decompress_to_vec(packed).ok()?).ok();
        self.0.get(&job).and_then(read).unwrap_or_default()
    }
}

impl Tables {
    /// Packs the steps of a job.
    pub(crate) fn pack_steps(&mut self, job: JobNo) {
        let steps = StepRow::of_mut(self);
        let first = (job, StageKey(String::new()), StepNo(i32::MIN));
        let keys: Vec<_> = steps.range(first..).map(|(key, _)| key).take_while(|key| key.0 == job).cloned().collect();
        if keys.is_empty() {
            return;
        }
        let rows: Vec<StepRow> = keys.iter().filter_map(|key| steps.remove(key)).collect();
        match serde_json::to_vec(&rows) {
            Ok(written) => {
                self.packed.0.insert(job, compress_to_vec(&written, LEVEL));
            }
            // A row that can't be written stays as it is.
            Err(_) => steps.extend(keys.into_iter().zip(rows)),
        }
    }

    /// Unpacks them, where they are packed.
    pub(crate) fn unpack_steps(&mut self, job: JobNo) {
        let rows = self.packed.steps(job);
        if self.packed.0.remove(&job).is_some() {
            StepRow::of_mut(self).extend(rows.into_iter().map(|row| ((row.job, row.stage.clone(), row.step), row)));
        }
    }

    /// Unpacks all that are left.
    pub(crate) fn unpack_all(&mut self) {
        let jobs: Vec<JobNo> = self.packed.0.keys().copied().collect();
        for job in jobs {
            self.unpack_steps(job);
        }
    }

    /// Calls with the steps of each job, packed or not.
    pub(crate) fn steps_by_job(&self, mut then: impl FnMut(&[&StepRow])) {
        for job in self.packed.0.keys() {
            let rows = self.packed.steps(*job);
            then(&rows.iter().collect::<Vec<_>>());
        }
        let mut rows = self.rows::<StepRow>().peekable();
        while let Some(first) = rows.next() {
            let mut of_job = vec![first];
            while let Some(next) = rows.next_if(|next| next.job == first.job) {
                of_job.push(next);
            }
            then(&of_job);
        }
    }
}

/// Steps by their keys, packed or not. Whoever goes on in the order of jobs unpacks each once.
pub(crate) struct Steps<'a> {
    tables: &'a Tables,
    last: Option<(JobNo, Vec<StepRow>)>,
}

impl<'a> Steps<'a> {
    /// Of these tables.
    pub(crate) fn of(tables: &'a Tables) -> Self {
        Self { tables, last: None }
    }

    /// The step with this key.
    pub(crate) fn get(&mut self, job: JobNo, stage: &StageKey, step: StepNo) -> Option<StepRow> {
        if let Some(row) = self.tables.get::<StepRow>(&(job, stage.clone(), step)) {
            return Some(row.clone());
        }
        if self.last.as_ref().is_none_or(|(last, _)| *last != job) {
            self.last = Some((job, self.tables.packed.steps(job)));
        }
        let (_, rows) = self.last.as_ref()?;
        rows.iter().find(|row| row.stage == *stage && row.step == step).cloned()
    }
}
