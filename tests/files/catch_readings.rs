//! What was caught, read from tables of people and from the commissioning sheet: the same from each form, and every bad input
//! named with its place while the rest is taken.

use std::path::Path;

use equirow::files::catch_readings::{CatchChoices, ReadCatches, read_catches, read_catches_of};
use equirow::files::{self, Example};
use equirow::plan::catch_test::tested_bar;
use equirow::plan::{CatchSpan, CatchUnit, CaughtAmount, CaughtLiquid, Project, RoutingGeometry, TableDoubt};
use equirow::quantities::{Speed, UnitSystem};
use equirow::sheets::commissioning::commissioning_sheet;
use equirow::sheets::document::{Block, Document, PaperCell, PaperTable};
use equirow::sheets::spreadsheet::{csv, xlsx};

fn read(text: &str) -> ReadCatches {
    read_catches(text, &CatchChoices::default())
}

/// Rows with millilitres or grams.
fn amounts(found: &ReadCatches) -> Vec<(Option<u32>, f64)> {
    found
        .catches
        .iter()
        .map(|one| {
            let amount = match one.amount {
                CaughtAmount::Volume(volume) => volume.as_millilitres(),
                CaughtAmount::Mass(mass) => mass.as_grams(),
            };
            (one.row, (amount * 1e6).round() / 1e6)
        })
        .collect()
}

#[test]
fn a_table_is_read_as_spreadsheets_and_people_write_it() {
    let expected = vec![(Some(1), 350.5), (Some(2), 0.0), (Some(1), 351.0)];
    for text in [
        "row,ml\n1,350.5\n2,0\n3,\n1,351\n",
        "\u{feff}Row;mL\r\n1;350,5\r\n2;0\r\n3;\r\n1;351\r\n",
        "row\tcaught (ml)\n1\t350,5\n2\t0\n3\t\n1\t351\n",
        "row,outlet,ml\n1,M1.1,\"350,5\"\n2,M1.2,0\n3,M1.3,\n1,M1.1,351 mL\n",
        "# in the yard\nrow,ml\n1.0,3.505E+02\n2,0\n3,\n1,0.351 L\n",
        "row,ml\n1,350.5\nafter lunch\n2,0\n3\n1,351\n",
        "Row number,Target (mL),Amount (mL)\n1,340,350.5\n2,340,0\n3,340,\n1,340,351\n",
    ] {
        let found = read(text);
        assert!(found.problems.is_empty(), "{text}: {}", found.problems);
        assert_eq!(amounts(&found), expected, "{text}");
    }
    let weighed = read("row,g\n4,412.5\n");
    assert!(
        matches!(weighed.catches[0].amount, CaughtAmount::Mass(mass) if (mass.as_grams() - 412.5).abs() < 1e-9)
    );
    // NIST SP 811 (2008), appendix B.8: 1 fl oz = 29.57353 mL, 1 lb = 453.5924 g.
    for (text, expected) in [("row,fl_oz\n4,10\n", 295.7353), ("row,lb\n4,0.5\n", 226.7962)] {
        assert!((amounts(&read(text))[0].1 - expected).abs() < 1e-4, "{text}");
    }
}

#[test]
fn times_spoiled_catches_and_notes_come_with_their_lines() {
    let found = read(
        "row,ml,seconds,spoiled,notes\n1,350,30,,\n2,200,30,jug knocked over,\n3,300,45 s,no,windy\n4,1,,x,\n",
    );
    assert!(found.problems.is_empty(), "{}", found.problems);
    let said: Vec<_> = found.catches.iter().map(|one| (one.seconds, one.spoiled.as_deref())).collect();
    assert_eq!(
        said,
        [
            (Some(30.0), None),
            (Some(30.0), Some("jug knocked over")),
            (Some(45.0), None),
            (None, Some("marked in the table"))
        ]
    );
    assert_eq!((found.notes(), found.remarks.len()), (vec!["row 3: windy".to_owned()], 0));
    // Beside a catch that counts a remark is said with its row; it changes nothing by itself.
    let project = bar_of(&Example::NineMetre.project());
    let taken = found.taken(&project, CaughtLiquid::Product, None);
    let doubts = taken.doubts(&found, &project);
    let row = project.bar.row_numbered(3).unwrap().id;
    assert_eq!((doubts.len(), doubts[0].row, doubts[0].lines), (1, Some(row), 0), "{doubts:?}");
    let says = "line 4: row 3 carries the remark \"windy\" and still counts; mark that catch as spoiled";
    assert!(doubts[0].says.starts_with(says), "{}", doubts[0].says);
    assert!(taken.catches[2].spoiled.is_none());
}

