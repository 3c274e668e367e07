//! A page as pixels, drawn by `hayro` from the bytes of its PDF file, so that a picture shows what will be printed.

use hayro::hayro_interpret::InterpreterSettings;
use hayro::hayro_syntax::Pdf;
use hayro::vello_cpu::color::palette::css::WHITE;
use hayro::{PixmapSettings, RenderCache, RenderSettings, render};

use super::error::SheetError;

/// Pixels of one page, opaque.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Picture {
    /// Width, pixels.
    pub width: usize,
    /// Height, pixels.
    pub height: usize,
    /// Red, green, blue, opacity of each pixel, line by line from the top.
    pub rgba: Vec<u8>,
}

/// The most pixels a side may have.
const MOST_PIXELS: f32 = 12_000.0;

/// Page `number`, from 0, of a PDF file at a number of pixels for a point (1/72 in).
pub fn picture(pdf: &[u8], number: usize, pixels_a_point: f32) -> Result<Picture, SheetError> {
    let failed = |what: String| SheetError::Writer { what };
    let pdf =
        Pdf::new(pdf.to_vec()).map_err(|error| failed(format!("its PDF can't be read back: {error:?}")))?;
    let page = pdf.pages().get(number).ok_or_else(|| failed(format!("it has no page {}", number + 1)))?;
    let (width, height) = page.render_dimensions();
    let largest = MOST_PIXELS / width.max(height).max(1.0);
    let scale = pixels_a_point.clamp(0.01, largest);
    let settings = PixmapSettings { x_scale: scale, y_scale: scale, bg_color: WHITE };
    let pixels = render(
        page,
        &RenderCache::new(),
        &InterpreterSettings::default(),
        &RenderSettings::default(),
        &settings,
    );
    // The ground is opaque, so that premultiplied and plain pixels are the same.
    let rgba: Vec<u8> = pixels.data().iter().flat_map(|one| [one.r, one.g, one.b, one.a]).collect();
    Ok(Picture { width: usize::from(pixels.width()), height: usize::from(pixels.height()), rgba })
}

/// The same as a PNG file.
pub fn png(pdf: &[u8], number: usize, pixels_a_point: f32) -> Result<Vec<u8>, SheetError> {
    // 72 points are an inch of 25.4 mm.
    let a_metre = (f64::from(pixels_a_point) * 72.0 / 0.0254).round() as u32;
    picture(pdf, number, pixels_a_point)?.png(Some(a_metre))
}

impl Picture {
    /// As a PNG file, with its true size if there is one: pixels for a metre of paper.
    pub fn png(&self, a_metre: Option<u32>) -> Result<Vec<u8>, SheetError> {
        let failed = |what: String| SheetError::Writer { what };
        let size = |side: usize| u32::try_from(side).unwrap_or(u32::MAX);
        let mut bytes = Vec::new();
        let mut encoder = png::Encoder::new(&mut bytes, size(self.width), size(self.height));
        encoder.set_color(png::ColorType::Rgba);
        encoder.set_depth(png::BitDepth::Eight);
        encoder.set_pixel_dims(a_metre.map(|a_metre| png::PixelDimensions {
            xppu: a_metre,
            yppu: a_metre,
            unit: png::Unit::Meter,
        }));
        let mut writer = encoder.write_header().map_err(|error| failed(error.to_string()))?;
        writer.write_image_data(&self.rgba).map_err(|error| failed(error.to_string()))?;
        writer.finish().map_err(|error| failed(error.to_string()))?;
        Ok(bytes)
    }
}
