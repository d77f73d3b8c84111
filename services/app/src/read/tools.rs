//! Shared tools.

use super::Reading;
use crate::App;
use crate::access::Principal;
use crate::error::AppError;
use crate::words::Words;
use leadhand_domain::need::Need;
use leadhand_domain::view::tools::{ToolLine, jobs_with_tools, tool_lines};
use leadhand_facts::{TextId, ToolKey};

/// Shared tools by key.
#[derive(Debug, Clone)]
pub struct ToolPage {
    /// The tools.
    pub tools: Vec<ToolLine>,
    /// The words they refer to.
    pub words: Words,
    /// The last key of a full page: more may follow.
    pub next: Option<ToolKey>,
}

impl App {
    /// Shared tools after this key, and who has each.
    pub async fn tools(
        &self,
        who: &Principal,
        after: Option<ToolKey>,
        with_retired: bool,
        size: usize,
    ) -> Result<ToolPage, AppError> {
        let mut reading = Reading::begin(self, who.shop).await?;
        reading.load(&[Need::Shop]).await?;
        let jobs: Vec<Need> = jobs_with_tools(&reading.state).into_iter().map(Need::Job).collect();
        reading.load(&jobs).await?;
        let lines = tool_lines(&reading.state, with_retired, reading.now()).into_iter();
        let rest = lines.filter(|line| after.as_ref().is_none_or(|after| line.row.tool > *after));
        let tools: Vec<ToolLine> = rest.take(size).collect();
        let next = (tools.len() == size).then(|| tools.last().map(|line| line.row.tool.clone())).flatten();
        let texts: Vec<TextId> = tools.iter().flat_map(ToolLine::text_ids).collect();
        let words = reading.words(texts).await?;
        Ok(ToolPage { tools, words, next })
    }
}
