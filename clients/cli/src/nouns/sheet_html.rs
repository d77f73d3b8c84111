//! A hand-over sheet as a page by itself: for paper on A4, and for a screen in light and dark. It loads nothing.

use super::reading_text::{concluded, decided, figures, outcome};
use super::sheet::{
    Head, SIGNATURES, done, fluids, found, left_out, looked_at, open_title, other_way, overruled, overruled_title,
    reckoned, remarks, renewed, title,
};
use super::sheet_text::name;
use crate::words::word;
use leadhand_sdk::v1::{GetHandOverSheetResponse, Reading, RemarkKind, SheetStage, SignalWord, Verdict};
use std::fmt::Write;

const STYLE: &str = include_str!("sheet.css");

/// The sheet as HTML. Parts without anything are left out.
pub fn render(sheet: &GetHandOverSheetResponse, head: &Head) -> String {
    let mut page = String::new();
    let heading = format!("{}, job {}", title(sheet), sheet.job);
    let _ = write!(
        page,
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <title>{}</title>\n<style>\n{STYLE}</style>\n</head>\n<body>\n<main>\n",
        escaped(&heading)
    );
    top(&mut page, sheet, head);
    grave(&mut page, sheet);
    list(
        &mut page,
        "Still to watch",
        &remarks(sheet, RemarkKind::FollowUp).into_iter().map(escaped).collect::<Vec<_>>(),
    );
    list(&mut page, "Done", &done(sheet).map(|(one, mark)| stage(one, mark)).collect::<Vec<_>>());
    measured(&mut page, &sheet.readings);
    let lines = |all: Vec<String>| all.iter().map(|line| escaped(line)).collect::<Vec<_>>();
    list(&mut page, "Renewed", &lines(sheet.positions.iter().filter_map(renewed).collect()));
    let parts = sheet.parts.iter().map(|one| format!("{}: {}", one.amount, name(&one.name, &one.item)));
    list(&mut page, "From stock", &lines(parts.collect()));
    list(&mut page, "Fluids", &lines(fluids(sheet)));
    list(&mut page, "Found", &lines(sheet.positions.iter().filter_map(found).collect()));
    list(&mut page, "Looked at by a second person", &lines(looked_at(sheet)));
    list(&mut page, "Left out", &lines(left_out(sheet)));
    let _ = writeln!(page, "<p class=\"deference\">{}</p>", escaped(&sheet.deference));
    page.push_str("<div class=\"signatures\">\n");
    for sign in SIGNATURES {
        let _ = writeln!(page, "<div><span></span>{sign}, date</div>");
    }
    page.push_str("</div>\n</main>\n</body>\n</html>\n");
    page
}

fn top(page: &mut String, sheet: &GetHandOverSheetResponse, head: &Head) {
    let _ = writeln!(
        page,
        "<header>\n<p class=\"shop\">{}</p>\n<h1>{}</h1>\n<p class=\"title\">{}</p>\n<dl>",
        escaped(&sheet.shop),
        title(sheet),
        escaped(&sheet.title)
    );
    let (ended, when) = match (head.closed.is_empty(), sheet.cancelled) {
        (true, _) => ("State", "still open: a draft"),
        (false, true) => ("Called off", head.closed.as_str()),
        (false, false) => ("Handed over", head.closed.as_str()),
    };
    let job = sheet.job.to_string();
    let rows = [
        ("Job", job.as_str()),
        ("Vehicle", sheet.vehicle.as_str()),
        ("Plate", sheet.plate.as_str()),
        ("Opened", head.opened.as_str()),
        (ended, when),
    ];
    for (name, what) in rows.into_iter().filter(|(_, what)| !what.is_empty()) {
        let _ = writeln!(page, "<div><dt>{name}</dt><dd>{}</dd></div>", escaped(what));
    }
    page.push_str("</dl>\n</header>\n");
}

/// What nobody must overlook: advice that was not taken, cautions, what is open, and what a lead let it go with.
fn grave(page: &mut String, sheet: &GetHandOverSheetResponse) {
    let declined = remarks(sheet, RemarkKind::AdviceDeclined);
    let mut boxed = |title: &str, lines: &[String]| {
        if !lines.is_empty() {
            let _ = writeln!(page, "<section class=\"grave\">\n<h2>{title}</h2>\n<ul>");
            for line in lines {
                let _ = writeln!(page, "<li>{line}</li>");
            }
            page.push_str("</ul>\n</section>\n");
        }
    };
    let open: Vec<String> = sheet.open.iter().map(|line| escaped(&line.text)).collect();
    boxed(open_title(sheet), &open);
    let gone: Vec<String> = overruled(sheet).iter().map(|line| escaped(line)).collect();
    boxed(overruled_title(sheet), &gone);
    let declined: Vec<String> = declined.into_iter().map(escaped).collect();
    boxed("Safety advice not taken", &declined);
    let cautions = sheet.cautions.iter();
    let cautions = cautions
        .map(|one| format!("<strong>{}</strong>: {}", escaped(&word::<SignalWord>(one.word)), escaped(&one.text)));
    boxed("Mind", &cautions.collect::<Vec<_>>());
}

