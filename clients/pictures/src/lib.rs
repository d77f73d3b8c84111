//! Where the hours went, drawn: pages show these pictures and the command line writes them into files.
//!
//! A picture is read on a light and on a dark page, printed in black and white, and by whoever sees no colours: patterns,
//! lengths and words tell, and no colour is needed. The words of a picture come from the caller, in the caller's language.

mod canvas;
mod hours;
mod lost;
mod spread;

pub use canvas::Picture;
pub use hours::{Bar, HoursWords, LABELS, hours};
pub use lost::{Lost, LostWords, MOST_WEEKS, lost, weeks};
pub use spread::{SpreadWords, Took, spread};

#[cfg(test)]
mod tests {
    use plotters::style::RGBColor;

    fn attribute(tag: &str, name: &str) -> Option<i32> {
        let from = tag.find(&format!(" {name}=\""))? + name.len() + 3;
        tag[from..].split('"').next()?.parse().ok()
    }

    /// x, y, width and height of every box with this fill.
    pub fn boxes_of(svg: &str, fill: &str) -> Vec<[i32; 4]> {
        let tags = svg.lines().filter(|tag| tag.starts_with("<rect") && tag.contains(&format!("fill=\"{fill}\"")));
        tags.filter_map(|tag| {
            let [x, y, wide, tall] = ["x", "y", "width", "height"].map(|name| attribute(tag, name));
            Some([x?, y?, wide?, tall?])
        })
        .collect()
    }

    pub fn boxes(svg: &str, RGBColor(red, green, blue): RGBColor) -> Vec<[i32; 4]> {
        boxes_of(svg, &format!("#{red:02X}{green:02X}{blue:02X}"))
    }

    /// Where circles have their middle, from the left.
    pub fn centres(svg: &str) -> Vec<i32> {
        svg.lines().filter(|tag| tag.starts_with("<circle")).filter_map(|tag| attribute(tag, "cx")).collect()
    }
}
