//! Project files: bad input is refused with where, what and what to try; good input survives unchanged.

use std::fs;
use std::path::Path;

use equirow::files::{self, ReadError};
use equirow::plan::{AddedLine, Project};

fn demo_text() -> String {
    files::write_text(&files::demo()).unwrap()
}

/// The demo's text with its first `old` turned into `new`.
fn broken(old: &str, new: &str) -> ReadError {
    let text = demo_text();
    assert!(text.contains(old), "the demo holds no {old}");
    files::read_text(&text.replacen(old, new, 1)).expect_err("a broken file must be refused")
}

/// Where, what, and what to try, each holding a word of the case.
#[track_caller]
fn says(error: &ReadError, place: &str, what: &str, advice: &str) {
    let found = error.problems.shown().iter().any(|problem| {
        problem.place.contains(place) && problem.what.contains(what) && problem.advice.contains(advice)
    });
    assert!(found, "{place} | {what} | {advice} is not in: {error:#?}");
}

#[test]
fn text_that_is_not_ron() {
    says(&files::read_text("").unwrap_err(), "line 1", "not an Equirow project", "choose a file");
    says(
        &files::read_text("{\"version\": 1}").unwrap_err(),
        "line 1",
        "is not a project",
        "solve a network with",
    );
    says(
        &files::read_text("// a note\n\nhello").unwrap_err(),
        "line 3",
        "not an Equirow project",
        "choose a file",
    );
    let cut = &demo_text()[..2000];
    let error = files::read_text(cut).unwrap_err();
    let last = format!("line {}", cut.lines().count());
    says(&error, &last, "", "older copy");
}

#[test]
fn a_field_that_is_not_known() {
    let error = broken("row_spacing:", "row_spicing:");
    says(&error, "line ", "row_spicing", "correct the text");
}

#[test]
fn an_unknown_version_is_named_before_anything_else() {
    let newer = files::read_text("(version: 7, anything: [at, all").unwrap_err();
    says(&newer, "version", "version 7", "newer Equirow");
    let older = broken("version: 2", "version: 0");
    says(&older, "version", "version 0", "the Equirow that saved it");
}

#[test]
fn numbers_that_are_not_finite() {
    let error = broken("row_spacing: 0.3", "row_spacing: NaN");
    says(&error, "row_spacing", "not a finite number", "correct the text");
    says(&error, "line ", "metres", "");
    says(&broken("share: 1.0", "share: NaN"), "row 1", "share is NaN", "above 0");
    says(&broken("x: -5.96", "x: inf"), "line ", "finite", "correct the text");
}

#[test]
fn a_negative_bore() {
    let error = broken("bore: 0.008", "bore: -0.008");
    says(
        &error,
        "catalogue, entry hose-8",
        "bore is -8 mm (-0.008 m), but must be above zero",
        "at most 1000 mm (1 m)",
    );
}

/// What a slip of the unit or of a key makes of a rating or an angle, in the words of people and of the file.
#[test]
fn numbers_that_nothing_of_this_trade_has() {
    let error = broken("rated: 1000000.0", "rated: 1e300");
    says(
        &error,
        "catalogue, entry",
        "rated pressure is 1e295 bar (1e300 Pa)",
        "at most 10000 bar (1000000000 Pa)",
    );
    let angle = demo_text();
    let at = angle.find("folded: ").unwrap() + "folded: ".len();
    let end = at + angle[at..].find([',', ')']).unwrap();
    let error = files::read_text(&format!("{}5.2359{}", &angle[..at], &angle[end..])).unwrap_err();
    says(
        &error,
        "bar, section",
        "folded angle is 299.995° (5.2359 rad)",
        "from -270° (-4.71239 rad) to 270°",
    );
}

/// A comma between two numbers parts them; only in the value of one field it is a decimal comma.
#[test]
fn two_numbers_in_brackets_are_no_number_with_a_decimal_comma() {
    let says_so = |old: &str, new: &str| broken(old, new).to_string().contains("decimal comma");
    assert!(says_so("row_spacing: 0.3", "row_spacing: 0,3"));
    assert!(says_so("weakest_rated: Some(800000.0)", "weakest_rated: Some(2,5)"));
    assert!(!says_so("weakest_rated: Some(800000.0)", "weakest_rated: Some((0.1,0.2))"));
    assert!(!says_so("weakest_rated: Some(800000.0)", "weakest_rated: Some((1,2))"));
    assert!(!says_so("row_spacing: 0.3", "row_spacing: [1,2]"));
}