/// Lines that are escaped already.
fn list(page: &mut String, title: &str, lines: &[String]) {
    if lines.is_empty() {
        return;
    }
    let _ = writeln!(page, "<section>\n<h2>{title}</h2>\n<ul>");
    for line in lines {
        let _ = writeln!(page, "<li>{line}</li>");
    }
    page.push_str("</ul>\n</section>\n");
}

fn stage(stage: &SheetStage, mark: &str) -> String {
    let mut text = format!("<strong>{}</strong>{mark}", escaped(&stage.title));
    let done: Vec<String> = stage
        .steps
        .iter()
        .filter(|step| step.done)
        .map(|step| {
            let way = other_way(step).map(|way| format!("<br><strong>{}</strong>", escaped(&way))).unwrap_or_default();
            let goes_in = reckoned(step).map(|told| format!("<br>{}", escaped(&told))).unwrap_or_default();
            format!("<li>{}{goes_in}{way}</li>", escaped(&step.instruction))
        })
        .collect();
    if !done.is_empty() {
        let _ = write!(text, "<ul>{}</ul>", done.concat());
    }
    text
}

fn measured(page: &mut String, readings: &[Reading]) {
    if readings.is_empty() {
        return;
    }
    page.push_str(
        "<section>\n<h2>Measured</h2>\n<table>\n<thead><tr><th>What</th><th>Figures</th><th>Limits</th>\
         <th>Outcome</th></tr></thead>\n<tbody>\n",
    );
    for one in readings {
        let class = if one.verdict() == Verdict::Out { " class=\"out\"" } else { "" };
        let strong = |text: &str| format!("<strong>{}</strong>", escaped(text));
        let mut how = vec![strong(&outcome(one))];
        how.extend(one.conclusions.iter().map(|one| escaped(&concluded(one))));
        how.extend(Some(decided(one)).filter(|said| !said.is_empty()).map(|said| format!("Lead: {}", escaped(&said))));
        let mut what = vec![strong(&one.what)];
        what.extend((!one.instrument.is_empty()).then(|| format!("with {}", escaped(&one.instrument))));
        what.extend((!one.note.is_empty()).then(|| escaped(&one.note)));
        let _ = writeln!(
            page,
            "<tr{class}><td data-name=\"What\">{}</td><td data-name=\"Figures\">{}</td><td data-name=\"Limits\">{}</td>\
             <td data-name=\"Outcome\">{}</td></tr>",
            what.join("<br>"),
            escaped(&figures(one)),
            escaped(&one.limits),
            how.join("<br>")
        );
    }
    page.push_str("</tbody>\n</table>\n</section>\n");
}

/// Text as HTML shows it, in an element or an attribute. Control characters are shown as blanks, and what would turn the
/// direction of the text around it is kept within it by the page's own rule for every line.
fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            '\n' => safe.push('\n'),
            c if c.is_control() => safe.push(' '),
            c => safe.push(c),
        }
    }
    safe
}

#[cfg(test)]
mod tests {
    use super::super::sheet::tests::{full, head};
    use super::*;

    // The five characters that have a meaning in HTML text and in quoted attributes: HTML Living Standard, 13.1 (from
    // memory).
    #[test]
    fn hostile_text_stays_text() {
        let hostile = "</li><script>alert('x')</script><img src=x onerror=\"y\">&\u{1b}\u{0}";
        let page = render(&full(hostile), &head());
        let shown =
            "&lt;/li&gt;&lt;script&gt;alert(&#39;x&#39;)&lt;/script&gt;&lt;img src=x onerror=&quot;y&quot;&gt;&amp;";
        assert!(page.matches(shown).count() > 20, "each text of a full sheet is shown: {page}");
        for raw in ["<script", "<img", "onerror=\"", "\u{1b}", "\u{0}"] {
            assert!(!page.contains(raw), "{raw:?} got through");
        }
    }

    #[test]
    fn a_page_loads_nothing_and_has_its_tags_in_pairs() {
        for page in [render(&full("a"), &head()), render(&GetHandOverSheetResponse::default(), &head())] {
            for outside in ["http:", "https:", "url(", "@import", "src=", "href="] {
                assert!(!page.contains(outside), "{outside} is in {page}");
            }
            for tag in
                ["html", "head", "body", "main", "header", "section", "ul", "li", "table", "tr", "td", "dl", "div"]
            {
                let opened = page.matches(&format!("<{tag}>")).count() + page.matches(&format!("<{tag} ")).count();
                assert_eq!(opened, page.matches(&format!("</{tag}>")).count(), "{tag} in {page}");
            }
            assert!(page.contains("Received by, date") && page.contains("@media print"));
        }
    }

    #[test]
    fn an_empty_sheet_has_no_empty_parts() {
        let page = render(&GetHandOverSheetResponse::default(), &head());
        assert!(!page.contains("<section"), "{page}");
    }
}