#[test]
fn cells_from_the_clipboard_need_no_headings() {
    let pasted =
        |text: &str| read_catches(text, &CatchChoices { unit: Some(CatchUnit::Millilitre), pasted: true });
    let two = pasted("7\t350,5\n8\t352\n");
    assert_eq!(amounts(&two), [(Some(7), 350.5), (Some(8), 352.0)]);
    // Of a column alone every line keeps its place, blank ones too.
    let column = pasted("350,5\n\n352 ml\n");
    let lines: Vec<_> = column.catches.iter().map(|one| (one.row, one.line)).collect();
    assert_eq!(lines, [(None, 1), (None, 3)]);
    assert!(column.problems.is_empty(), "{}", column.problems);
    let headed = pasted("row\tg\n7\t400\n");
    assert!(matches!(headed.catches[0].amount, CaughtAmount::Mass(_)));
    let many = pasted("1\t2\t3\n").problems.to_string();
    assert!(many.contains("3 cells, but no headings"), "{many}");
}

/// Each is a sentence with its place; what stands beside it is read.
#[test]
fn bad_input_is_named_and_the_rest_is_read() {
    for (text, says, rows) in [
        ("", "no column is headed \"row\"", 0),
        ("opener,ml\n1,300\n", "no column is headed \"row\"", 0),
        ("row,outlet\n1,M1\n", "line 1: no column holds what was caught; head a column with its unit", 0),
        ("row,ml\n1,\n2,\n", "no amount is filled in", 0),
        ("row,ml\n1,300\n2,full\n3,310\n", "line 3: row 2: \"full\" is no amount", 2),
        ("row,ml\n1,300\n,310\n", "line 3: an amount without a row", 1),
        ("row,ml\n1,300\nx7,310\n", "line 3: \"x7\" is no row", 1),
        // A round number as a power of ten, as programs write it, is a row.
        ("row,ml\n1,300\n1e1,full\n", "line 3: row 10: \"full\" is no amount", 1),
        ("row,ml\n1,300\n1.5,310\n", "line 3: \"1.5\" is no row", 1),
        ("row,ml\n1,300\n2,-3\n", "line 3: row 2: \"-3\" is below 0", 1),
        ("row,ml\n1,300\n2,1e9\n", "line 3: row 2: 1e9 mL is more than anybody catches", 1),
        // A decimal comma without quotes.
        ("row,ml\n1,300,5\n2,310\n", "line 2: 3 cells, but 2 headings; a decimal comma parts", 1),
        // Amounts in two units.
        ("row,ml,g\n1,300,\n2,310,400\n", "line 3: row 2 has amounts in two columns", 1),
        ("row,oz\n1,10\n", "line 1: the column \"oz\" may hold a volume or a weight; head it fl_oz", 0),
        ("row,ml\n1,300\n2,12 oz\n", "line 3: row 2: \"12 oz\" may be a volume or a weight", 1),
        ("row,amount\n1,300\n2,310 ml\n", "line 2: row 1: \"300\" has no unit", 1),
        ("row,ml,s\n1,300,30\n2,310,0\n", "line 3: row 2: 0 s is out of range; type 1 s to 3600 s", 1),
        ("row,ml,s\n1,300,30\n2,310,36000\n", "line 3: row 2: 36000 s is out of range", 1),
        ("row,ml,s\n1,300,30\n2,310,1e-300\n", "line 3: row 2: 1e-300 is out of range", 1),
        (
            "row,ml\n1,300\n2,1e-300\n",
            "line 3: row 2: 1e-300 mL is less than a drop; write 0 where nothing came",
            1,
        ),
        // The heading says one thing, the cell another.
        (
            "row,ml\n1,300\n2,310 g\n",
            "line 3: row 2: \"310 g\" is a weight, but its column is headed in mL",
            1,
        ),
        ("row,lb\n1,0.7\n2,310 ml\n", "\"310 ml\" is a volume, but its column is headed in lb", 1),
        // A comma of thousands, or of decimals?
        ("row;ml\n1;950\n2;1,250\n", "line 3: row 2: \"1,250\" may be 1250 or 1.250", 1),
        ("row;ml\n1;950\n2;1.250\n", "line 3: row 2: \"1.250\" may be 1250 or 1.250", 1),
    ] {
        let found = read(text);
        let said = found.problems.to_string();
        assert!(said.contains(says), "{text:?}: {said}");
        assert_eq!(found.catches.len(), rows, "{text:?}");
    }
}

