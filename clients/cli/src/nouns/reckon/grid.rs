//! Layouts of bolts and readings of faces from files and from the command line.

use leadhand_sdk::v1::{LayoutBolt, SurfacePoint};

/// A figure with the unit that it is meant in, where it was typed without one.
pub fn with_unit(text: &str, unit: &str) -> String {
    let text = text.trim();
    let bare = text.chars().all(|letter| letter.is_ascii_digit() || "+-−.,eE".contains(letter));
    if unit.is_empty() || !bare { text.to_owned() } else { format!("{text} {unit}") }
}

/// `2x5`: two rows of five columns.
pub fn parse_grid(text: &str) -> Result<(usize, usize), String> {
    let wrong = || "write rows and columns, such as 2x5, with 26 rows and 100 bolts at most".to_owned();
    let (rows, columns) = text.split_once(['x', 'X', '×']).ok_or_else(wrong)?;
    let size = (rows.trim().parse().map_err(|_| wrong())?, columns.trim().parse().map_err(|_| wrong())?);
    let fits = (1..=26).contains(&size.0) && (1..=100).contains(&size.1) && size.0 * size.1 <= 100;
    if fits { Ok(size) } else { Err(wrong()) }
}

/// The bolts of a grid: rows by letter from the top, columns by number from the left.
pub fn bolts_in_grid((rows, columns): (usize, usize)) -> Vec<LayoutBolt> {
    let row = |(at, letter): (usize, char)| {
        (0..columns).map(move |column| LayoutBolt {
            name: format!("{letter}{}", column + 1),
            x: format!("{} mm", column * 100),
            y: format!("{} mm", (rows - at) * 100),
        })
    };
    (0..rows).zip('A'..='Z').flat_map(row).collect()
}

/// A bolt a line: name, place along, place across.
pub fn bolts_of(text: &str, unit: &str) -> Result<Vec<LayoutBolt>, String> {
    let mut bolts = Vec::new();
    for (line, cells) in table(text)? {
        let [name, x, y] = cells.as_slice() else {
            return Err(format!("line {line} has {} columns; write name, place along, place across", cells.len()));
        };
        let heading = bolts.is_empty() && !x.chars().any(|letter| letter.is_ascii_digit());
        if !heading {
            bolts.push(LayoutBolt { name: name.clone(), x: with_unit(x, unit), y: with_unit(y, unit) });
        }
    }
    Ok(bolts)
}

/// How the readings of a face are laid out in a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum Layout {
    /// Lines of place along, place across, height
    List,
    /// Places along in the first line, places across in the first column
    Grid,
}

/// The readings of a face. What its first line says counts, then what whoever asks says; nothing is guessed.
pub fn points_of(text: &str, said: Option<Layout>, places: &str, height: &str) -> Result<Vec<SurfacePoint>, String> {
    let lines = table(text)?;
    let Some(((_, head), rows)) = lines.split_first() else { return Err("it holds no reading".to_owned()) };
    let titled = head.first().is_some_and(|cell| cell.trim().eq_ignore_ascii_case("x"));
    let layout = match (titled, head.first().is_none_or(String::is_empty), said) {
        (true, _, Some(Layout::Grid)) => return Err("its first line says x,y,z, so it is no grid".to_owned()),
        (true, ..) => Layout::List,
        (false, _, Some(said)) => said,
        (false, true, None) => Layout::Grid,
        (false, false, None) => return Err(UNTITLED.to_owned()),
    };
    let points = match layout {
        Layout::List => listed(if titled { rows } else { &lines }, places, height)?,
        Layout::Grid => in_grid(head, rows, places, height)?,
    };
    let bare = points.iter().find(|point| with_unit(&point.z, "um") != point.z);
    match bare {
        Some(point) => Err(format!(
            "the height {} has no unit; say it for all of them with --height, such as --height um",
            point.z
        )),
        None => Ok(points),
    }
}

/// Three numbers a line are a list to some and a grid of three columns to others.
const UNTITLED: &str = "its first line does not say whether it is a list or a grid; put a line x,y,z above a list, leave the \
                        first cell of a grid empty, or say --as list or --as grid";

fn listed(rows: &[(usize, Vec<String>)], places: &str, height: &str) -> Result<Vec<SurfacePoint>, String> {
    let point = |(line, cells): &(usize, Vec<String>)| match cells.as_slice() {
        [x, y, z] => Ok(SurfacePoint { x: with_unit(x, places), y: with_unit(y, places), z: with_unit(z, height) }),
        _ => Err(format!("line {line} has {} columns; write x, y and z", cells.len())),
    };
    rows.iter().map(point).collect()
}

/// Empty cells are places where nothing was measured: water jackets, bores.
fn in_grid(
    head: &[String],
    rows: &[(usize, Vec<String>)],
    places: &str,
    height: &str,
) -> Result<Vec<SurfacePoint>, String> {
    let mut points = Vec::new();
    for (line, cells) in rows {
        if cells.len() != head.len() {
            return Err(format!(
                "line {line} has {} columns and the first one {}; give as many",
                cells.len(),
                head.len()
            ));
        }
        for (x, z) in head.iter().zip(cells).skip(1).filter(|(_, z)| !z.is_empty()) {
            let (x, y) = (with_unit(x, places), with_unit(&cells[0], places));
            points.push(SurfacePoint { x, y, z: with_unit(z, height) });
        }
    }
    Ok(points)
}