#[test]
fn what_is_another_kind_of_file_is_said_by_its_name() {
    let catalogue = files::write_catalogue(&files::generic_catalogue()).unwrap();
    let error = files::read_text(&catalogue).unwrap_err();
    says(&error, "line ", "this is a catalogue, not a project", "open a project");
    let error = files::read_catalogue(&demo_text()).unwrap_err();
    says(&error, "line ", "this is a project, not a catalogue", "export its catalogue");
    let error = files::read_text("{\"format\": 1}").unwrap_err();
    says(&error, "line 1", "network", "equirow network");
}

#[test]
fn two_parts_with_one_tag() {
    let error = broken("tag: \"M2\"", "tag: \"M1\"");
    says(&error, "routing A", "tag M1", "change one");
}

#[test]
fn a_run_to_a_part_that_does_not_exist() {
    let error = broken("to: Port((part: 1, port: In))", "to: Port((part: 999, port: In))");
    says(&error, "hose H1", "part 999, which does not exist", "loose");
}

#[test]
fn a_point_on_a_section_that_does_not_exist() {
    let error = broken("z: 1.0, section: 1)", "z: 1.0, section: 99)");
    says(
        &error,
        "hose H",
        "a waypoint rides on a section with id 99, which does not exist",
        "section of the bar",
    );
}

#[test]
fn all_broken_promises_are_told_at_once() {
    let text =
        demo_text().replacen("bore: 0.008", "bore: -0.008", 1).replacen("tag: \"M2\"", "tag: \"M1\"", 1);
    let error = files::read_text(&text).unwrap_err();
    assert!(error.problems.total() >= 2, "{error}");
    assert_eq!(error.to_string().lines().count(), error.problems.total());
}

#[test]
fn no_cut_and_no_swapped_byte_panics() {
    let text = demo_text();
    for cut in (0..text.len()).step_by(1409).filter(|cut| text.is_char_boundary(*cut)) {
        assert!(files::read_text(&text[..cut]).is_err());
        let mut swapped = text.clone();
        if text.is_char_boundary(cut + 1) {
            swapped.replace_range(cut..=cut, "\"");
            let _ = files::read_text(&swapped);
        }
    }
    assert!(files::read_text(&format!("(version: 2, project: {}", "(".repeat(100_000))).is_err());
}

#[test]
fn a_project_reads_back_the_same_and_writes_the_same_bytes() {
    let project = files::demo();
    let text = files::write_text(&project).unwrap();
    let back = files::read_text(&text).unwrap();
    assert_eq!(back, project);
    assert_eq!(files::write_text(&back).unwrap(), text);
    // What people write is not broken.
    let is_text = |line: &str| {
        ["note:", "connection:", "description:"].iter().any(|key| line.trim_start().starts_with(key))
    };
    assert!(
        text.lines().all(|line| is_text(line) || line.chars().count() <= 120),
        "a line is too long to read"
    );
    assert!(text.find("version: 2").unwrap() < text.find("project:").unwrap());
}

/// Names in a folder.
fn names(folder: &Path) -> Vec<String> {
    fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect()
}

#[test]
fn saving_replaces_the_file_and_leaves_nothing_beside_it() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("bar.ron");
    let mut project = files::demo();
    files::save(&path, &project).unwrap();
    project.title.title = "Changed (twice), \"quoted\": ü".to_owned();
    files::save(&path, &project).unwrap();
    assert_eq!(files::open(&path).unwrap(), project);
    assert_eq!(names(folder.path()), ["bar.ron"]);
}

