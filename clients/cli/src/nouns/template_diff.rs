//! `leadhand template diff`: what changed from one revision to another.

use crate::app::App;
use crate::failure::{Failure, Outcome};
use crate::out;
use leadhand_sdk::v1::{GetTemplateRequest, GetTemplateResponse};
use similar::TextDiff;

/// Lines around a change that are shown with it.
const AROUND: usize = 3;

/// Which revisions are meant: the two that were said, or the latest beside the one before it.
fn pair(from: i32, to: i32, latest: i32) -> Outcome<(i32, i32)> {
    let to = if to == 0 { latest } else { to };
    let from = if from == 0 { to - 1 } else { from };
    if from < 1 {
        return Err(Failure::Usage(format!(
            "revision {to} is the first one and nothing comes before it; name the other with --from"
        )));
    }
    Ok((from, to))
}

/// The changes, line by line; nothing when there are none.
fn diff(key: &str, (from, to): (i32, i32), old: &str, new: &str) -> String {
    let names = (format!("{key} revision {from}"), format!("{key} revision {to}"));
    let diff = TextDiff::from_lines(old, new);
    diff.unified_diff().context_radius(AROUND).header(&names.0, &names.1).to_string()
}

/// Runs it.
pub async fn run(app: &App, key: String, from: i32, to: i32) -> Outcome {
    let get = async |revision: i32| -> Outcome<GetTemplateResponse> {
        Ok(app.client.get_template(GetTemplateRequest { template: key.clone(), revision }).await?)
    };
    let new = get(to).await?;
    let latest = new.summary.as_ref().map_or(0, |summary| summary.revision);
    let (from, to) = pair(from, to, latest)?;
    let old = get(from).await?;
    let text = diff(&key, (from, to), &old.source, &new.source);
    if app.out.is_json() {
        return out::value(&serde_json::json!({ "template": key, "from": from, "to": to, "diff": text }));
    }
    if text.is_empty() {
        out::note(&format!("revisions {from} and {to} of {key} say the same"));
        return Ok(());
    }
    // Line breaks stay, and nothing else speaks to the terminal.
    let lines: Vec<String> = text.lines().map(out::clean).collect();
    out::put(&(lines.join("\n") + "\n"))
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]
mod tests {
    use super::*;

    #[test]
    fn the_latest_beside_the_one_before_it_where_nothing_is_said() {
        assert_eq!(pair(0, 0, 4).unwrap(), (3, 4));
        assert_eq!(pair(1, 0, 4).unwrap(), (1, 4));
        assert_eq!(pair(4, 2, 4).unwrap(), (4, 2), "backwards as well");
        assert!(pair(0, 1, 4).is_err() && pair(0, 0, 1).is_err());
    }

    #[test]
    fn what_changed_is_told_with_what_stands_around_it() {
        let old = "key = \"hub\"\n\n[[stage]]\nkey = \"strip\"\nminutes = [20, 30, 60]\n";
        let new = old.replace("[20, 30, 60]", "[25, 40, 70]");
        let told = diff("hub", (1, 2), old, &new);
        assert!(told.starts_with("--- hub revision 1\n+++ hub revision 2\n"), "{told}");
        assert!(told.contains("-minutes = [20, 30, 60]\n+minutes = [25, 40, 70]\n"), "{told}");
        assert_eq!(diff("hub", (1, 2), old, old), "");
    }
}