/// Lines with their numbers and cells. Commas part the cells unless there are tabs or semicolons, and belong to the
/// numbers then.
fn table(text: &str) -> Result<Vec<(usize, Vec<String>)>, String> {
    let parted = [b';', b'\t'].into_iter().find(|mark| text.as_bytes().contains(mark)).unwrap_or(b',');
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(parted)
        .trim(csv::Trim::All)
        .from_reader(text.trim_start_matches('\u{feff}').as_bytes());
    let mut lines = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|error| format!("it can't be read as columns: {error}"))?;
        let line = record.position().map_or(0, |position| usize::try_from(position.line()).unwrap_or(0));
        if record.iter().any(|cell| !cell.is_empty()) {
            lines.push((line, record.iter().map(str::to_owned).collect()));
        }
    }
    Ok(lines)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn flat(points: &[SurfacePoint]) -> Vec<String> {
        points.iter().map(|point| format!("{}/{}/{}", point.x, point.y, point.z)).collect()
    }

    #[test]
    fn a_face_is_read_as_a_grid_or_as_a_list() {
        let grid = points_of(",0,90\n0,28,9\n70,,18\n", None, "mm", "um").expect("reads");
        assert_eq!(flat(&grid), ["0 mm/0 mm/28 um", "90 mm/0 mm/9 um", "90 mm/70 mm/18 um"]);
        let list = points_of("x,y,z\n0,0,28 um\n90,0,9 um\n", None, "mm", "").expect("reads");
        assert_eq!(flat(&list), ["0 mm/0 mm/28 um", "90 mm/0 mm/9 um"]);
        let comma = points_of("\u{feff};0;90,5\n0;0,028;0,009\n", None, "mm", "mm").expect("reads");
        assert_eq!(flat(&comma), ["0 mm/0 mm/0,028 mm", "90,5 mm/0 mm/0,009 mm"]);
    }

    #[test]
    fn what_is_no_face_is_refused_with_its_line() {
        assert!(points_of(",0,90\n0,28\n", None, "mm", "um").unwrap_err().contains("line 2"));
        assert!(points_of(",0\n0,28\n", None, "mm", "").unwrap_err().contains("--height"));
        assert!(points_of("x,y,z\n1,2\n", None, "mm", "um").unwrap_err().contains("line 2"));
        assert!(points_of(" \n", None, "mm", "um").is_err());
    }

    /// Three columns without a title are lines of x, y and z to whoever wrote them, and look like a grid.
    #[test]
    fn what_may_be_a_list_or_a_grid_is_asked_about() {
        let text = "0,0,28\n90,0,9\n0,70,36\n";
        let refused = points_of(text, None, "mm", "um").unwrap_err();
        assert!(refused.contains("--as list") && refused.contains("x,y,z"), "{refused}");
        let list = points_of(text, Some(Layout::List), "mm", "um").expect("reads");
        assert_eq!(flat(&list), ["0 mm/0 mm/28 um", "90 mm/0 mm/9 um", "0 mm/70 mm/36 um"]);
        let grid = points_of(text, Some(Layout::Grid), "mm", "um").expect("reads");
        assert_eq!(flat(&grid), ["0 mm/90 mm/0 um", "28 mm/90 mm/9 um", "0 mm/0 mm/70 um", "28 mm/0 mm/36 um"]);
        // A grid whose corner was given a word is asked about as well.
        assert!(points_of("y/x,0,90\n0,28,9\n", None, "mm", "um").unwrap_err().contains("--as grid"));
        assert_eq!(points_of("y/x,0,90\n0,28,9\n", Some(Layout::Grid), "mm", "um").expect("reads").len(), 2);
        assert!(points_of("x,y,z\n0,0,28\n", Some(Layout::Grid), "mm", "um").unwrap_err().contains("no grid"));
        assert!(points_of("0,0\n1,1\n", Some(Layout::List), "mm", "um").unwrap_err().contains("line 1"));
    }

    #[test]
    fn bolts_come_from_lines_or_from_a_grid() {
        let bolts = bolts_of("name,x,y\nA1,0,9 cm\nB1,0,0\n", "mm").expect("reads");
        assert_eq!((bolts.len(), bolts[0].x.as_str(), bolts[0].y.as_str()), (2, "0 mm", "9 cm"));
        assert!(bolts_of("A1,0\n", "mm").is_err());
        let grid = bolts_in_grid((2, 5));
        assert_eq!((grid.len(), grid[0].name.as_str(), grid[9].name.as_str()), (10, "A1", "B5"));
        assert_eq!(parse_grid("2x5"), Ok((2, 5)));
        assert!(parse_grid("2").is_err() && parse_grid("0x5").is_err() && parse_grid("11x10").is_err());
    }

    #[test]
    fn a_unit_is_put_only_where_none_was_typed() {
        assert_eq!(with_unit("12,4", "bar"), "12,4 bar");
        assert_eq!(with_unit("180psi", "bar"), "180psi");
        assert_eq!(with_unit("12", ""), "12");
    }
}