#[test]
fn a_failed_save_leaves_the_old_file_as_it_was() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("bar.ron");
    let project = files::demo();
    files::save(&path, &project).unwrap();
    let before = fs::read(&path).unwrap();

    // What could not be read back is not written.
    let mut bad: Project = project.clone();
    bad.bar.rows[0].share = f64::NAN;
    let error = files::save(&path, &bad).unwrap_err();
    assert!(error.to_string().contains("share"), "{error}");
    assert_eq!(fs::read(&path).unwrap(), before);

    // A file that is write-protected is not replaced behind its owner's back.
    let mut permissions = fs::metadata(&path).unwrap().permissions();
    permissions.set_readonly(true);
    fs::set_permissions(&path, permissions).unwrap();
    let error = files::save(&path, &project).unwrap_err();
    assert!(error.to_string().contains("write-protected"), "{error}");
    assert_eq!(fs::read(&path).unwrap(), before);
    assert_eq!(names(folder.path()), ["bar.ron"]);

    let nowhere = folder.path().join("no such folder").join("bar.ron");
    assert!(files::save(&nowhere, &project).unwrap_err().to_string().contains("folder that exists"));
    assert!(files::save(folder.path(), &project).unwrap_err().to_string().contains("it is a folder"));
}

#[cfg(unix)]
#[test]
fn saving_keeps_permissions_and_follows_links() {
    use std::os::unix::fs::{PermissionsExt as _, symlink};
    let folder = tempfile::tempdir().unwrap();
    let (path, link) = (folder.path().join("bar.ron"), folder.path().join("link.ron"));
    files::save(&path, &files::demo()).unwrap();
    fs::set_permissions(&path, fs::Permissions::from_mode(0o640)).unwrap();
    symlink(&path, &link).unwrap();
    files::save(&link, &files::demo()).unwrap();
    assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
    assert_eq!(fs::metadata(&path).unwrap().permissions().mode() & 0o777, 0o640);
}

#[test]
fn files_that_cannot_be_read() {
    let folder = tempfile::tempdir().unwrap();
    says(
        &files::open(&folder.path().join("gone.ron")).unwrap_err(),
        "file",
        "can't be read",
        "check the name",
    );
    says(&files::open(folder.path()).unwrap_err(), "file", "", "file");
    let path = folder.path().join("bytes.ron");
    fs::write(&path, b"(version: 2,\n\xff").unwrap();
    says(&files::open(&path).unwrap_err(), "line 2", "UTF-8", "choose a file");
    // A sparse file takes no room on the disk.
    fs::File::create(&path).unwrap().set_len(files::project_file::LARGEST + 1).unwrap();
    says(&files::open(&path).unwrap_err(), "file", "larger than 16 MiB", "far smaller");
}

/// Found by changing bytes at random: the name before a bad value was cut within a letter.
#[test]
fn a_letter_of_several_bytes_before_a_bad_value_is_read_past() {
    for letter in ["µ", "\u{fffd}", "😀"] {
        let text = format!("(version: 2, catalogue: (entries: [(key: \"a {letter}_b: c\" x");
        let error = files::read_catalogue(&text).unwrap_err().to_string();
        assert!(error.contains("line 1"), "{error}");
    }
}

/// A pressure of the supply that nothing bears is refused, wherever it stands; one that a strong pump bears is taken.
#[test]
fn a_pressure_of_the_supply_beyond_all_that_is_built_is_refused() {
    type Set = fn(&mut equirow::plan::Supply, equirow::quantities::Pressure);
    use equirow::plan::{Control, ReliefValve};
    let all: [(Set, &str); 5] = [
        (|supply, one| supply.control = Control::Metered { limit: one }, "pressure limit"),
        (|supply, one| supply.control = Control::Held { pressure: one }, "constant pressure"),
        (|supply, one| supply.pump_rated = one, "rated pressure of the pump"),
        (|supply, one| supply.weakest_rated = Some(one), "rated pressure of the weakest part"),
        (
            |supply, one| supply.relief_valve = ReliefValve::OpensAt(one),
            "pressure at which the relief valve opens",
        ),
    ];
    for (set, name) in all {
        let mut project = files::demo();
        set(&mut project.supply, equirow::quantities::Pressure::from_si(12_345_678.0));
        let text = files::write_text(&project).unwrap();
        assert!(text.contains("12345678.0"), "{name}");
        let text = |pascal: &str| text.replace("12345678.0", pascal);
        let error = files::read_text(&text("1e300")).unwrap_err();
        says(
            &error,
            "supply",
            &format!("{name} is 1e295 bar (1e300 Pa)"),
            "at most 10000 bar (1000000000 Pa)",
        );
        assert!(files::read_text(&text("1e8")).is_ok(), "{name}");
    }
}

