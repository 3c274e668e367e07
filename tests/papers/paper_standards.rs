//! Sheets against the standards they follow, and true scale measured in the files themselves.

use equirow::drawing::paper::{MarkKind, Page, PaperLayer};
use equirow::drawing::sheet_frame::{BLOCK_WIDTH, Paper, SCALES};
use equirow::files;
use equirow::geometry::{Bounds, Point2};
use equirow::plan::{Bar, Project, RoutingGeometry};
use equirow::sheets::{Date, SheetFormat, SheetKind, SheetOptions, sheet_set};

/// ISO 5455:1979 (EN ISO 5455:1994), table of 5.1: full size and the reductions 1:2, 1:5, 1:10 and their powers of ten, down
/// to 1:10 000. A bar of 200 m, the most that a plan takes, needs no more than 1:1000.
#[test]
fn scales_are_the_series_of_iso_5455() {
    let table = [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10_000].map(f64::from);
    assert_eq!(SCALES[..], table[..SCALES.len()]);
}

/// Trimmed sheets of ISO 5457:1999 are those of the A series of ISO 216: A0 is a square metre with sides as 1 to √2, each
/// next one half of it, all in whole millimetres. US sheets are 8.5 × 11 and 11 × 17 inches (ASME Y14.1 A and B).
#[test]
fn sheets_are_those_of_iso_5457() {
    let (mut long, mut short) = (1189.0_f64, 841.0_f64);
    assert!((long * short - 1e6).abs() < 100.0 && (long / short - std::f64::consts::SQRT_2).abs() < 1e-3);
    let mut series = Vec::new();
    for _ in 0..=4 {
        series.push((short, long));
        (long, short) = (short, (long / 2.0).floor());
    }
    for (paper, number) in [(Paper::A2, 2), (Paper::A3, 3), (Paper::A4, 4)] {
        assert_eq!(paper.sides(), series[number], "{paper:?}");
    }
    for (paper, inches) in [(Paper::Letter, (8.5, 11.0)), (Paper::Tabloid, (11.0, 17.0))] {
        let (short, long) = paper.sides();
        assert!((short - inches.0 * 25.4).abs() < 1e-9 && (long - inches.1 * 25.4).abs() < 1e-9, "{paper:?}");
    }
}

fn one_metre() -> Project {
    let demo = files::demo();
    let mut section = demo.bar.sections[0].clone();
    let mut member = section.members[0];
    (member.from.x, member.to.x) = (-0.5, 0.5);
    member.to.y = member.from.y;
    section.members = vec![member];
    (section.left, section.right) =
        (equirow::quantities::Length::metres(-0.5), equirow::quantities::Length::metres(0.5));
    let bar = Bar { sections: vec![section], rows: Vec::new(), ..demo.bar };
    Project { supply: demo.supply, ..Project::new(bar, demo.catalogue) }
}

fn pages(project: &Project, paper: Paper, scale: Option<f64>, format: SheetFormat) -> (Vec<Page>, String) {
    let all = SheetOptions::all(project, Date::parse("2026-03-31").unwrap());
    let options = SheetOptions { kinds: vec![SheetKind::Layout], paper, scale, ..all };
    let set = sheet_set(
        project,
        RoutingGeometry::working(project, &project.routings[0]).with(&project.routings[0]),
        &options,
    )
    .unwrap();
    let bytes = format.files(&set).unwrap().remove(0).1;
    (set.pages, String::from_utf8(bytes).unwrap())
}

