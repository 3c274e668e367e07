//! A page as a DXF file of release 12, which every CAD program reads.
//!
//! What is to scale on the page is true size in the file, in millimetres, with the bar's origin at the file's; the
//! sheet around it grows by the same factor. Release 12 has no place for the unit, so the drawing says it in words
//! and the name of the file should too ([`UNIT`]).

use std::fmt::Write as _;

use crate::drawing::Dash;
use crate::drawing::paper::{MarkKind, Page, PaperLayer, Shade, Words};
use crate::geometry::{Bounds, Point2};
use crate::plan::letters::is_refused;

/// The unit of every number in the file, for its name.
pub const UNIT: &str = "mm";

/// Lines from this width on, in millimetres of paper, keep their width: frame members and hoses.
const WIDE_FROM: f64 = 0.6;

/// One page.
pub fn dxf(page: &Page) -> String {
    let (factor, origin) = page.view.map_or((1.0, Point2::default()), |view| (view.denominator, view.origin));
    let mut writer = Writer { out: String::new(), factor, origin };
    writer.header(page);
    writer.tables();
    writer.pair(0, "SECTION");
    writer.pair(2, "ENTITIES");
    for mark in &page.marks {
        writer.mark(mark.layer, &mark.kind);
    }
    let says = if page.view.is_some() {
        "Drawing units: millimetres, true size"
    } else {
        "Drawing units: millimetres"
    };
    let height = 2.5;
    let at = Point2::new(20.0, page.height + height);
    let note = Words {
        at,
        text: says.to_owned(),
        height,
        width: 80.0,
        bold: false,
        upright: false,
        shade: Shade::INK,
    };
    writer.mark(PaperLayer::Sheet, &MarkKind::Words(note));
    writer.pair(0, "ENDSEC");
    writer.pair(0, "EOF");
    writer.out
}

struct Writer {
    out: String,
    factor: f64,
    origin: Point2,
}

impl Writer {
    fn pair(&mut self, code: u16, value: impl std::fmt::Display) {
        let _ = writeln!(self.out, "{code:>3}\n{value}");
    }

    fn number(&mut self, code: u16, value: f64) {
        let text = format!("{value:.6}");
        let text = text.trim_end_matches('0');
        let text = if text.ends_with('.') { format!("{text}0") } else { text.to_owned() };
        self.pair(code, if text == "-0.0" { "0.0" } else { &text });
    }

    fn at(&self, point: Point2) -> Point2 {
        Point2::new((point.x - self.origin.x) * self.factor, (point.y - self.origin.y) * self.factor)
    }

    fn point(&mut self, code: u16, point: Point2) {
        let at = self.at(point);
        self.number(code, at.x);
        self.number(code + 10, at.y);
        self.number(code + 20, 0.0);
    }

    fn header(&mut self, page: &Page) {
        let all = Bounds { min: Point2::default(), max: Point2::new(page.width, page.height) };
        self.pair(0, "SECTION");
        self.pair(2, "HEADER");
        self.pair(9, "$ACADVER");
        self.pair(1, "AC1009");
        self.pair(9, "$EXTMIN");
        self.point(10, all.min);
        self.pair(9, "$EXTMAX");
        self.point(10, all.max);
        self.pair(0, "ENDSEC");
    }

    fn tables(&mut self) {
        self.pair(0, "SECTION");
        self.pair(2, "TABLES");
        let dashes = [Dash::Solid, Dash::Dashed, Dash::LongDashDot];
        self.table("LTYPE", dashes.len());
        for dash in dashes {
            let pattern = super::dashes::dash_pattern(dash).unwrap_or(&[]);
            self.pair(0, "LTYPE");
            self.pair(2, line_type(dash));
            self.pair(70, 0);
            self.pair(3, if pattern.is_empty() { "Solid line" } else { "Broken line" });
            self.pair(72, 65);
            self.pair(73, pattern.len());
            self.number(40, pattern.iter().sum::<f64>() * self.factor);
            for (index, length) in pattern.iter().enumerate() {
                // Gaps are negative.
                let sign = if index % 2 == 0 { 1.0 } else { -1.0 };
                self.number(49, length * sign * self.factor);
            }
        }
        self.pair(0, "ENDTAB");
        self.table("LAYER", PaperLayer::ALL.len() + 1);
        for (name, colour) in
            PaperLayer::ALL.iter().map(|layer| (layer.name(), colour(*layer))).chain([("0", 7)])
        {
            self.pair(0, "LAYER");
            self.pair(2, name);
            self.pair(70, 0);
            self.pair(62, colour);
            self.pair(6, line_type(Dash::Solid));
        }
        self.pair(0, "ENDTAB");
        self.table("STYLE", 1);
        self.pair(0, "STYLE");
        self.pair(2, "STANDARD");
        self.pair(70, 0);
        self.number(40, 0.0);
        self.number(41, 1.0);
        self.number(50, 0.0);
        self.pair(71, 0);
        self.number(42, 2.5);
        self.pair(3, "txt");
        self.pair(4, "");
        self.pair(0, "ENDTAB");
        self.pair(0, "ENDSEC");
    }

