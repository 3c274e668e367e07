//! A page as an SVG file in millimetres.

use std::fmt::Write as _;

use super::font::{self, Face, Fonts};
use crate::drawing::Dash;
use crate::drawing::paper::{MarkKind, Page, PaperLayer, Shade, Words};
use crate::geometry::Point2;
use crate::plan::letters::is_refused;

/// One page. Its text names the papers' font and each line's width, so that it takes the same room where another font
/// stands in.
pub fn svg(page: &Page, fonts: &Fonts) -> String {
    let (width, height) = (number(page.width), number(page.height));
    let mut out = format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}mm\" \
         height=\"{height}mm\" viewBox=\"0 0 {width} {height}\">\n<title>{}</title>\n\
         <rect width=\"{width}\" height=\"{height}\" fill=\"#ffffff\"/>\n",
        escaped(&page.name)
    );
    let mut open: Option<PaperLayer> = None;
    for mark in &page.marks {
        if open != Some(mark.layer) {
            if open.is_some() {
                out.push_str("</g>\n");
            }
            let _ = writeln!(
                out,
                "<g class=\"{}\" stroke-linejoin=\"round\" font-family=\"'{}', 'DejaVu Sans', Arial, sans-serif\">",
                mark.layer.name().to_lowercase(),
                font::FAMILY
            );
            open = Some(mark.layer);
        }
        shape(&mut out, &mark.kind, page.height, fonts);
    }
    if open.is_some() {
        out.push_str("</g>\n");
    }
    out.push_str("</svg>\n");
    out
}

fn shape(out: &mut String, kind: &MarkKind, height: f64, fonts: &Fonts) {
    // Writing to a string cannot fail.
    let _ = match kind {
        MarkKind::Line { points, width, dash, shade } => writeln!(
            out,
            "<polyline points=\"{}\" fill=\"none\"{}{}/>",
            path(points, height),
            stroke(Some((*width, *shade))),
            dashes(*dash)
        ),
        MarkKind::Area { points, line, fill } => {
            writeln!(out, "<polygon points=\"{}\"{}{}/>", path(points, height), inside(*fill), stroke(*line))
        }
        MarkKind::Circle { centre, radius, line, fill } => writeln!(
            out,
            "<circle cx=\"{}\" cy=\"{}\" r=\"{}\"{}{}/>",
            number(centre.x),
            number(height - centre.y),
            number(*radius),
            inside(*fill),
            stroke(*line)
        ),
        MarkKind::Words(words) => {
            let leftward = Fonts::runs_leftward(&words.text);
            // A line that runs leftward is placed by its right end.
            let (right, up) = if !leftward {
                (0.0, 0.0)
            } else if words.upright {
                (0.0, words.width)
            } else {
                (words.width, 0.0)
            };
            let (x, y) = (number(words.at.x + right), number(height - words.at.y - up));
            let size = number(font::font(words.bold).size(words.height));
            let weight = if words.bold { " font-weight=\"bold\"" } else { "" };
            let turn =
                if words.upright { format!(" transform=\"rotate(-90 {x} {y})\"") } else { String::new() };
            writeln!(
                out,
                "<text x=\"{x}\" y=\"{y}\" font-size=\"{size}\"{weight} textLength=\"{}\" \
                 lengthAdjust=\"spacingAndGlyphs\" fill=\"{}\"{turn}{}{} xml:space=\"preserve\">{}</text>",
                number(words.width),
                grey(words.shade),
                if leftward { " direction=\"rtl\"" } else { "" },
                families(words, fonts),
                escaped(&words.text)
            )
        }
    };
}

/// The fonts of a line that needs others than the papers' own.
fn families(words: &Words, fonts: &Fonts) -> String {
    if words.text.is_ascii() || fonts.others().is_empty() {
        return String::new();
    }
    let mut names = Vec::new();
    for piece in fonts.set(&words.text, words.bold) {
        if let Face::Other(at) = piece.face
            && let Some(other) = fonts.others().get(at)
        {
            let name = format!("'{}'", escaped(&other.family.replace('\'', "")));
            if !names.contains(&name) {
                names.push(name);
            }
        }
    }
    if names.is_empty() {
        return String::new();
    }
    format!(" font-family=\"'{}', {}, sans-serif\"", font::FAMILY, names.join(", "))
}

fn path(points: &[Point2], height: f64) -> String {
    let pairs: Vec<String> =
        points.iter().map(|point| format!("{},{}", number(point.x), number(height - point.y))).collect();
    pairs.join(" ")
}

fn stroke(line: Option<(f64, Shade)>) -> String {
    line.map_or_else(String::new, |(width, shade)| {
        format!(" stroke=\"{}\" stroke-width=\"{}\"", grey(shade), number(width))
    })
}

fn inside(fill: Option<Shade>) -> String {
    format!(" fill=\"{}\"", fill.map_or_else(|| "none".to_owned(), grey))
}

fn dashes(dash: Dash) -> String {
    super::dashes::dash_pattern(dash).map_or_else(String::new, |pattern| {
        let lengths: Vec<String> = pattern.iter().map(|length| number(*length)).collect();
        format!(" stroke-dasharray=\"{}\"", lengths.join(" "))
    })
}

fn grey(shade: Shade) -> String {
    format!("#{0:02x}{0:02x}{0:02x}", shade.0)
}

/// Ten-thousandths of a millimetre, without needless zeros.
fn number(value: f64) -> String {
    let text = format!("{value:.4}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// Words as XML; a space in place of what XML 1.0 forbids or what can't be seen.
fn escaped(words: &str) -> String {
    let mut out = String::with_capacity(words.len());
    for letter in words.chars() {
        match letter {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            letter if is_refused(letter) => out.push(' '),
            letter => out.push(letter),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_short_and_words_are_escaped() {
        assert_eq!(number(1.0), "1");
        assert_eq!(number(-0.000001), "0");
        assert_eq!(number(12.34567), "12.3457");
        assert_eq!(escaped("<a & \"b\">\u{1}"), "&lt;a &amp; &quot;b&quot;&gt; ");
    }
}
