//! Lengths of time on a page: the page holds since when, and what is shown grows by itself.
//!
//! Templates write `<time data-since="MILLISECONDS"></time>`. The words within are put in as a page is sent, and moved
//! on by the page's script; what is kept and compared has none, so that a part changes only when the shop did.

use jiff::Timestamp;
use leadhand_sdk::moment;

const BEFORE: &str = "data-since=\"";
const BEHIND: &str = "\"></time>";

/// The page with the lengths of time as they are now.
pub fn fill(html: &str, now: Timestamp) -> String {
    let mut filled = String::with_capacity(html.len() + 64);
    let mut rest = html;
    while let Some(at) = rest.find(BEFORE) {
        let behind = at + BEFORE.len();
        filled.push_str(&rest[..behind]);
        rest = &rest[behind..];
        let Some(end) = rest.find(BEHIND) else { continue };
        let Ok(since) = rest[..end].parse::<i64>() else { continue };
        let seconds = ((now.as_millisecond() - since) / 1000).max(0);
        filled.push_str(&rest[..end]);
        filled.push_str("\">");
        filled.push_str(&moment::show_length(seconds));
        filled.push_str("</time>");
        rest = &rest[end + BEHIND.len()..];
    }
    filled.push_str(rest);
    filled
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_are_put_in_and_all_else_stays() {
        let now = Timestamp::from_millisecond(7_500_000).unwrap();
        let page = r#"<p>for <time data-since="0"></time>, <time data-since="7488000"></time> &quot;</p>"#;
        assert_eq!(
            fill(page, now),
            r#"<p>for <time data-since="0">2 h 05 min</time>, <time data-since="7488000">12 s</time> &quot;</p>"#
        );
        assert_eq!(fill(r#"<time data-since="9000000"></time>"#, now), r#"<time data-since="9000000">0 min</time>"#);
        for odd in [r#"data-since="x"></time>"#, r#"data-since=""#, "", r#"data-since="5"#] {
            assert_eq!(fill(odd, now), odd);
        }
    }
}
