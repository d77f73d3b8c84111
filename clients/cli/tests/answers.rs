//! The binary against a server: data on standard output, the rest on standard error.
#![allow(clippy::unwrap_used, reason = "test code")]

mod support;

use serde_json::{Value, json};
use support::{leadhand, said, start};

#[tokio::test]
async fn a_write_says_what_became_of_it_aside_and_carries_its_circumstances() {
    let server = start().await;
    let id = "00000000-0000-4000-8000-000000000007";
    let line = ["bay", "add", "lift-2", "--kind", "pit", "--rated-kg", "3000"];
    // Europe/London is on UTC at that date (IANA time zone database).
    let circumstances = ["--request-id", id, "--for", "Robin", "--at", "2031-03-03 10:00"];
    let output = leadhand(&server, &[&line[..], &circumstances].concat()).await;
    let (data, aside) = said(&output);
    assert_eq!((output.status.code(), data.as_str()), (Some(0), ""), "{aside}");
    assert_eq!(aside, format!("bay lift-2 is there, a pit for 3000 kg (fact 41)\nnote: {id} Robin Some(-300)\n"));
}

#[tokio::test]
async fn a_floor_needs_no_rating() {
    let output = leadhand(&start().await, &["bay", "add", "floor-1", "--kind", "floor"]).await;
    let (_, aside) = said(&output);
    assert!(aside.starts_with("bay floor-1 is there, a floor (fact 41)\n"), "{aside}");
    assert_eq!(output.status.code(), Some(0));
}

#[tokio::test]
async fn a_refusal_is_the_servers_sentence_and_its_faults() {
    let server = start().await;
    let add = async |bay: &str| {
        let output = leadhand(&server, &["bay", "add", bay, "--kind", "pit", "--rated-kg", "3000"]).await;
        let (data, aside) = said(&output);
        assert_eq!(data, "");
        (output.status.code().unwrap(), aside)
    };
    let taken = "leadhand: the bay 'taken' is there already; choose another name\n";
    assert_eq!(add("taken").await, (1, taken.to_owned()));
    let wrong = "leadhand: 2 fields are wrong\n  <BAY>: too plain\n  --name: too long\n";
    assert_eq!(add("wrong").await, (1, wrong.to_owned()));
}

#[tokio::test]
async fn what_the_server_does_not_have_is_a_defect() {
    let output = leadhand(&start().await, &["whoami"]).await;
    assert_eq!(output.status.code(), Some(6));
}

#[tokio::test]
async fn the_board_is_plain_words_when_nobody_looks() {
    let output = leadhand(&start().await, &["board"]).await;
    let (data, aside) = said(&output);
    let expected = "\
HELD UP      bay lift-1 (two post lift): Blue estate, job 12, Front brakes
  held up    pads by seized or damaged, slide pin, for 15 min (blocker 1)
  now        no stage under way, 0 of 4 ended
  next       Wheels off (ready)
  promise    16:05, AT RISK, likely 17:05

free         bay floor-1 (floor)
as of 10:05, fact 40
";
    assert_eq!((data.as_str(), aside.as_str(), output.status.code()), (expected, "", Some(0)));
}

#[tokio::test]
async fn the_board_as_json_needs_no_zone_and_forgets_nothing() {
    let output = leadhand(&start().await, &["board", "--output", "json"]).await;
    let value: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(value["number"], 40);
    assert_eq!(value["as_of"], "2031-03-03T10:05:00Z");
    assert_eq!(value["bays"][0]["job"], Value::Null);
    let job = &value["bays"][1]["job"];
    assert_eq!((&job["promise"], &job["blockers"][0]["cause"]), (&json!("at-risk"), &json!("seized-or-damaged")));
    assert_eq!(job["blockers"][0]["cleared_at"], Value::Null);
}

#[tokio::test]
async fn a_live_board_that_is_piped_is_a_line_for_each_change_until_the_stream_is_refused() {
    let output = leadhand(&start().await, &["board", "--live"]).await;
    let (data, aside) = said(&output);
    let lines: Vec<&str> = data.lines().collect();
    assert_eq!(lines.len(), 3, "{data}");
    assert_eq!(lines[0], "10:05 bay floor-1: free (fact 40)");
    assert!(
        lines[1].starts_with("10:05 bay lift-1: HELD UP: Blue estate, job 12, Front brakes; held up: pads"),
        "{data}"
    );
    assert_eq!(lines[2], "10:06 bay lift-1: free (fact 41)");
    assert_eq!(aside, "leadhand: the token was revoked; ask the lead for another\n");
    assert_eq!(output.status.code(), Some(4));
}