/// Spreadsheets part thousands as their country does; the other cells say which mark that is.
#[test]
fn marks_of_thousands_are_read_where_other_cells_show_the_decimals() {
    for text in
        ["row,ml\n1,950.5\n2,\"1,250\"\n", "row;ml\n1;950,5\n2;1.250\n", "row;ml\n1;0950,5\n2;1.250,0\n"]
    {
        let found = read(text);
        assert!(found.problems.is_empty(), "{text}: {}", found.problems);
        assert_eq!(amounts(&found), [(Some(1), 950.5), (Some(2), 1250.0)], "{text}");
    }
    let decimal = read("row;ml\n1;95,5\n2;1,250\n");
    assert_eq!(amounts(&decimal), [(Some(1), 95.5), (Some(2), 1.25)], "the mark of decimals is the comma");
}

#[test]
fn lines_that_are_missing_are_counted_and_named_by_their_rows() {
    let project = bar_of(&Example::NineMetre.project());
    let mut text = "row,ml\n1,300\n2,full\nx,1\n999,300\n".to_owned();
    text.extend((0..30).map(|at| format!("y{at},300\n")));
    let found = read(&text);
    let taken = found.taken(&project, CaughtLiquid::Product, None);
    let doubts = taken.doubts(&found, &project);
    assert_eq!(doubts.iter().map(|one| one.lines).sum::<u32>(), 33);
    let of_row: Vec<_> = doubts.iter().filter(|one| one.row.is_some()).collect();
    assert_eq!((of_row.len(), of_row[0].row), (1, Some(project.bar.rows[1].id)));
    assert!(doubts.iter().any(|one| one.says == "and 12 more" && one.lines == 12), "{doubts:?}");
    assert!(doubts.iter().any(|one| one.says.contains("row 999 is not a row of this bar")));
}

#[test]
fn a_table_of_another_bar_is_told_once() {
    let project = bar_of(&Example::NineMetre.project());
    let few = read("row,ml\n1,300\n99,310\n").taken(&project, CaughtLiquid::Product, None);
    assert_eq!(few.catches.len(), 1);
    assert_eq!(few.problems.to_string().lines().count(), 1);
    assert!(few.problems.to_string().contains("line 3: row 99 is not a row of this bar"), "{}", few.problems);
    let other: Vec<String> = (101..=140).map(|row| format!("{row},300")).collect();
    let all = read(&format!("row,ml\n{}\n", other.join("\n"))).taken(&project, CaughtLiquid::Product, None);
    let said = all.problems.to_string();
    assert!(
        said.contains("40 of 40 amounts (101 to 140) are not rows of this bar, which has 36 rows"),
        "{said}"
    );
    assert_eq!(said.lines().count(), 1);
    // Fewer than half of them are not told one by one either.
    let rest: Vec<String> = (1..=45).map(|row| format!("{row},300")).collect();
    let some = read(&format!("row,ml\n{}\n", rest.join("\n"))).taken(&project, CaughtLiquid::Product, None);
    let said = some.problems.to_string();
    assert!(said.contains("9 of 45 amounts (37 to 45) are not rows of this bar"), "{said}");
    assert_eq!((said.lines().count(), some.problems.count()), (1, 9));
}

fn bar_of(project: &Project) -> Project {
    tested_bar(project, project.routings[0].id, project.duties.first().id).unwrap()
}