/// Duties as somebody's hand may leave them: each refused with where, what and what to try, in few words however large the
/// number is, and a duty without a name by what the file knows it by.
#[test]
fn a_broken_duty_is_refused_by_its_name_or_id() {
    let name = "name: \"Duty 1\"";
    assert!(demo_text().contains(name), "the demo's duty is named otherwise");
    let number = |key: &str, value: &str| {
        let text = demo_text();
        let from = text.find("duties: [").unwrap();
        let at = from + text[from..].find(&format!("{key}: ")).unwrap() + key.len() + 2;
        let end = at + text[at..].find([',', ')']).unwrap();
        let broken = format!("{}{value}{}", &text[..at], &text[end..]);
        files::read_text(&broken).expect_err("a broken duty must be refused")
    };
    for (key, value, place, what, advice) in [
        ("rate", "-1e-6", "duty Duty 1", "rate is -10 L/ha (-0.000001 m³/m²)", "give a number from 0 L/ha"),
        ("rate", "1e308", "duty Duty 1", "rate is 1e308 m³/m²", "give a number from 0"),
        ("slowest", "0.0", "duty Duty 1", "slowest speed is 0", "above zero"),
        ("usual", "1e300", "duty Duty 1", "usual speed is 3.6e300 km/h", "at most 108 km/h"),
        ("fastest", "0.1", "duty Duty 1", "its speeds are not in order", "slowest at most usual"),
        (
            "side_slope",
            "5.0",
            "duty Duty 1",
            "side slope is 286.479° (5 rad)",
            "give a number from -102.964 % (-0.8 rad) to",
        ),
        ("fore_aft_slope", "-5.0", "duty Duty 1", "fore-aft slope is -286.479°", "give a number"),
        ("density", "1e200", "liquid", "°C is 1e200 kg/m³", "give a number from 300 kg/m³ to 3000 kg/m³"),
        ("viscosity", "0.0", "liquid", "°C is 0 mPa·s (0 Pa·s)", "give a number"),
        ("temperature", "-300.0", "liquid", "temperature is -300 °C", "give a number from -60 °C to 120 °C"),
    ] {
        let error = number(key, value);
        says(&error, place, what, advice);
        assert!(error.to_string().len() < 600, "{error}");
    }
    says(&broken(name, "name: \"\""), "duty with id 1", "its name is empty", "short name");
    let twice = {
        let mut project = files::demo();
        let mut second = project.duties.first().clone();
        second.id = equirow::plan::DutyId(9);
        second.name = "Second".to_owned();
        project.duties.put(second);
        files::write_text(&project).unwrap()
    };
    for (old, new, what) in [
        ("name: \"Second\"", name, "two have the duty name Duty 1"),
        ("id: 9", "id: 1", "two have the duty id 1"),
    ] {
        let (before, duties) = twice.split_at(twice.find("duties: [").unwrap());
        let text = format!("{before}{}", duties.replacen(old, new, 1));
        let error = files::read_text(&text).expect_err("told apart by nothing");
        says(&error, "project", what, "change one of them");
    }
}

#[test]
fn added_lines_come_back_and_old_files_have_none() {
    let mut project = files::demo();
    assert!(!files::write_text(&project).unwrap().contains("added_lines"), "nothing was added");
    let bracket =
        AddedLine { quantity: 6, note: "two for each manifold".to_owned(), ..AddedLine::new("Bracket") };
    project.added_lines = vec![bracket, AddedLine { is_wetted: true, ..AddedLine::new("Tank valve") }];
    let text = files::write_text(&project).unwrap();
    assert_eq!(files::read_text(&text).unwrap(), project);
    for (right, wrong, what) in [
        ("quantity: 6", "quantity: 0", "quantity is 0"),
        ("\"Tank valve\"", "\"Bracket\"", "stands in line 1 already"),
        ("unit: \"pcs\"", "unit: \" \"", "unit is empty"),
        ("\"Bracket\"", "\"\"", "description is empty"),
    ] {
        let error = files::read_text(&text.replacen(right, wrong, 1)).unwrap_err().to_string();
        assert!(error.contains("of the parts list") && error.contains(what), "{error}");
    }
}
