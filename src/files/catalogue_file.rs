//! Catalogues on disk: RON as the program writes it, or CSV as a spreadsheet does.
//!
//! A CSV catalogue has one line an entry and a heading that names each column with its unit, `Bore (mm)`. Columns may
//! stand in any order and in any unit the program knows; a cell that does not apply stays empty. Fields may be parted
//! by commas or semicolons, and decimals may have a comma then. What the program writes is in metric units.
//!
//! In place of a loss coefficient, a column `Kv (m³/h)` or `Cv (gal/min)` may give the flow factor of a data sheet: it
//! becomes the coefficient at the entry's own bore.

use std::collections::BTreeMap;
use std::path::Path;

use super::marks::Kind;
use super::output::Output;
use super::project_file::{LARGEST_CATALOGUE, read_catalogue, write_catalogue};
use super::read_error::ReadError;
use super::reading::read_file;
use super::row_positions::{SPLIT_BY_COMMA, line_of};
use super::written::WriteError;
use crate::hydraulics::losses::fitting;
use crate::plan::bounds::Bound;
use crate::plan::kinds::{Field, ItemError};
use crate::plan::letters::on_one_line;
use crate::plan::problems::{Problem, Problems};
use crate::plan::validate;
use crate::plan::words::{count, no_formula, short, with_formula};
use crate::plan::{Catalogue, Entry, EntryKey, Item, ItemKind, Price, WettedMaterial, wetted_material};
use crate::quantities::{Length, Measure, UnitSystem};

const KEY: &str = "Key";
const KIND: &str = "Kind";
const DESCRIPTION: &str = "Description";
const PART_NUMBER: &str = "Part number";
const CONNECTION: &str = "Connection";
const PRICE: &str = "Price";
const CURRENCY: &str = "Currency";
const ROLL: &str = "Roll length";
const MATERIAL: &str = "Wetted material";
/// What data sheets call the flow factor, in metric and in US customary units.
const FLOW_FACTOR: [&str; 2] = ["Kv", "Cv"];
/// Most columns of a CSV catalogue: more than there are names for.
const MOST_COLUMNS: usize = 100;
/// How far a coefficient and a flow factor that are both given may differ: two figures each, as data sheets round.
const SAME_LOSS: f64 = 0.02;

/// Opens a catalogue, CSV by its ending and RON otherwise.
pub fn open_catalogue(path: &Path) -> Result<Catalogue, ReadError> {
    let read = if is_csv(path) { read_catalogue_csv } else { read_catalogue };
    read_file(path, LARGEST_CATALOGUE).and_then(|text| read(&text)).map_err(|error| error.of(path))
}

/// A catalogue's file as it is written there: CSV by its ending and RON otherwise.
pub fn catalogue_output(path: &Path) -> Output {
    Output::alone(path, if is_csv(path) { Kind::CatalogueCsv } else { Kind::Catalogue })
}

/// What is written there.
pub fn catalogue_bytes(path: &Path, catalogue: &Catalogue) -> Result<Vec<u8>, WriteError> {
    let text = if is_csv(path) { write_catalogue_csv(catalogue) } else { write_catalogue(catalogue)? };
    Ok(text.into_bytes())
}

fn is_csv(path: &Path) -> bool {
    path.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("csv"))
}

fn heading(name: &str, measure: Measure) -> String {
    match measure.unit(UnitSystem::Metric).symbol {
        "" => name.to_owned(),
        unit => format!("{name} ({unit})"),
    }
}