/// ISO 5457:1999, 4.2 (from memory): the border is 20 mm wide on the left, where it is filed, and 10 mm on the other sides.
/// ISO 7200:2004: the title block is 180 mm wide, and stands in the corner at the lower right.
#[test]
fn borders_are_those_of_iso_5457() {
    for paper in [Paper::A4, Paper::A3, Paper::A2] {
        let (pages, _) = pages(&one_metre(), paper, None, SheetFormat::Svg);
        for page in pages {
            let (width, height) = (page.width, page.height);
            // Tables stand, drawings lie; tables of a large sheet are on A4.
            let size =
                if page.view.is_some() { paper.sides() } else { (width.min(height), width.max(height)) };
            assert_eq!((width.min(height), width.max(height)), size);
            let wanted =
                Bounds { min: Point2::new(20.0, 10.0), max: Point2::new(width - 10.0, height - 10.0) };
            let sheet = || page.marks.iter().filter(|mark| mark.layer == PaperLayer::Sheet);
            let is_border = |bounds: Bounds| {
                bounds.min.distance(wanted.min) < 1e-9 && bounds.max.distance(wanted.max) < 1e-9
            };
            assert!(sheet().any(|mark| is_border(mark.kind.bounds())), "{paper:?} {}", page.name);
            // Whatever is drawn or written keeps inside it.
            for mark in page.marks.iter().filter(|mark| mark.layer != PaperLayer::Sheet) {
                let bounds = mark.kind.bounds();
                assert!(
                    wanted.contains(bounds.min) && wanted.contains(bounds.max),
                    "{paper:?} {}: {mark:?}",
                    page.name
                );
            }
            let left = width - 10.0 - BLOCK_WIDTH;
            let edge = sheet().any(|mark| match &mark.kind {
                MarkKind::Line { points, .. } => points.iter().any(|point| (point.x - left).abs() < 1e-9),
                MarkKind::Area { .. } => (mark.kind.bounds().min.x - left).abs() < 1e-9,
                _ => false,
            });
            assert!(edge && (BLOCK_WIDTH - 180.0).abs() < 1e-9, "{paper:?}: the title block's left edge");
        }
    }
}

/// The horizontal extents of the lines in a group of an SVG, in its units.
fn svg_lines(text: &str, class: &str) -> Vec<f64> {
    let group = format!("<g class=\"{class}\"");
    let parts = text.split("<g class=").filter_map(|part| {
        let whole = format!("<g class={part}");
        whole.starts_with(&group).then(|| whole.split("</g>").next().unwrap_or_default().to_owned())
    });
    let mut found = Vec::new();
    for part in parts {
        for points in part.split("points=\"").skip(1).filter_map(|rest| rest.split('"').next()) {
            let xs: Vec<f64> =
                points.split(' ').map(|pair| pair.split(',').next().unwrap().parse().unwrap()).collect();
            let (low, high) =
                xs.iter().fold((f64::MAX, f64::MIN), |(low, high), x| (low.min(*x), high.max(*x)));
            found.push(high - low);
        }
    }
    found
}

/// A frame member of 1000 mm, alone on the sheet, is a line of 100 mm in the SVG at 1:10, and 50 mm at 1:20; the SVG's unit
/// is a millimetre.
#[test]
fn a_metre_is_a_hundred_millimetres_of_svg_at_one_to_ten() {
    let project = one_metre();
    for (scale, wanted) in [(10.0, 100.0), (20.0, 50.0)] {
        let (pages, text) = pages(&project, Paper::A3, Some(scale), SheetFormat::Svg);
        let (width, height) = (pages[0].width, pages[0].height);
        assert!(text.contains(&format!(
            "width=\"{width}mm\" height=\"{height}mm\" viewBox=\"0 0 {width} {height}\""
        )));
        let lines = svg_lines(&text, "frame");
        assert!(
            lines.iter().any(|long| (long - wanted).abs() < 1e-3),
            "1:{scale}: {lines:?} hold no line of {wanted} mm"
        );
    }
}

/// The same member is 1000 mm long in the DXF, at whatever scale its sheet is: there the bar is true size and its origin is
/// the file's.
#[test]
fn a_metre_is_a_thousand_millimetres_of_dxf() {
    let project = one_metre();
    for scale in [10.0, 20.0] {
        let (_, text) = pages(&project, Paper::A3, Some(scale), SheetFormat::Dxf);
        let lines: Vec<&str> = text.lines().map(str::trim).collect();
        let pairs: Vec<(&str, &str)> = lines.chunks(2).map(|pair| (pair[0], pair[1])).collect();
        let mut entity = ("", "");
        let mut xs: Vec<f64> = Vec::new();
        for (code, value) in pairs {
            match code {
                "0" => entity = (value, ""),
                "8" => entity.1 = value,
                "10" | "11" if entity.1 == "FRAME" && matches!(entity.0, "LINE" | "VERTEX") => {
                    xs.push(value.parse().unwrap());
                }
                _ => {}
            }
        }
        let ends = xs.iter().fold((f64::MAX, f64::MIN), |(low, high), x| (low.min(*x), high.max(*x)));
        assert!(
            (ends.0 + 500.0).abs() < 1e-3 && (ends.1 - 500.0).abs() < 1e-3,
            "1:{scale}: from {} to {}",
            ends.0,
            ends.1
        );
    }
}
