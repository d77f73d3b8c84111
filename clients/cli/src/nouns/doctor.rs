//! `leadhand doctor`: whether this program, the server, the token and the shop are ready to work, and what is missing.

use super::{PAGE, all_pages};
use crate::app::App;
use crate::failure::{Failure, Outcome};
use crate::moment;
use crate::out::{self, Table};
use crate::words::word;
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use leadhand_sdk::v1::{
    GetCalendarRequest, GetShopRequest, GetShopResponse, ListTemplatesRequest, Role, WhoAmIRequest, WhoAmIResponse,
};
use leadhand_sdk::{Code, SdkError};

/// A clock that is further off gives wrong times to whoever types "now".
const CLOCK_OFF: SignedDuration = SignedDuration::from_secs(5);
/// A token that ends sooner is to be replaced now.
const TOKEN_SOON: SignedDuration = SignedDuration::from_hours(7 * 24);

/// How something is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum How {
    Well,
    Look,
    Wrong,
}

impl How {
    fn word(self) -> &'static str {
        match self {
            Self::Well => "well",
            Self::Look => "LOOK",
            Self::Wrong => "WRONG",
        }
    }
}

/// What was looked at, how it is, and what to do.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Finding {
    what: &'static str,
    how: How,
    said: String,
}

fn finding(what: &'static str, how: How, said: impl Into<String>) -> Finding {
    Finding { what, how, said: said.into() }
}

/// Runs it.
pub async fn run(app: &App) -> Outcome {
    let asked = moment::now();
    let who = app.client.who_am_i(WhoAmIRequest {}).await;
    let answered = moment::now();
    let mut all = vec![finding("program", How::Well, format!("leadhand {}", env!("CARGO_PKG_VERSION")))];
    match who {
        Err(error) => all.extend(unanswered(&error)),
        Ok(who) => {
            all.push(finding("server", How::Well, format!("it answers as version {}", who.server_version)));
            all.push(versions(env!("CARGO_PKG_VERSION"), &who.server_version));
            all.extend(clock(&who, asked, answered));
            all.push(token(&who, answered));
            all.extend(shop(app, answered).await?);
        }
    }
    show(app, &all)
}

fn show(app: &App, all: &[Finding]) -> Outcome {
    let wrong = all.iter().filter(|one| one.how == How::Wrong).count();
    let look = all.iter().filter(|one| one.how == How::Look).count();
    if app.out.is_json() {
        let list = all.iter().map(|one| serde_json::json!({"what": one.what, "how": one.how.word(), "said": one.said}));
        out::value(&serde_json::Value::Array(list.collect()))?;
    } else {
        let mut table = Table::new("findings", &["what", "how", "said"]);
        for one in all {
            table.row([one.what.to_owned(), one.how.word().to_owned(), one.said.clone()]);
        }
        app.out.table(&table)?;
    }
    match (wrong, look) {
        (0, 0) => out::note("everything is ready"),
        (0, look) => out::note(&format!("it works; {look} thing(s) are worth a look")),
        (wrong, _) => return Err(Failure::Found(format!("{wrong} thing(s) are wrong; see to them and ask again"))),
    }
    Ok(())
}

/// A server that answers with a refusal is there; what is wrong is then the token.
fn unanswered(error: &SdkError) -> Vec<Finding> {
    match error.code {
        Code::Unauthenticated | Code::PermissionDenied => {
            vec![finding("server", How::Well, "it answers"), finding("token", How::Wrong, error.message.clone())]
        }
        _ => vec![finding("server", How::Wrong, error.message.clone())],
    }
}

fn versions(own: &str, server: &str) -> Finding {
    if own == server {
        return finding("versions", How::Well, "program and server are of one version");
    }
    let said = format!("this program is {own} and the server {server}; neighbouring versions understand each other");
    finding("versions", How::Look, said)
}

/// How far the clocks are apart, for sure: half of the way there and back is not known.
fn clock(who: &WhoAmIResponse, asked: Timestamp, answered: Timestamp) -> Option<Finding> {
    let server = moment::from_wire(who.server_time.as_ref()?)?;
    let off = if server < asked {
        asked.duration_since(server)
    } else if server > answered {
        server.duration_since(answered)
    } else {
        SignedDuration::ZERO
    };
    if off <= CLOCK_OFF {
        return Some(finding("clock", How::Well, "this machine and the server agree"));
    }
    let way = if server < asked { "ahead of" } else { "behind" };
    let said = format!(
        "this machine is {} s {way} the server; a time such as 'now' that is typed here is wrong by that, so set its clock",
        off.as_secs()
    );
    Some(finding("clock", How::Wrong, said))
}