/// The commissioning sheet with cells filled in that it leaves to be: what came with the liquid at every row but the second,
/// what one gauge showed at the usual speed, and the day.
fn filled_in(project: &Project) -> (Document, usize, f64) {
    let routing = &project.routings[0];
    let geometry = RoutingGeometry::working(project, routing);
    let mut sheet = commissioning_sheet(project, geometry.with(routing), project.duties.first());
    let (mut filled, mut at_usual) = (0, f64::NAN);
    let usual = project.duties.first().usual.as_kilometres_per_hour();
    for block in &mut sheet.blocks {
        let Block::Table(table) = block else { continue };
        let at =
            |table: &PaperTable, heading: &str| table.columns.iter().position(|one| one.heading == heading);
        if let Some(at) = at(table, "Liquid caught") {
            for (row, cells) in table.rows.iter_mut().enumerate().filter(|(row, _)| *row != 1) {
                let value = 300.0 + row as f64;
                cells[at] = PaperCell::Number { text: format!("{value:.1}"), value };
                filled += 1;
            }
        }
        if table.caption.starts_with("Pressures and total flow")
            && table.caption != "Pressures and total flow, water"
        {
            let at = table.columns.iter().position(|one| one.heading == "G1 read").unwrap();
            for (line, cells) in table.rows.iter_mut().enumerate() {
                let value = 1.0 + line as f64;
                if matches!(&cells[0], PaperCell::Number { value: speed, .. } if (speed - usual).abs() < 1e-6)
                {
                    at_usual = value;
                }
                cells[at] = PaperCell::Number { text: format!("{value:.2}"), value };
            }
        }
        if table.caption == "On the day" {
            table.rows[0][1] = PaperCell::text("2026-11-30, yard");
            table.rows[1][1] = PaperCell::text("12 °C");
        }
    }
    (sheet, filled, at_usual)
}

#[test]
fn the_commissioning_sheet_filled_in_comes_back_as_csv_and_as_a_workbook() {
    let project = Example::TwentyFourMetre.project();
    let (sheet, filled, at_usual) = filled_in(&project);
    assert_eq!(filled, 79);
    let folder = tempfile::tempdir().unwrap();
    let write = |name: &str, bytes: Vec<u8>| {
        let path = folder.path().join(name);
        std::fs::write(&path, bytes).unwrap();
        path
    };
    let files =
        [write("sheet.csv", csv(&sheet).unwrap()), write("sheet.xlsx", xlsx(&sheet, "nobody").unwrap())];
    let read = |path: &Path| read_catches_of(path, &CatchChoices::default()).unwrap();
    for path in files {
        let found = read(&path);
        assert!(found.problems.is_empty(), "{}: {}", path.display(), found.problems);
        assert_eq!(found.liquids(), [CaughtLiquid::Product]);
        assert_eq!((found.catches.len(), amounts(&found)[1]), (79, (Some(3), 302.0)), "{}", path.display());
        assert_eq!(
            (found.date.as_str(), found.temperature.map(|one| one.si())),
            ("2026-11-30, yard", Some(12.0))
        );
        assert!(found.seconds.is_some_and(|seconds| seconds >= 30.0), "{found:?}");
        let usual = project.duties.first().usual;
        let taken = found.taken(&bar_of(&project), CaughtLiquid::Product, Some(usual));
        assert_eq!((taken.catches.len(), taken.gauges.len()), (79, 1));
        assert!((taken.gauges[0].pressure.si() - at_usual * 1e5).abs() < 1e-6, "{:?}", taken.gauges);
        assert!(taken.problems.is_empty(), "{}", taken.problems);
        let [TableDoubt { says: other_speeds, no_verdict: None, .. }] = &taken.misfits[..] else {
            panic!("{:?}", taken.misfits)
        };
        assert!(other_speeds.contains("are not of this test"), "{other_speeds}");
        let other =
            found.taken(&bar_of(&project), CaughtLiquid::Product, Some(Speed::kilometres_per_hour(31.0)));
        assert!(other.gauges.is_empty());
    }
}