/// A catalogue as CSV, with a mark at its start that tells spreadsheets it is UTF-8.
pub fn write_catalogue_csv(catalogue: &Catalogue) -> String {
    let mut headings: Vec<String> =
        [KEY, KIND, DESCRIPTION, PART_NUMBER, CONNECTION, MATERIAL, PRICE, CURRENCY]
            .map(str::to_owned)
            .to_vec();
    headings.push(heading(ROLL, Measure::Distance));
    headings.extend(Field::ALL.map(|field| heading(field.name(), field.measure())));
    let mut text = "\u{feff}".to_owned();
    line(&mut text, &headings);
    for entry in &catalogue.entries {
        let number = |measure: Measure, stored: f64| few_digits(measure.shown(stored, UnitSystem::Metric));
        let mut cells = vec![
            no_formula(&entry.key.0),
            entry.item.kind().to_owned(),
            no_formula(&entry.description),
            no_formula(&entry.part_number),
            no_formula(&entry.connection),
            wetted_material::listed(&entry.materials),
            entry.price.as_ref().map_or_else(String::new, |price| price.amount.to_string()),
            entry.price.as_ref().map_or_else(String::new, |price| price.currency.clone()),
            entry.roll.map_or_else(String::new, |roll| number(Measure::Distance, roll.si())),
        ];
        let numbers = entry.item.numbers();
        cells.extend(Field::ALL.map(|field| {
            let value = numbers.iter().find(|one| one.0 == field).map(|one| one.1);
            value.map_or_else(String::new, |value| match field {
                Field::Inlet => if value == 0.0 { "end" } else { "middle" }.to_owned(),
                _ => number(field.measure(), value),
            })
        }));
        line(&mut text, &cells);
    }
    text
}

/// A number as short as it can be without losing what anyone could have measured: twelve digits.
fn few_digits(value: f64) -> String {
    let rounded = format!("{value:.11e}").parse::<f64>().unwrap_or(value);
    rounded.to_string()
}

