//! Pages as one PDF file, with `krilla`: true size, embedded subset fonts, text that can be selected and searched.
//!
//! The same pages and the same date give the same bytes.

use krilla::Document;
use krilla::color::luma;
use krilla::destination::XyzDestination;
use krilla::geom::{Path, PathBuilder, Point, Transform};
use krilla::metadata::{DateTime, Metadata};
use krilla::num::NormalizedF32;
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;
use krilla::paint::{Fill, FillRule, LineCap, LineJoin, Stroke, StrokeDash};
use krilla::surface::Surface;
use krilla::text::{Font, GlyphId, KrillaGlyph};

use super::date::Date;
use super::error::SheetError;
use super::font::{self, Face, Fonts, GlyphRun};
use crate::drawing::Dash;
use crate::drawing::paper::{MarkKind, Page, Shade, Words};
use crate::geometry::Point2;
use crate::plan::letters::on_one_line;

/// PDF points in a millimetre.
pub const POINTS: f64 = 72.0 / 25.4;

/// What the file says of itself.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct FileDescription {
    /// Its title.
    pub title: String,
    /// Who made it; empty for nobody.
    pub author: String,
    /// Date of issue.
    pub date: Date,
}

/// The fonts as the writer has them.
struct Faces<'a> {
    /// Plain and bold.
    own: [Font; 2],
    others: Vec<Font>,
    fonts: &'a Fonts,
}

/// All pages in one file.
pub fn pdf(pages: &[Page], about: &FileDescription, fonts: &Fonts) -> Result<Vec<u8>, SheetError> {
    let failed = |what: &str| SheetError::Writer { what: what.to_owned() };
    let load = |data: &[u8], index, name: &str| {
        Font::new(data.to_vec().into(), index)
            .ok_or_else(|| failed(&format!("the font {name} can't be read")))
    };
    let own = |bold| load(font::font(bold).data, 0, font::FAMILY);
    let others = fonts.others().iter().map(|one| load(&one.data, one.index, &one.family));
    let faces = Faces { own: [own(false)?, own(true)?], others: others.collect::<Result<_, _>>()?, fonts };
    let mut document = Document::new();
    let mut outline = Outline::new();
    for (index, page) in pages.iter().enumerate() {
        let size = (points(page.width), points(page.height));
        let settings = PageSettings::from_wh(size.0, size.1).ok_or_else(|| failed("a sheet has no size"))?;
        let mut sheet = document.start_page_with(settings);
        let mut surface = sheet.surface();
        for mark in &page.marks {
            draw(&mut surface, &mark.kind, page.height, &faces);
        }
        surface.finish();
        sheet.finish();
        let destination = XyzDestination::new(index, Point::from_xy(0.0, 0.0));
        outline.push_child(OutlineNode::new(on_one_line(&page.name).into_owned(), destination));
    }
    document.set_outline(outline);
    let mut metadata = Metadata::new()
        .title(on_one_line(&about.title).into_owned())
        .creator("Equirow".to_owned())
        .language("en".to_owned())
        .document_id(format!("{} {}", about.title, about.date))
        .creation_date(DateTime::new(about.date.year).month(about.date.month).day(about.date.day));
    if !about.author.is_empty() {
        metadata = metadata.authors(vec![on_one_line(&about.author).into_owned()]);
    }
    document.set_metadata(metadata);
    document.finish().map_err(|error| failed(&format!("{error:?}")))
}

fn points(millimetres: f64) -> f32 {
    (millimetres * POINTS) as f32
}

/// The writer counts downwards from the upper edge.
fn place(at: Point2, height: f64) -> (f32, f32) {
    (points(at.x), points(height - at.y))
}