    fn table(&mut self, name: &str, entries: usize) {
        self.pair(0, "TABLE");
        self.pair(2, name);
        self.pair(70, entries);
    }

    fn mark(&mut self, layer: PaperLayer, kind: &MarkKind) {
        match kind {
            MarkKind::Line { points, width, dash, .. } if points.len() == 2 && *width < WIDE_FROM => {
                self.entity("LINE", layer);
                self.pair(6, line_type(*dash));
                self.point(10, points[0]);
                self.point(11, points[1]);
            }
            MarkKind::Line { points, width, dash, .. } => self.polyline(layer, points, *width, *dash, false),
            MarkKind::Area { points, line, fill } => {
                if fill.is_some_and(|fill| fill == Shade::INK) {
                    // Three corners of a solid; the fourth repeats the third.
                    for pair in points.windows(2).skip(1) {
                        self.entity("SOLID", layer);
                        self.point(10, points[0]);
                        self.point(11, pair[0]);
                        self.point(12, pair[1]);
                        self.point(13, pair[1]);
                    }
                }
                if line.is_some() && points.len() > 1 {
                    self.polyline(layer, points, 0.0, Dash::Solid, true);
                }
            }
            MarkKind::Circle { centre, radius, fill, .. } => {
                if fill.is_some_and(|fill| fill == Shade::INK) {
                    self.disc(layer, *centre, *radius);
                } else {
                    self.entity("CIRCLE", layer);
                    self.point(10, *centre);
                    self.number(40, radius * self.factor);
                }
            }
            MarkKind::Words(words) => {
                self.entity("TEXT", layer);
                self.point(10, words.at);
                self.number(40, words.height * self.factor);
                self.pair(1, escaped(&words.text));
                // The usual stroke font is some 1.3 times as wide as the papers' own.
                self.number(41, 0.75);
                if words.upright {
                    self.number(50, 90.0);
                }
            }
        }
    }

    fn entity(&mut self, name: &str, layer: PaperLayer) {
        self.pair(0, name);
        self.pair(8, layer.name());
    }

    fn polyline(&mut self, layer: PaperLayer, points: &[Point2], width: f64, dash: Dash, closed: bool) {
        self.entity("POLYLINE", layer);
        self.pair(6, line_type(dash));
        self.pair(66, 1);
        self.zero_point();
        self.pair(70, i32::from(closed));
        let wide = if width < WIDE_FROM { 0.0 } else { width * self.factor };
        self.number(40, wide);
        self.number(41, wide);
        for point in points {
            self.entity("VERTEX", layer);
            self.point(10, *point);
        }
        self.entity("SEQEND", layer);
    }

    /// The elevation of a polyline.
    fn zero_point(&mut self) {
        self.number(10, 0.0);
        self.number(20, 0.0);
        self.number(30, 0.0);
    }

    /// A filled circle: two half circles as wide as its radius.
    fn disc(&mut self, layer: PaperLayer, centre: Point2, radius: f64) {
        self.entity("POLYLINE", layer);
        self.pair(66, 1);
        self.zero_point();
        self.pair(70, 1);
        self.number(40, radius * self.factor);
        self.number(41, radius * self.factor);
        for side in [-0.5, 0.5] {
            self.entity("VERTEX", layer);
            self.point(10, Point2::new(centre.x + radius * side, centre.y));
            self.number(42, 1.0);
        }
        self.entity("SEQEND", layer);
    }
}

const fn line_type(dash: Dash) -> &'static str {
    match dash {
        Dash::Dashed => "DASHED",
        Dash::LongDashDot => "LONG_DASH_DOT",
        Dash::Solid => "CONTINUOUS",
    }
}

/// Numbers of the index of colours: 7 is the ink on either ground.
const fn colour(layer: PaperLayer) -> u16 {
    match layer {
        PaperLayer::Frame | PaperLayer::Sheet => 8,
        PaperLayer::Hose => 5,
        PaperLayer::Tube => 4,
        PaperLayer::Carrier => 3,
        PaperLayer::Hinge => 1,
        _ => 7,
    }
}

/// Letters outside of ASCII as `\U+XXXX`, and so the signs that begin such a code or one of the older ones (`%%d`); a
/// space in place of line breaks and of what can't be seen.
fn escaped(words: &str) -> String {
    let old_codes = words.contains("%%");
    let mut out = String::with_capacity(words.len());
    for letter in words.chars() {
        match u32::from(letter) {
            0x20..=0x7e if letter != '\\' && !(old_codes && letter == '%') => out.push(letter),
            code if is_refused(letter) || code > 0xffff => out.push(' '),
            code => {
                let _ = write!(out, "\\U+{code:04X}");
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn letters_outside_ascii_are_written_by_their_code() {
        assert_eq!(escaped("Ø 1.2"), "\\U+00D8 1.2");
        assert_eq!(escaped("a\nb\u{202e}c"), "a b c");
        assert_eq!(escaped("5 % \\U+000A %%d"), "5 \\U+0025 \\U+005CU+000A \\U+0025\\U+0025d");
    }
}