/// One line after RFC 4180.
fn line(text: &mut String, cells: &[String]) {
    for (index, cell) in cells.iter().enumerate() {
        if index > 0 {
            text.push(',');
        }
        let cell = &*on_one_line(cell);
        // Spaces at the ends would be lost by readers that trim.
        let quoted = cell.contains(['"', ',', ';', '\n', '\r']) || cell.trim() != cell;
        if quoted {
            text.push('"');
            text.push_str(&cell.replace('"', "\"\""));
            text.push('"');
        } else {
            text.push_str(cell);
        }
    }
    text.push_str("\r\n");
}

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Holds {
    Word(&'static str),
    Roll,
    /// With the place of its name in [`FLOW_FACTOR`].
    FlowFactor(usize),
    Number(Field),
}

impl Holds {
    const fn measure(self) -> Measure {
        match self {
            Self::Word(_) => Measure::Plain,
            Self::Roll => Measure::Distance,
            Self::FlowFactor(_) => Measure::FlowFactor,
            Self::Number(field) => field.measure(),
        }
    }
}

/// A column: what it holds, and the unit its heading names.
fn column(heading: &str) -> Option<(Holds, String)> {
    let heading = heading.trim();
    let (name, unit) = match heading.rsplit_once('(') {
        Some((name, unit)) => (name.trim(), unit.trim_end_matches(')').trim()),
        None => (heading, ""),
    };
    let is = |other: &str| name.eq_ignore_ascii_case(other);
    let words = [KEY, KIND, DESCRIPTION, PART_NUMBER, CONNECTION, MATERIAL, PRICE, CURRENCY];
    let holds = words
        .into_iter()
        .find(|word| is(word))
        .map(Holds::Word)
        .or_else(|| is(ROLL).then_some(Holds::Roll))
        .or_else(|| FLOW_FACTOR.iter().position(|word| is(word)).map(Holds::FlowFactor))
        .or_else(|| Field::ALL.into_iter().find(|field| is(field.name())).map(Holds::Number))?;
    let unit = match holds {
        Holds::FlowFactor(system) if unit.is_empty() => {
            Measure::FlowFactor.unit(UnitSystem::ALL[system]).symbol
        }
        _ => unit,
    };
    Some((holds, unit.to_owned()))
}

/// A catalogue from CSV. Every line that is wrong is named, with what and what to try.
pub fn read_catalogue_csv(text: &str) -> Result<Catalogue, ReadError> {
    let text = text.trim_start_matches('\u{feff}');
    let first = text.lines().next().unwrap_or_default();
    let separator = if first.matches(';').count() > first.matches(',').count() { b';' } else { b',' };
    let mut reader =
        csv::ReaderBuilder::new().delimiter(separator).flexible(true).from_reader(text.as_bytes());
    let mut problems = Problems::default();
    let problem =
        |place: String, what: String, advice: &str| Problem { place, what, advice: advice.to_owned() };
    let headings = reader.headers().map_err(|error| unreadable(&error))?.clone();
    let mut columns: Vec<Option<(Holds, String)>> = Vec::new();
    if headings.len() > MOST_COLUMNS {
        problems.push(problem(
            "line 1".to_owned(),
            format!("it has {} columns", count(headings.len())),
            "keep those that an exported catalogue has",
        ));
        return Err(ReadError { file: None, problems });
    }
    for (index, heading) in headings.iter().enumerate() {
        let known = column(heading);
        if known.is_none() && !heading.trim().is_empty() {
            problems.push(problem(
                format!("column {}", index + 1),
                format!("the heading \"{}\" is not known", short(heading)),
                "remove the column, or name it as an exported catalogue does",
            ));
        }
        if let Some((holds, unit)) = &known {
            let probe = format!("1 {unit}");
            if !unit.is_empty() && holds.measure().parse(&probe, UnitSystem::Metric).is_err() {
                problems.push(problem(
                    format!("column {}", index + 1),
                    format!("the unit \"{}\" in \"{}\" is not known", short(unit), short(heading)),
                    &format!("use one of {}", holds.measure().accepted().join(", ")),
                ));
            }
            if columns.iter().flatten().any(|(other, _)| other == holds) {
                problems.push(problem(
                    format!("column {}", index + 1),
                    format!("\"{}\" stands twice", short(heading)),
                    "remove one of the two columns",
                ));
            }
        }
        columns.push(known);
    }
    for needed in [KEY, KIND] {
        if !columns.iter().flatten().any(|(holds, _)| *holds == Holds::Word(needed)) {
            problems.push(problem(
                "line 1".to_owned(),
                format!("there is no column \"{needed}\""),
                "add it; export a catalogue as CSV to see the columns",
            ));
        }
    }
    let mut entries = Vec::new();
    if problems.is_empty() {
        for record in reader.records() {
            let record = record.map_err(|error| unreadable(&error))?;
            if record.iter().all(|cell| cell.trim().is_empty()) {
                continue;
            }
            let line = line_of(text, record.position(), false);
            if record.len() > headings.len() {
                problems.push(problem(
                    format!("line {line}"),
                    format!("{} cells, but {} headings", record.len(), headings.len()),
                    SPLIT_BY_COMMA,
                ));
                continue;
            }
            match entry(&columns, &record, line) {
                Ok(_) if entries.len() == Bound::Entries.most() => {
                    // The rest could only be more of the same.
                    let too_many = Bound::Entries.broken_by(&format!("line {line}"), "it", entries.len() + 1);
                    problems = too_many.into_iter().collect();
                    break;
                }
                Ok(entry) => entries.push(entry),
                Err(found) => problems.push(found),
            }
        }
    }
    let catalogue = Catalogue { entries };
    if problems.is_empty() {
        problems = validate::catalogue(&catalogue);
    }
    if problems.is_empty() { Ok(catalogue) } else { Err(ReadError { file: None, problems }) }
}

fn unreadable(error: &csv::Error) -> ReadError {
    let place = error.position().map_or_else(|| "file".to_owned(), |at| format!("line {}", at.line()));
    let problem = Problem {
        place,
        what: format!("it can't be read as CSV: {error}"),
        advice: "save it from the spreadsheet as CSV in UTF-8".to_owned(),
    };
    ReadError { file: None, problems: problem.into() }
}

fn entry(
    columns: &[Option<(Holds, String)>],
    record: &csv::StringRecord,
    line: u64,
) -> Result<Entry, Problem> {
    let wrong = |column: &str, what: String, advice: String| Problem {
        place: format!("line {line}, {column}"),
        what,
        advice,
    };
    let mut words: BTreeMap<&'static str, &str> = BTreeMap::new();
    let mut numbers: BTreeMap<Field, f64> = BTreeMap::new();
    let mut roll = None;
    let mut flow_factor = None;
    for (cell, known) in record.iter().zip(columns) {
        let Some((holds, unit)) = known else { continue };
        let cell = cell.trim();
        if cell.is_empty() {
            continue;
        }
        let number = |name: &str| {
            let measure = holds.measure();
            // A cell may carry a unit of its own; otherwise the heading's counts.
            let is_bare = Measure::Plain.parse(cell, UnitSystem::Metric).is_ok();
            let typed = if is_bare && !unit.is_empty() { format!("{cell} {unit}") } else { cell.to_owned() };
            measure
                .parse(&typed, UnitSystem::Metric)
                .map_err(|error| wrong(name, error.to_string(), "correct the number".to_owned()))
        };
        match holds {
            Holds::Word(word) => {
                words.insert(word, with_formula(cell));
            }
            Holds::Roll => roll = Some(Length::from_si(number(ROLL)?)),
            Holds::FlowFactor(name) => {
                let name = FLOW_FACTOR[*name];
                let kv = number(name)?;
                if kv <= 0.0 {
                    let what = format!("{name} must be above zero");
                    return Err(wrong(name, what, "leave it empty where nothing is lost".to_owned()));
                }
                flow_factor = Some((name, kv));
            }
            Holds::Number(Field::Inlet) => {
                let value = match cell.to_lowercase().as_str() {
                    "end" => 0.0,
                    "middle" => 1.0,
                    _ => {
                        let what = format!("\"{}\" is no place for an inlet", short(cell));
                        return Err(wrong(Field::Inlet.name(), what, "write end or middle".to_owned()));
                    }
                };
                numbers.insert(Field::Inlet, value);
            }
            Holds::Number(field) => {
                numbers.insert(*field, number(field.name())?);
            }
        }
    }
    if let Some((name, kv)) = flow_factor {
        let Some(bore) = numbers.get(&Field::Bore) else {
            let what = format!("without a bore, {name} says nothing of a loss coefficient");
            return Err(wrong(Field::Bore.name(), what, "fill it in".to_owned()));
        };
        let k = fitting::k_from_kv(kv, *bore);
        match numbers.get(&Field::Loss) {
            Some(given) if (given / k - 1.0).abs() > SAME_LOSS => {
                let what = format!(
                    "{name} means a loss coefficient of {}, but the line says {}",
                    Measure::Plain.short_number(k, UnitSystem::Metric),
                    Measure::Plain.short_number(*given, UnitSystem::Metric)
                );
                return Err(wrong(name, what, "empty one of the two cells".to_owned()));
            }
            Some(_) => {}
            None => {
                numbers.insert(Field::Loss, k);
            }
        }
    }
    let word = |name| words.get(name).copied().unwrap_or_default();
    let named = |name: &str| {
        WettedMaterial::named(name).ok_or_else(|| {
            let all = WettedMaterial::ALL.map(WettedMaterial::name).join(", ");
            wrong(
                MATERIAL,
                format!("\"{}\" is no material", short(name)),
                format!("write some of {all}, parted by semicolons"),
            )
        })
    };
    let cells = word(MATERIAL).split(';').map(str::trim).filter(|name| !name.is_empty());
    let given = cells.map(named).collect::<Result<Vec<_>, _>>()?;
    let kind = word(KIND).to_lowercase();
    let item =
        Item::from_numbers(&kind, |field| numbers.get(&field).copied()).map_err(|error| match error {
            ItemError::UnknownKind => wrong(
                KIND,
                format!("\"{}\" is no kind", short(word(KIND))),
                format!(
                    "write one of {}",
                    ItemKind::all().map(|kind| kind.words()).collect::<Vec<_>>().join(", ")
                ),
            ),
            ItemError::Missing(field) => {
                wrong(field.name(), format!("a {} needs it", short(&kind)), "fill it in".to_owned())
            }
            ItemError::OutOfRange(field) => {
                wrong(field.name(), "it must be a whole number".to_owned(), "correct the number".to_owned())
            }
        })?;
    // A number that the kind has not would be lost without a word.
    let known = item.numbers();
    if let Some(field) = numbers.keys().find(|field| !known.iter().any(|one| one.0 == **field)) {
        return Err(wrong(
            field.name(),
            format!("a {} has none", short(&kind)),
            "empty the cell, or check the kind".to_owned(),
        ));
    }
    let price = match (word(PRICE), word(CURRENCY)) {
        ("", "") => None,
        ("", _) => {
            return Err(wrong(
                PRICE,
                "there is a currency without a price".to_owned(),
                "give both or none".to_owned(),
            ));
        }
        (_, "") => {
            return Err(wrong(
                CURRENCY,
                "there is a price without a currency".to_owned(),
                "give three letters, as in ISO 4217".to_owned(),
            ));
        }
        (amount, currency) => {
            let amount = Measure::Plain
                .parse(amount, UnitSystem::Metric)
                .map_err(|error| wrong(PRICE, error.to_string(), "correct the number".to_owned()))?;
            Some(Price { amount, currency: currency.to_uppercase() })
        }
    };
    Ok(Entry {
        key: EntryKey::new(word(KEY)),
        description: word(DESCRIPTION).to_owned(),
        part_number: word(PART_NUMBER).to_owned(),
        connection: word(CONNECTION).to_owned(),
        materials: WettedMaterial::ALL.into_iter().filter(|one| given.contains(one)).collect(),
        price,
        roll,
        calibrated: None,
        item,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::files::generic_catalogue;
    use crate::plan::SectionValve;
    use crate::plan::catalogue_merge::{Standing, compare};
    use crate::plan::kinds::Range;
    use crate::plan::{PartItem, StockItem};

    #[test]
    fn the_generic_catalogue_survives_csv() {
        let mut catalogue = generic_catalogue();
        catalogue.entries[0].description = "Hose, \"soft\"; 8 mm, black".to_owned();
        // What a spreadsheet would run as a formula comes back as it was.
        catalogue.entries[1].part_number = "=1+1".to_owned();
        catalogue.entries[1].connection = "-G 1/4".to_owned();
        assert!(write_catalogue_csv(&catalogue).contains(",'=1+1,'-G 1/4,"));
        catalogue.entries[1].price = Some(Price { amount: 12.345, currency: "AUD".to_owned() });
        let back = read_catalogue_csv(&write_catalogue_csv(&catalogue)).unwrap();
        assert_eq!(back.entries.len(), catalogue.entries.len());
        let compared = compare(&catalogue, &back, UnitSystem::Metric);
        assert!(compared.iter().all(|one| one.standing == Standing::Unchanged), "{compared:?}");
        let kinds = catalogue.entries.iter().map(|entry| entry.item.kind());
        assert_eq!(
            kinds.collect::<std::collections::BTreeSet<_>>().len(),
            ItemKind::all().count(),
            "every kind is tried"
        );
    }

    #[test]
    fn other_separators_units_and_orders_are_read() {
        let text = "Bore (in);Kind;Key;Rated pressure (psi);Outside diameter (mm);Roughness (mm);Bend radius (mm);\
                    Roll length (ft);Price;Currency\n0,75;hose;dealer-19;150;27;0,0015;170;100;1,95;eur\n";
        let catalogue = read_catalogue_csv(text).unwrap();
        let Item::Stock(StockItem::Hose(stock)) = catalogue.entries[0].item else { panic!("{catalogue:?}") };
        assert!((stock.bore.si() - 0.01905).abs() < 1e-12);
        assert!((stock.rated.si() / 1_034_213.6 - 1.0).abs() < 1e-6);
        assert!((catalogue.entries[0].roll.unwrap().si() - 30.48).abs() < 1e-9);
        assert_eq!(catalogue.entries[0].price, Some(Price { amount: 1.95, currency: "EUR".to_owned() }));
    }

    /// `fluids` documentation: Kv_to_K(2.312, 0.015) = 15.15337, with the standard's rounded constant 0.07 % above the
    /// definition; Cv = Kv/0.865 (IEC 60534-1).
    #[test]
    fn a_flow_factor_stands_for_a_loss_coefficient() {
        let head = "Key,Kind,Bore (mm),Rated pressure (bar),Loss coefficient";
        for (column, cell) in
            [("Kv (m³/h)", "2.312"), ("Kv", "2.312"), ("Cv (gal/min)", "2.6728"), ("cv", "2.6728")]
        {
            let catalogue =
                read_catalogue_csv(&format!("{head},{column}\nv,section valve,15,10,,{cell}\n")).unwrap();
            let Item::Part(PartItem::SectionValve(SectionValve { k, .. })) = catalogue.entries[0].item else {
                panic!("{catalogue:?}")
            };
            assert!((k / 15.15337 - 1.0).abs() < 1e-3, "{column}: {k}");
        }
        for (line, says) in [
            ("v,section valve,15,10,15.2,2.312", None),
            (
                "v,section valve,15,10,12,2.312",
                Some("line 2, Kv: Kv means a loss coefficient of 15.143, but the line says 12"),
            ),
            ("v,section valve,15,10,,0", Some("must be above zero")),
            ("v,section valve,,10,,2", Some("line 2, Bore")),
            ("g,hose,15,10,,2", Some("a hose")),
        ] {
            let read = read_catalogue_csv(&format!("{head},Kv\n{line}\n"));
            match says {
                None => drop(read.unwrap()),
                Some(says) => {
                    let error = read.unwrap_err().to_string();
                    assert!(error.contains(says), "{line}: {error}");
                }
            }
        }
    }

    #[test]
    fn what_is_wrong_is_named_with_its_line() {
        let head = "Key,Kind,Full scale (bar),Bore (mm),Price,Currency\n";
        for (lines, says) in [
            ("g,gauge,abc,,,\n", "line 2, Full scale"),
            ("g,gauge,6,,,\nh,gauge,,,,\n", "line 3, Full scale: a gauge needs it"),
            ("g,gauge,6,5,,\n", "a gauge has none"),
            ("g,spigot,6,,,\n", "\"spigot\" is no kind"),
            ("g,gauge,6,,3,\n", "a price without a currency"),
            ("g,gauge,6,,,EUR\n", "a currency without a price"),
            ("g,gauge,6,,3,Euro\n", "currency \"EURO\""),
            ("g,gauge,-6,,,\n", "must be above zero"),
            (",gauge,6,,,\n", "its key is empty"),
            ("g,gauge,6,,,\ng,gauge,6,,,\n", "two have the key g"),
        ] {
            let error = read_catalogue_csv(&format!("{head}{lines}")).unwrap_err().to_string();
            assert!(error.contains(says), "{lines}: {error}");
        }
        for (text, says) in [
            ("", "there is no column \"Key\""),
            ("Key,Kind,Colour\n", "the heading \"Colour\" is not known"),
            ("Key,Kind,Bore (furlong)\n", "the unit \"furlong\""),
            ("Key,Kind,Bore (mm),Bore (in)\n", "stands twice"),
            ("Key,Kind,Bore (mm)\na,hose,12,5\n", "line 2: 4 cells, but 3 headings; a decimal comma"),
        ] {
            let error = read_catalogue_csv(text).unwrap_err().to_string();
            assert!(error.contains(says), "{text}: {error}");
        }
    }

    /// Every number of every kind beyond its range, as a dealer's list may hold it: refused with its line and its name, and in
    /// few words however large it is.
    #[test]
    fn a_number_out_of_its_range_is_refused_with_line_and_name() {
        let generic = generic_catalogue();
        let mut tried = 0;
        for kind in ItemKind::all() {
            let entry = generic.entries.iter().find(|entry| entry.item.item_kind() == kind).unwrap();
            let one = Catalogue { entries: vec![entry.clone()] };
            let sound = write_catalogue_csv(&one);
            let records: Vec<Vec<String>> = csv::ReaderBuilder::new()
                .has_headers(false)
                .from_reader(sound.trim_start_matches('\u{feff}').as_bytes())
                .records()
                .map(|record| record.unwrap().iter().map(str::to_owned).collect())
                .collect();
            for number in entry.item.number_table() {
                let wrong: &[&str] = match number.range {
                    Range::AboveZero | Range::AboveZeroIfKnown => &["0", "-1", "-1e300", "1e300"],
                    Range::NotNegative => &["-1", "-1e300", "1e300"],
                    Range::Coefficient => &["-1", "1e300"],
                    Range::ByItself => &[],
                };
                let name = heading(number.field.name(), number.field.measure());
                let at = records[0].iter().position(|one| *one == name).unwrap();
                for value in wrong {
                    let mut cells = records[1].clone();
                    (*value).clone_into(&mut cells[at]);
                    let mut text = String::new();
                    line(&mut text, &records[0]);
                    line(&mut text, &cells);
                    let error = read_catalogue_csv(&text).unwrap_err().to_string();
                    let named = number.field.name().to_lowercase();
                    assert!(error.to_lowercase().contains(&named), "{name} {value}: {error}");
                    assert!(
                        error.contains("line 2") || error.contains(&entry.key.0),
                        "{name} {value}: {error}"
                    );
                    assert!(error.lines().all(|line| line.len() < 300), "{name} {value}: {error}");
                    tried += 1;
                }
            }
        }
        assert!(tried > 80, "{tried}");
    }
}
