//! What every picture is drawn on: its colours, patterns and letters.

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};
use std::fmt::Write;

/// How wide a picture is: on a phone it shrinks to six tenths of that, and its words are still read.
pub const WIDTH: i32 = 560;
/// Letters of names, of captions and at axes, in pixels.
pub const NAME: i32 = 21;
pub const SMALL: i32 = 18;

/// What is told, what is said beside it, thin lines, a range behind what was measured, and the ground. They are the
/// light colours of the pages; where a page or a file is dark they are named there and replaced.
pub const INK: RGBColor = RGBColor(0x14, 0x17, 0x1A);
pub const SOFT: RGBColor = RGBColor(0x4D, 0x54, 0x5B);
pub const LINE: RGBColor = RGBColor(0xB9, 0xBE, 0xC3);
pub const BAND: RGBColor = RGBColor(0xD5, 0xDE, 0xE6);
pub const PAPER: RGBColor = RGBColor(0xFB, 0xFA, 0xF7);

/// Patterns, each drawn as a colour that nothing else has, and put in its place afterwards.
pub const HATCHED: RGBColor = RGBColor(1, 1, 1);
pub const DOTTED: RGBColor = RGBColor(1, 1, 2);
pub const LINED: RGBColor = RGBColor(1, 1, 3);