fn draw(surface: &mut Surface, kind: &MarkKind, height: f64, faces: &Faces) {
    match kind {
        MarkKind::Line { points: way, width, dash, shade } => {
            surface.set_fill(None);
            surface.set_stroke(Some(stroke(*width, *dash, *shade)));
            if let Some(path) = path(way, height, false) {
                surface.draw_path(&path);
            }
        }
        MarkKind::Area { points: corners, line, fill } => {
            surface.set_fill(fill.map(paint));
            surface.set_stroke(line.map(|(width, shade)| stroke(width, Dash::Solid, shade)));
            if let Some(path) = path(corners, height, true) {
                surface.draw_path(&path);
            }
        }
        MarkKind::Circle { centre, radius, line, fill } => {
            surface.set_fill(fill.map(paint));
            surface.set_stroke(line.map(|(width, shade)| stroke(width, Dash::Solid, shade)));
            if let Some(path) = circle(place(*centre, height), points(*radius)) {
                surface.draw_path(&path);
            }
        }
        MarkKind::Words(words) => draw_words(surface, words, height, faces),
    }
}

fn path(way: &[Point2], height: f64, closed: bool) -> Option<Path> {
    let (first, rest) = way.split_first()?;
    let mut builder = PathBuilder::new();
    let (x, y) = place(*first, height);
    builder.move_to(x, y);
    for point in rest {
        let (x, y) = place(*point, height);
        builder.line_to(x, y);
    }
    if closed {
        builder.close();
    }
    builder.finish()
}

/// Four cubics: PDF knows no circle.
fn circle((x, y): (f32, f32), r: f32) -> Option<Path> {
    let k = r * 0.552_284_8;
    let mut builder = PathBuilder::new();
    builder.move_to(x + r, y);
    builder.cubic_to(x + r, y + k, x + k, y + r, x, y + r);
    builder.cubic_to(x - k, y + r, x - r, y + k, x - r, y);
    builder.cubic_to(x - r, y - k, x - k, y - r, x, y - r);
    builder.cubic_to(x + k, y - r, x + r, y - k, x + r, y);
    builder.close();
    builder.finish()
}

fn paint(shade: Shade) -> Fill {
    Fill { paint: luma::Color::new(shade.0).into(), opacity: NormalizedF32::ONE, rule: FillRule::NonZero }
}

fn stroke(width: f64, dash: Dash, shade: Shade) -> Stroke {
    let dash = super::dashes::dash_pattern(dash)
        .map(|pattern| StrokeDash { array: pattern.iter().map(|one| points(*one)).collect(), offset: 0.0 });
    Stroke {
        paint: luma::Color::new(shade.0).into(),
        width: points(width),
        line_cap: LineCap::Butt,
        line_join: LineJoin::Round,
        dash,
        ..Stroke::default()
    }
}

fn draw_words(surface: &mut Surface, words: &Words, height: f64, faces: &Faces) {
    surface.set_fill(Some(paint(words.shade)));
    surface.set_stroke(None);
    let (x, y) = place(words.at, height);
    let size = points(font::font(words.bold).size(words.height));
    if words.upright {
        surface.push_transform(&Transform::from_row(0.0, -1.0, 1.0, 0.0, x, y));
    }
    let mut start = if words.upright { Point::from_xy(0.0, 0.0) } else { Point::from_xy(x, y) };
    for piece in faces.fonts.set(&words.text, words.bold) {
        let face = match piece.face {
            Face::Own { bold } => Some(&faces.own[usize::from(bold)]),
            Face::Other(at) => faces.others.get(at),
        };
        if let Some(face) = face {
            surface.draw_glyphs(start, &glyphs(&piece), face.clone(), &words.text, size, false);
        }
        start.x += piece.advance() as f32 * size;
    }
    if words.upright {
        surface.pop();
    }
}

fn glyphs(piece: &GlyphRun) -> Vec<KrillaGlyph> {
    let glyph = |glyph: &font::Glyph| {
        let (right, up) = (glyph.offset.0 as f32, glyph.offset.1 as f32);
        KrillaGlyph::new(
            GlyphId::new(glyph.number),
            glyph.advance as f32,
            right,
            up,
            0.0,
            glyph.range.clone(),
            None,
        )
    };
    piece.glyphs.iter().map(glyph).collect()
}
