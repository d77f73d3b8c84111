//! Reading an opening stock from CSV, and what is wrong with it by itself.

use crate::check;
use crate::reading::read_measure;
use crate::refusal::{BadRow, Refusal};
use csv::StringRecord;
use leadhand_facts::quantity::QUANTITY_MAX;
use leadhand_facts::words::FluidKind;
use leadhand_facts::{ItemFluid, ItemKey, PlaceKey, Quantity, Unit};
use std::collections::HashMap;

/// Most rows of an import.
pub const ROWS_MAX: usize = 20_000;

/// Most bytes of an import.
pub const BYTES_MAX: usize = 4 * 1024 * 1024;

/// The columns, in their order; the last two may be left out of a file.
pub const COLUMNS: [&str; 8] = ["item", "name", "unit", "place", "quantity", "expires_on", "fluid", "strength"];

/// So many columns every file has.
const ASKED: usize = 6;

/// A row that can be read. One of quantity 0 lists its item, and its bin if it names one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct SheetRow {
    pub(super) line: usize,
    pub(super) item: ItemKey,
    pub(super) name: String,
    pub(super) unit: Unit,
    pub(super) place: Option<PlaceKey>,
    pub(super) quantity: Quantity,
    pub(super) expires_on: Option<String>,
    pub(super) fluid: Option<ItemFluid>,
}

/// A file as far as it can be read, with everything that is wrong with it.
#[derive(Debug, Default)]
pub(super) struct Sheet {
    pub(super) rows: Vec<SheetRow>,
    pub(super) bad: Vec<BadRow>,
}

/// Notes a bad row.
pub(super) fn bad(line: usize, column: &str, message: impl Into<String>) -> BadRow {
    BadRow { line, column: column.to_owned(), message: message.into() }
}

impl Sheet {
    /// Reads a file; refused at once when it has no form that rows could be read from.
    pub(super) fn read(csv: &str) -> Result<Self, Refusal> {
        if csv.len() > BYTES_MAX {
            let why = format!("it has {} bytes and at most {BYTES_MAX} fit; split the file", csv.len());
            return Err(Refusal::invalid("csv", why));
        }
        // Spreadsheets like to write a byte order mark first.
        let csv = csv.strip_prefix('\u{feff}').unwrap_or(csv);
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .trim(csv::Trim::All)
            .from_reader(csv.as_bytes());
        let mut records = reader.records();
        let width = check_header(records.next())?;
        let mut sheet = Self::default();
        for record in records {
            sheet.take(record, width)?;
        }
        if sheet.rows.is_empty() && sheet.bad.is_empty() {
            return Err(Refusal::invalid(
                "csv",
                "it has no rows below the header; write one row for each item and bin",
            ));
        }
        sheet.compare_rows();
        Ok(sheet)
    }

    fn take(&mut self, record: Result<StringRecord, csv::Error>, width: usize) -> Result<(), Refusal> {
        let record = record.map_err(|error| Refusal::invalid("csv", format!("it can't be read: {error}")))?;
        if self.rows.len() + self.bad_lines() >= ROWS_MAX {
            let why = format!("it has more than {ROWS_MAX} rows; split the file by items");
            return Err(Refusal::invalid("csv", why));
        }
        let before = self.bad.len();
        let row = read_row(&record, width, &mut self.bad);
        if self.bad.len() == before {
            self.rows.extend(row);
        }
        Ok(())
    }

    fn bad_lines(&self) -> usize {
        // Faults of a line stand together.
        self.bad.chunk_by(|one, other| one.line == other.line).count()
    }

    /// The same item under two names or units, and the same goods in two rows.
    fn compare_rows(&mut self) {
        let mut items: HashMap<&ItemKey, &SheetRow> = HashMap::new();
        let mut goods: HashMap<(&ItemKey, &Option<PlaceKey>, &Option<String>), usize> = HashMap::new();
        for row in &self.rows {
            let first = *items.entry(&row.item).or_insert(row);
            if first.name != row.name {
                let message = format!("'{}' is called '{}' in line {}; use one name", row.item, first.name, first.line);
                self.bad.push(bad(row.line, "name", message));
            }
            if first.unit != row.unit {
                let (unit, line) = (first.unit.code(), first.line);
                self.bad.push(bad(
                    row.line,
                    "unit",
                    format!("'{}' is kept in {unit} in line {line}; use one unit", row.item),
                ));
            }
            if first.fluid != row.fluid {
                let message =
                    format!("'{}' is another fluid or strength in line {}; say it alike", row.item, first.line);
                self.bad.push(bad(row.line, "fluid", message));
            }
            let line = *goods.entry((&row.item, &row.place, &row.expires_on)).or_insert(row.line);
            if line != row.line {
                let message =
                    format!("line {line} has the same item, place and expiry; add both quantities up in one row");
                self.bad.push(bad(row.line, "", message));
            }
        }
    }
}

