//! How bays share the wall: what has trouble gets room for the reason, all others a line.

/// The wall that type is worked out for, less what stands around the bays: 55 inches at 1920 by 1080.
const WALL: (u32, u32) = (1470, 930);
/// With so few bays everybody gets the same room.
const FEW: usize = 9;
/// There are styles for so many columns.
pub const COLUMNS_MAX: u32 = 6;
/// There are styles for so many rows.
pub const ROWS_MAX: u32 = 24;

/// Rows and columns of the wall.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Layout {
    /// Side by side.
    pub columns: u32,
    /// Below each other.
    pub rows: u32,
    /// Whether everybody has the room for reasons.
    pub roomy: bool,
}

impl Layout {
    /// For so many bays with trouble, which come first, and so many without: whatever makes the smallest type largest.
    pub fn of(troubled: usize, calm: usize) -> Self {
        let roomy = troubled + calm <= FEW;
        let (big, small) = if roomy { (troubled + calm, 0) } else { (troubled, calm) };
        let (big, small) = (u32::try_from(big).unwrap_or(u32::MAX / 4), u32::try_from(small).unwrap_or(u32::MAX / 4));
        (1..=COLUMNS_MAX)
            .map(|columns| Self { columns, rows: rows(columns, big, small).clamp(1, ROWS_MAX), roomy })
            .max_by_key(|layout| (layout.type_size(big > 0, small > 0), u32::MAX - layout.columns))
            .unwrap_or(Self { columns: 1, rows: 1, roomy })
    }

    /// The height in pixels of what is read from six metres, on the wall above; as in shop.css.
    fn type_size(&self, big: bool, small: bool) -> u32 {
        let (width, height) = (WALL.0 / self.columns, WALL.1 / self.rows);
        let of_big = if big { (2 * height * 22 / 100).min(width * 88 / 1000) } else { u32::MAX };
        let of_small = if small { (height * 44 / 100).min(width * 88 / 1000) } else { u32::MAX };
        of_big.min(of_small)
    }

    /// The style classes.
    pub fn classes(&self) -> String {
        format!("columns-{} rows-{}", self.columns, self.rows)
    }
}

/// The fewest rows with which all have room when columns are filled from the top, one after the other: two for each big
/// one, one for each small one. A big one is not broken over two columns.
fn rows(columns: u32, big: u32, small: u32) -> u32 {
    let least = (2 * big + small).div_ceil(columns).max(if big > 0 { 2 } else { 1 });
    (least..=2 * big + small).find(|rows| has_room(*rows, columns, big, small)).unwrap_or(least)
}

fn has_room(rows: u32, columns: u32, big: u32, small: u32) -> bool {
    let in_a_column = (rows / 2).max(1);
    // Columns that only big ones fill, and those of them that an odd row is left over in.
    let (full, rest) = (big / in_a_column, big % in_a_column);
    let (taken, free_beside) = if rest > 0 { (full + 1, rows - 2 * rest) } else { (full, 0) };
    // The last column of big ones is gone on with, though the row that an odd number leaves in it is free as well.
    let free_beside = if rest == 0 && full > 0 { rows % 2 } else { free_beside };
    taken <= columns && small <= free_beside + (columns - taken) * rows
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Places them as the browser does with `grid-auto-flow: column`, big ones first, and says whether all fit.
    fn fits(layout: Layout, big: usize, small: usize) -> bool {
        let (mut column, mut row) = (0, 0);
        for height in std::iter::repeat_n(2, big).chain(std::iter::repeat_n(1, small)) {
            if row + height > layout.rows {
                (column, row) = (column + 1, 0);
            }
            row += height;
        }
        column < layout.columns
    }

    #[test]
    fn everybody_fits_however_many_have_trouble() {
        for bays in 1..=60 {
            for troubled in 0..=bays {
                let layout = Layout::of(troubled, bays - troubled);
                let (big, small) = if layout.roomy { (bays, 0) } else { (troubled, bays - troubled) };
                assert!(fits(layout, big, small), "{bays} bays, {troubled} with trouble: {layout:?}");
            }
        }
    }

    #[test]
    fn four_bays_stand_two_by_two_and_twenty_four_can_be_read_from_six_metres() {
        let four = Layout::of(1, 3);
        assert_eq!((four.columns, four.rows, four.roomy), (2, 4, true));
        for troubled in 0..=24 {
            let layout = Layout::of(troubled, 24 - troubled);
            // 31 px on that wall are 14 mm of capitals (0.7 of the type) on 0.63 mm a pixel: 7.9 minutes of arc at six
            // metres. Normal sight tells letters of five (ISO 8596; from memory).
            let size = layout.type_size(troubled > 0, troubled < 24);
            assert!(size >= 31, "{troubled} of 24 with trouble: {size} px, {layout:?}");
        }
    }
}