/// A sheet says what it was printed of: read into a test of something else, that is told in words, and the rest is taken.
#[test]
fn a_sheet_of_something_else_is_known_by_what_it_says_it_is_of() {
    let project = Example::TwentyFourMetre.project();
    let (sheet, ..) = filled_in(&project);
    let text = String::from_utf8(csv(&sheet).unwrap()).unwrap();
    let usual = project.duties.first().usual;
    let misfits_of = |text: &str, change: &dyn Fn(&mut Project), speed: Speed| {
        let mut other = project.clone();
        change(&mut other);
        let taken = read(text).taken(&bar_of(&other), CaughtLiquid::Product, Some(speed));
        assert_eq!(taken.catches.len(), 79);
        // Another rate or speed is in doubt; of another bar or other outlets, nothing is judged.
        let mut said = taken.misfits;
        said.retain(|one| one.says.starts_with("sheet: "));
        for one in &said {
            let is_of_another = one.says.contains("printed of") || one.says.contains("other outlets");
            assert_eq!(one.no_verdict.is_some(), is_of_another, "{one:?}");
        }
        said.into_iter().map(|one| one.says).collect::<Vec<_>>()
    };
    let misfits = |change: &dyn Fn(&mut Project), speed: Speed| misfits_of(&text, change, speed);
    assert_eq!(misfits(&|_| {}, usual), Vec::<String>::new());
    // A bar of several duties names the one that a sheet is for.
    let mut several = project.clone();
    let mut second = several.duties.first().clone();
    (second.id, second.name) = (several.duties.free_id(), several.duties.free_name());
    several.duties.put(second);
    let named = String::from_utf8(csv(&filled_in(&several).0).unwrap()).unwrap();
    assert_eq!(misfits_of(&named, &|_| {}, usual), Vec::<String>::new());
    let said = misfits_of(&named, &|other| other.duties.first_mut().name = "Autumn".to_owned(), usual);
    assert!(said.len() == 1 && said[0].contains("duty Autumn"), "{said:?}");
    type Change = fn(&mut Project);
    let changes: [(Change, &str); 3] = [
        (|other| other.routings[0].name = "B".to_owned(), "routing B, "),
        (|other| other.title.revision = "Z".to_owned(), "revision Z"),
        (
            |other| {
                let rate = other.duties.first().rate;
                other.duties.first_mut().rate = rate * 1.2;
            },
            "it was printed for ",
        ),
    ];
    for (change, says) in changes {
        let said = misfits(&change, usual);
        assert!(said.len() == 1 && said[0].contains(says), "{says}: {said:?}");
    }
    let said = misfits(&|_| {}, usual * 1.5);
    assert!(said.len() == 1 && said[0].contains("it asks to catch at"), "{said:?}");
    // Two tubes changed over.
    let said = misfits(
        &|other| {
            let feeds = &mut other.routings[0].feeds;
            let (one, two) = (feeds[3].from, feeds[5].from);
            (feeds[3].from, feeds[5].from) = (two, one);
        },
        usual,
    );
    assert!(said.len() == 1 && said[0].contains("on other outlets than here"), "{said:?}");
    let held = read(&text).taken(&bar_of(&project), CaughtLiquid::Product, None).misfits;
    assert!(held.iter().any(|one| one.says.contains("this test is with a held pressure")), "{held:?}");
    // Without the line that says what it was printed of it is not judged, and the rest is checked all the same.
    let without = text.lines().filter(|line| !line.starts_with("Sheet of,"));
    let without: String = without.flat_map(|line| [line, "\r\n"]).collect();
    let misfits = read(&without).taken(&bar_of(&project), CaughtLiquid::Product, Some(usual)).misfits;
    let misfits: Vec<_> = misfits.into_iter().filter(|one| one.no_verdict.is_some()).collect();
    assert_eq!(misfits.len(), 1, "{misfits:?}");
    assert!(misfits[0].says.contains("its line \"Sheet of\" is missing"), "{misfits:?}");
    let why = "the sheet does not say what it was printed of";
    assert_eq!(misfits[0].no_verdict.as_deref(), Some(why));
    let mut crossed = project.clone();
    let feeds = &mut crossed.routings[0].feeds;
    let (one, two) = (feeds[3].from, feeds[5].from);
    (feeds[3].from, feeds[5].from) = (two, one);
    let misfits = read(&without).taken(&bar_of(&crossed), CaughtLiquid::Product, Some(usual)).misfits;
    assert!(misfits.iter().any(|one| one.says.contains("on other outlets than here")), "{misfits:?}");
    // A table of people's own says nothing of that.
    assert!(
        read("row,outlet,ml\n1,left,300\n")
            .taken(&bar_of(&project), CaughtLiquid::Product, None)
            .misfits
            .is_empty()
    );
}