/// How many columns the file has.
fn check_header(header: Option<Result<StringRecord, csv::Error>>) -> Result<usize, Refusal> {
    let written = header.and_then(Result::ok).unwrap_or_default();
    let known = |width: &usize| written.iter().eq(COLUMNS[..*width].iter().copied());
    if let Some(width) = (ASKED..=COLUMNS.len()).find(known) {
        return Ok(width);
    }
    let (asked, more) = (COLUMNS[..ASKED].join(","), COLUMNS[ASKED..].join(","));
    let message =
        format!("the first line has to name the columns: {asked}, and behind these {more} where fluids are said");
    Err(Refusal::BadRows { rows: vec![bad(1, "", message)] })
}

fn read_row(record: &StringRecord, width: usize, faults: &mut Vec<BadRow>) -> Option<SheetRow> {
    let line = record.position().map_or(0, |at| usize::try_from(at.line()).unwrap_or(usize::MAX));
    if record.len() != width {
        let message =
            format!("it has {} fields and {width} are asked for: {}", record.len(), COLUMNS[..width].join(","));
        faults.push(bad(line, "", message));
        return None;
    }
    let [item, name, unit, place, quantity, expires_on, fluid, strength] =
        std::array::from_fn(|column| record.get(column).unwrap_or_default());
    let mut fault = |column: &str, message: String| faults.push(bad(line, column, message));
    if let Some(why) = check::fault_of_key(item) {
        fault("item", why);
    }
    if let Some(why) = check::fault_of_words(name, check::NAME_MAX, |_| false) {
        fault("name", why);
    }
    let unit = Unit::from_code(unit).ok_or_else(|| fault("unit", unknown_unit(unit))).ok();
    let quantity = read_quantity(quantity).map_err(|why| fault("quantity", why)).ok();
    let nothing = quantity == Some(Quantity::ZERO);
    let place = (!place.is_empty() || !nothing).then(|| PlaceKey::from(place));
    if let Some(why) = place.as_ref().and_then(fault_of_place) {
        fault("place", why);
    }
    let expires_on = (!expires_on.is_empty()).then(|| expires_on.to_owned());
    if let Some(why) = expires_on.as_deref().and_then(|day| check::read_date(day).err()) {
        fault("expires_on", why);
    }
    let fluid = read_fluid(fluid, strength).unwrap_or_else(|(column, why)| {
        fault(column, why);
        None
    });
    Some(SheetRow {
        line,
        item: ItemKey::from(item),
        name: name.to_owned(),
        unit: unit?,
        place,
        quantity: quantity?,
        expires_on,
        fluid,
    })
}

/// Which fluid an item is; else in which column that can't be read, and why.
fn read_fluid(fluid: &str, strength: &str) -> Result<Option<ItemFluid>, (&'static str, String)> {
    if fluid.is_empty() {
        let why = "a strength is of a fluid; write coolant in the column before it".to_owned();
        return if strength.is_empty() { Ok(None) } else { Err(("strength", why)) };
    }
    let kind = FluidKind::from_word(fluid).ok_or_else(|| {
        let known: Vec<&str> = FluidKind::ALL.iter().map(|kind| kind.word()).collect();
        ("fluid", format!("'{}' is no fluid; use one of {}", check::shorten(fluid), known.join(", ")))
    })?;
    let share = |text: &str| read_measure(text.strip_suffix('%').unwrap_or(text).trim_end()).ok();
    let read = Some(strength).filter(|text| !text.is_empty()).map(share);
    let said = ItemFluid { kind, strength: read.flatten() };
    if read == Some(None) || !said.fits() {
        let shown = check::shorten(strength);
        let why =
            format!("'{shown}' is no strength; it is of a coolant, above 0 % and up to 100 % by volume, such as 50%");
        return Err(("strength", why));
    }
    Ok(Some(said))
}

fn fault_of_place(place: &PlaceKey) -> Option<String> {
    check::fault_of_key(place.as_str()).or_else(|| check::fault_of_bin(place))
}

fn unknown_unit(unit: &str) -> String {
    let known: Vec<&str> = Unit::ALL.into_iter().map(Unit::code).collect();
    format!("'{}' is no unit that stock is kept in; use one of {}", check::shorten(unit), known.join(", "))
}

fn read_quantity(text: &str) -> Result<Quantity, String> {
    let digits = !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    let number = if digits { text.parse::<i64>().ok() } else { None };
    number.filter(|number| *number <= QUANTITY_MAX).map(Quantity).ok_or_else(|| {
        format!("'{}' is no quantity; write a whole number from 0 to {QUANTITY_MAX}", check::shorten(text))
    })
}