const PATTERNS: [(RGBColor, &str, i32, &str); 3] = [
    (
        HATCHED,
        "p-blocked",
        10,
        r##"<path d="M-2 12 12 -2M-7 7 7 -7M3 17 17 3" fill="none" stroke="#14171A" stroke-width="2"/>"##,
    ),
    (DOTTED, "p-wait", 10, r##"<circle cx="5" cy="5" r="2" fill="#14171A"/>"##),
    (LINED, "p-outside", 8, r##"<path d="M0 4H10" fill="none" stroke="#14171A"/>"##),
];

/// Colours of a dark ground, for files; a page has its own.
const DARK: [(RGBColor, &str); 5] =
    [(INK, "#F2F3F4"), (SOFT, "#B3BAC1"), (LINE, "#4B5258"), (BAND, "#33404B"), (PAPER, "#0E1012")];

pub type Area<'a> = DrawingArea<SVGBackend<'a>, plotters::coord::Shift>;
/// A picture is drawn into memory, where nothing goes wrong; what does is an empty picture and no panic.
pub type Drawn = Result<(), Box<dyn std::error::Error>>;

/// A picture, and all of it in words for whoever sees none.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Picture {
    svg: String,
}

impl Picture {
    /// Draws one so high; `told` is what it shows, in words.
    pub(crate) fn draw(height: i32, told: &str, draw: impl FnOnce(&Area<'_>) -> Drawn) -> Self {
        let mut svg = String::new();
        {
            let size = (WIDTH.unsigned_abs(), height.max(1).unsigned_abs());
            let area = SVGBackend::with_string(&mut svg, size).into_drawing_area();
            if draw(&area).and_then(|()| Ok(area.present()?)).is_err() {
                return Self::default();
            }
        }
        Self { svg: finish(&svg, told) }
    }

    /// For a page, whose style names the colours.
    pub fn inline(&self) -> &str {
        &self.svg
    }

    /// For a file, with its own colours on a light and on a dark ground.
    pub fn file(&self) -> String {
        let mut style = format!("<style>svg{{background:{}}}", hex(PAPER));
        style.push_str("@media (prefers-color-scheme: dark){svg{background:#0E1012}");
        for (light, dark) in DARK {
            let light = hex(light);
            let _ = write!(style, r#"[fill="{light}"]{{fill:{dark}}}[stroke="{light}"]{{stroke:{dark}}}"#);
        }
        style.push_str("}</style>\n");
        match self.svg.find('\n') {
            Some(head) => format!("{}{style}{}", &self.svg[..=head], &self.svg[head + 1..]),
            None => String::new(),
        }
    }
}

fn hex(RGBColor(red, green, blue): RGBColor) -> String {
    format!("#{red:02X}{green:02X}{blue:02X}")
}

/// Puts the patterns into place, and says what the picture shows.
fn finish(svg: &str, told: &str) -> String {
    let mut defs = String::from("<defs>");
    let mut body = svg.to_owned();
    for (color, id, tall, marks) in PATTERNS {
        let paper = hex(PAPER);
        let _ = write!(
            defs,
            r#"<pattern id="{id}" width="10" height="{tall}" patternUnits="userSpaceOnUse"><rect width="10" height="{tall}" fill="{paper}"/>{marks}</pattern>"#
        );
        body = body.replace(&hex(color), &format!("url(#{id})"));
    }
    defs.push_str("</defs>\n");
    let told = told.replace('&', "&amp;").replace('<', "&lt;").replace('"', "&quot;");
    let body = body.replacen("<svg ", &format!(r#"<svg role="img" aria-label="{told}" "#), 1);
    match body.find('\n') {
        Some(head) => format!("{}{defs}{}", &body[..=head], &body[head + 1..]),
        None => body,
    }
}

/// How words are written.
#[derive(Clone, Copy)]
pub struct Letters {
    pub size: i32,
    pub bold: bool,
    pub color: RGBColor,
    pub from: HPos,
}

impl Letters {
    pub const NAME: Self = Self { size: NAME, bold: true, color: INK, from: HPos::Left };
    pub const CAPTION: Self = Self { size: SMALL, bold: false, color: SOFT, from: HPos::Left };

    /// Words whose middle is at the place.
    pub fn centred(self) -> Self {
        Self { from: HPos::Center, ..self }
    }
}

/// Writes words; their left end (or middle) and the middle of their height are at this place.
pub fn write(area: &Area<'_>, words: &str, at: (i32, i32), letters: Letters) -> Drawn {
    let style = if letters.bold { FontStyle::Bold } else { FontStyle::Normal };
    let font = FontDesc::new(FontFamily::SansSerif, f64::from(letters.size), style);
    let style = TextStyle::from(font).color(&letters.color).pos(Pos::new(letters.from, VPos::Center));
    Ok(area.draw_text(words, &style, at)?)
}

/// What fits into so many pixels of letters, cut with a sign where it does not.
pub fn fitting(words: &str, wide: i32, letters: Letters) -> String {
    // A letter is about 0.35 of its height wide in words, a bold one 0.42 (measured in Liberation Sans); wide ones are not cut so.
    let hundredths = letters.size * if letters.bold { 47 } else { 41 };
    let room = usize::try_from(wide * 100 / hundredths.max(1)).unwrap_or_default();
    if words.chars().count() <= room {
        return words.to_owned();
    }
    let mut cut: String = words.chars().take(room.saturating_sub(1)).collect();
    cut.truncate(cut.trim_end().len());
    cut.push('…');
    cut
}

/// A box of one colour or pattern, with a thin edge.
pub fn fill(area: &Area<'_>, from: (i32, i32), until: (i32, i32), color: RGBColor, edge: bool) -> Drawn {
    area.draw(&Rectangle::new([from, until], color.filled()))?;
    if edge {
        area.draw(&Rectangle::new([from, until], INK.stroke_width(1)))?;
    }
    Ok(())
}

/// A straight line.
pub fn line(area: &Area<'_>, from: (i32, i32), until: (i32, i32), color: RGBColor, wide: u32) -> Drawn {
    Ok(area.draw(&PathElement::new([from, until], color.stroke_width(wide)))?)
}

/// Steps of an axis in seconds, and the first of them that gives no more than `most` of them up to `whole`.
pub fn step(whole: i64, most: i64) -> i64 {
    const STEPS: [i64; 14] =
        [300, 600, 900, 1_800, 3_600, 7_200, 14_400, 28_800, 36_000, 72_000, 144_000, 360_000, 720_000, 1_440_000];
    STEPS.into_iter().find(|step| whole / step <= most).unwrap_or(3_600_000 * (whole / 3_600_000 / most.max(1) + 1))
}