/// What was really done stands in boxes of its own, and counts in place of what the sheet asks.
#[test]
fn seconds_really_caught_and_the_speed_set_are_read_from_their_boxes() {
    for (units, typed) in [(UnitSystem::Metric, "9"), (UnitSystem::UsCustomary, "5.592")] {
        let mut project = Example::TwentyFourMetre.project();
        project.units = units;
        let (mut sheet, ..) = filled_in(&project);
        let mut fill = |name: &str, with: &str| {
            let tables = sheet.blocks.iter_mut().filter_map(|block| match block {
                Block::Table(table) if table.caption == "On the day" => Some(table),
                _ => None,
            });
            let pairs = tables.flat_map(|table| table.rows.iter_mut()).flat_map(|row| row.chunks_mut(2));
            let of_name = pairs.filter(|pair| pair[0].printed().starts_with(name)).map(|pair| &mut pair[1]);
            for cell in of_name {
                *cell = PaperCell::text(with);
            }
        };
        fill("Seconds really caught", "61");
        fill("Ground speed really set", typed);
        let found = read(&String::from_utf8(csv(&sheet).unwrap()).unwrap());
        assert!(found.problems.is_empty(), "{}", found.problems);
        assert_eq!(found.seconds, Some(61.0));
        // 1 mile is 1.609344 km exactly (NIST SP 811).
        let speed = found.made_of.speed.unwrap().as_kilometres_per_hour();
        assert!((speed - 9.0).abs() < 1e-3, "{speed}");
        // What the sheet itself prints is the speed of the plan, in whatever units: no 9.999 km/h.
        let asked = read(&String::from_utf8(csv(&filled_in(&project).0).unwrap()).unwrap()).made_of.speed;
        let planned = project.duties.first().usual;
        assert!((asked.unwrap().si() / planned.si() - 1.0).abs() < 1e-9, "{asked:?} {planned:?}");
        assert_eq!(
            found.taken(&bar_of(&project), CaughtLiquid::Product, found.made_of.speed).catches.len(),
            79
        );
    }
    let said = read("Condition,Value\n\"Catch time, s\",4O s\n\nrow,ml\n1,300\n").time_unread;
    assert!(said.to_string().contains("catch time: can't be read"), "{said}");
}

/// By the other rows it is a decimal comma, and nobody is told in silence.
#[test]
fn an_amount_that_is_read_by_the_marks_of_others_is_said() {
    let found = read("row,ml\n7,\"1,250\"\n8,\"0,333 L\"\n9,330\n");
    assert_eq!(found.catches.len(), 3);
    let said = found.problems.to_string();
    assert!(said.contains("row 7: \"1,250\" was read as 1.250, as other amounts are written"), "{said}");
    assert!(said.contains("write 1250 if that is meant"), "{said}");
    assert_eq!(found.problems.count(), 0, "no line is missing");
    let clear = read("row,ml\n7,\"414,029\"\n8,\"0,333 L\"\n");
    assert!(clear.problems.is_empty(), "{}", clear.problems);
}

#[test]
fn a_line_with_its_own_time_keeps_it() {
    let project = bar_of(&Example::NineMetre.project());
    let taken = read("row,ml,seconds\n1,300,30\n2,300,\n").taken(&project, CaughtLiquid::Water, None);
    let spans: Vec<_> = taken.catches.iter().map(|one| one.span).collect();
    assert_eq!(spans, [Some(CatchSpan::Seconds(30.0)), None]);
}