fn token(who: &WhoAmIResponse, now: Timestamp) -> Finding {
    let holder = if who.name.is_empty() { "a device" } else { &who.name };
    let holder = format!("{holder}, {}", word::<Role>(who.role));
    let Some(ends) = who.expires_at.as_ref().and_then(moment::from_wire) else {
        return finding("token", How::Well, format!("{holder}; it does not end"));
    };
    let left = ends.duration_since(now);
    if left > TOKEN_SOON {
        return finding("token", How::Well, format!("{holder}; it ends in {} days", left.as_hours() / 24));
    }
    let said = format!("{holder}; it ends in {} h: have it replaced (`leadhand token rotate`)", left.as_hours().max(0));
    finding("token", How::Look, said)
}

/// What a shop lacks before the first job can be worked on.
async fn shop(app: &App, now: Timestamp) -> Outcome<Vec<Finding>> {
    let shop = app.client.get_shop(GetShopRequest {}).await?;
    let until = moment::to_wire(now + SignedDuration::from_hours(14 * 24));
    let asked =
        GetCalendarRequest { person: String::new(), from_at: Some(moment::to_wire(now)), until_at: Some(until) };
    let open = app.client.get_calendar(asked).await?.windows.len();
    let templates =
        all_pages!(app, list_templates, ListTemplatesRequest { page_size: PAGE, page_token: String::new() }, templates);
    Ok(lacking(&shop, open, templates.templates.len()))
}

fn lacking(shop: &GetShopResponse, open: usize, templates: usize) -> Vec<Finding> {
    let zone = match TimeZone::get(&shop.zone) {
        Ok(_) => finding("zone", How::Well, shop.zone.clone()),
        Err(_) => finding("zone", How::Wrong, format!("this program does not know '{}'; take a newer one", shop.zone)),
    };
    let counted = |what: &'static str, count: usize, missing: &str| {
        if count == 0 { finding(what, How::Look, missing) } else { finding(what, How::Well, count.to_string()) }
    };
    vec![
        finding("shop", How::Well, format!("{}, {} facts", shop.name, shop.number)),
        zone,
        counted("hours", open, "none in the next 14 days; nothing can be promised (`leadhand shop hours set`)"),
        counted("bays", shop.bays.len(), "none yet (`leadhand bay add`)"),
        counted("persons", shop.persons.len(), "nobody yet (`leadhand person add`)"),
        counted("templates", templates, "none yet (`leadhand template publish`); blank jobs work without"),
    ]
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]
mod tests {
    use super::*;

    fn at(second: i64) -> Timestamp {
        Timestamp::from_second(second).unwrap()
    }

    fn who(second: i64) -> WhoAmIResponse {
        WhoAmIResponse { server_time: Some(moment::to_wire(at(second))), ..WhoAmIResponse::default() }
    }

    #[test]
    fn a_clock_is_off_only_by_what_the_way_does_not_explain() {
        let how = |server: i64| clock(&who(server), at(100), at(120)).unwrap();
        assert_eq!(how(100).how, How::Well);
        assert_eq!(how(125).how, How::Well, "five seconds are let pass");
        assert_eq!(how(130).how, How::Wrong);
        assert!(how(130).said.contains("10 s behind the server"), "{}", how(130).said);
        assert!(how(40).said.contains("60 s ahead of the server"), "{}", how(40).said);
        assert_eq!(clock(&WhoAmIResponse::default(), at(0), at(1)), None);
    }

    #[test]
    fn a_token_that_ends_soon_is_worth_a_look() {
        let ends = |second: i64| WhoAmIResponse { expires_at: Some(moment::to_wire(at(second))), ..who(0) };
        assert_eq!(token(&who(0), at(0)).how, How::Well);
        assert_eq!(token(&ends(8 * 86_400), at(0)).how, How::Well);
        let soon = token(&ends(2 * 3_600), at(0));
        assert_eq!(soon.how, How::Look);
        assert!(soon.said.contains("2 h") && soon.said.contains("token rotate"), "{}", soon.said);
    }

    #[test]
    fn an_empty_shop_says_what_is_missing_and_how_to_add_it() {
        let shop = GetShopResponse { zone: "Europe/London".into(), ..GetShopResponse::default() };
        let look: Vec<&str> =
            lacking(&shop, 0, 0).iter().filter(|one| one.how == How::Look).map(|one| one.what).collect();
        assert_eq!(look, ["hours", "bays", "persons", "templates"]);
        let nowhere = GetShopResponse { zone: "Mars/North".into(), ..shop };
        assert!(lacking(&nowhere, 1, 1).iter().any(|one| one.what == "zone" && one.how == How::Wrong));
    }

    #[test]
    fn versions_that_differ_are_told_and_are_no_fault() {
        assert_eq!(versions("0.1.0", "0.1.0").how, How::Well);
        assert_eq!(versions("0.1.0", "0.2.0").how, How::Look);
    }
}