/// Broken, foreign and swollen workbooks are refused in words; none makes the program wait or fill its memory.
#[test]
fn a_workbook_that_is_none_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("test.xlsx");
    let (sheet, ..) = filled_in(&Example::NineMetre.project());
    let whole = xlsx(&sheet, "").unwrap();
    for bytes in [b"PK\x03\x04".to_vec(), whole[..whole.len() / 2].to_vec()] {
        std::fs::write(&path, bytes).unwrap();
        let said = read_catches_of(&path, &CatchChoices::default()).unwrap_err().to_string();
        assert!(said.contains("workbook (XLSX)"), "{said}");
    }
    // 64 MiB of nothing, packed into some 64 KiB.
    let mut packed = zip::ZipWriter::new(std::fs::File::create(&path).unwrap());
    packed.start_file("xl/workbook.xml", zip::write::SimpleFileOptions::default()).unwrap();
    std::io::copy(&mut std::io::Read::take(std::io::repeat(b' '), 64 << 20), &mut packed).unwrap();
    packed.finish().unwrap();
    let said = read_catches_of(&path, &CatchChoices::default()).unwrap_err().to_string();
    assert!(said.contains("unpacked it is larger than 32 MiB"), "{said}");
    // One cell at the far corner of a sheet.
    let mut book = rust_xlsxwriter::Workbook::new();
    let sheet = book.add_worksheet();
    for (at, (left, right)) in (0..).zip([("row", "ml"), ("1", "300"), ("2", "310")]) {
        sheet.write_string(at, 0, left).unwrap();
        sheet.write_string(at, 1, right).unwrap();
    }
    sheet.write_string(1_048_575, 16_383, "far").unwrap();
    std::fs::write(&path, book.save_to_buffer().unwrap()).unwrap();
    let found = read_catches_of(&path, &CatchChoices::default()).unwrap();
    assert_eq!(amounts(&found), [(Some(1), 300.0), (Some(2), 310.0)]);
    // One long text in every cell, which the file holds once.
    let mut book = rust_xlsxwriter::Workbook::new();
    let sheet = book.add_worksheet();
    for line in 0..1000 {
        sheet.write_string(line, 0, "x".repeat(32_000)).unwrap();
    }
    std::fs::write(&path, book.save_to_buffer().unwrap()).unwrap();
    let said = read_catches_of(&path, &CatchChoices::default()).unwrap_err().to_string();
    assert!(said.contains("its cells take more than 16 MiB"), "{said}");
    let gone = read_catches_of(&folder.path().join("gone.csv"), &CatchChoices::default()).unwrap_err();
    assert!(gone.to_string().contains("it is not there"), "{gone}");
    assert!(files::open(&path).is_err());
}

/// What was read at a gauge is taken, or told: in silence it would leave a verdict that it may speak against.
#[test]
fn what_was_read_at_gauges_is_taken_or_told() {
    let sheet = |heading: &str, cell: &str| {
        read(&format!("Speed (km/h),{heading},Remarks\n9.0,{cell},stuck\n\"\"\nrow,ml\n1,350.5\n"))
    };
    for (heading, cell) in [("G1 read (bar)", "2.9"), ("G1 read", "2.9 bar"), ("G1 read (kPa)", "290")] {
        let found = sheet(heading, cell);
        assert!(found.problems.is_empty(), "{heading}: {}", found.problems);
        assert!((found.gauges[0].pressure.si() / 2.9e5 - 1.0).abs() < 1e-9, "{heading}");
        assert!(found.remarks[0].contains("stuck"), "{:?}", found.remarks);
    }
    for (heading, says) in [("G1 read", "\"2.9\" has no unit"), ("G1 read (at)", "\"at\", is not known")] {
        let found = sheet(heading, "2.9");
        assert_eq!((found.gauges.len(), found.problems.count()), (0, 1), "{heading}");
        assert!(found.problems.to_string().contains(says), "{}", found.problems);
    }
    let flow = sheet("Total flow read (L/min)", "12");
    assert!(flow.remarks.iter().any(|one| one.contains("not taken")), "{:?}", flow.remarks);
    let time = read("\"Seconds really caught, if not as asked\",\"1,000\"\n\"\"\nrow,ml\n1,350\n");
    assert!(time.time_unread.to_string().contains("may be 1000 or 1.000"), "{}", time.time_unread);
    assert_eq!((time.seconds, time.time_unread.count()), (None, 1));
    let heavy =
        |says: &str| read(&format!("\"Density of the liquid, weighed\",{says}\n\"\"\nrow,ml\n1,350\n"));
    let said = heavy("-5").problems;
    assert!(said.count() == 0 && said.to_string().contains("density of the liquid, weighed: "), "{said}");
    assert!(
        said.to_string().starts_with("line 1: ") && said.to_string().contains("like 1.05 kg/L"),
        "{said}"
    );
    for good in ["1.05", "1050", "1050 kg/m3"] {
        assert!(heavy(good).problems.is_empty() && !heavy(good).remarks.is_empty(), "{good}");
    }
}
