//! The pages: a list of them in small, and one of them large.

use eframe::egui;
use eframe::egui::{
    Align2, Color32, ColorImage, Context, FontId, Label, Rect, RichText, ScrollArea, Sense, Stroke,
    StrokeKind, TextureHandle, TextureOptions, Ui, Vec2, pos2, vec2,
};

use crate::drawing::paper::Page;
use crate::drawing::sheet_frame::Paper;
use crate::session::papers::Papers;
use crate::sheets::pdf;
use crate::sheets::picture::Picture;
use crate::window::theme::Theme;

/// Points of a screen for a millimetre of paper at 100 %, as on a screen with 96 pixels an inch.
const POINTS_A_MILLIMETRE: f32 = 96.0 / 25.4;
/// How far one can zoom.
const ZOOM: std::ops::RangeInclusive<f32> = 0.1..=4.0;
/// Most pixels of the large page: 64 MB of them.
const MOST_PIXELS: f32 = 16.0e6;
/// Room for a page in the list, points.
const SMALL: Vec2 = vec2(142.0, 104.0);
/// Lines of words below it.
const CAPTION: f32 = 34.0;
/// Air around the large page, points.
const MARGIN: f32 = 10.0;

/// How large the page is shown.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Size {
    Page,
    Width,
    /// Times its true size.
    Zoom(f32),
}

/// Where the pages are looked at, and their pixels.
pub(super) struct Pages {
    page: usize,
    size: Size,
    /// The zoom of the last frame, whatever decided on it.
    shown: f32,
    pan: Vec2,
    /// The page's size in the last frame, and how far it was scrolled.
    scrolled: Option<(Vec2, Vec2)>,
    /// Each page in small, with the set it belongs to.
    small: Vec<Option<(u64, TextureHandle)>>,
    /// The large page, with its number and the set it belongs to.
    large: Option<(u64, usize, TextureHandle)>,
    error: Option<String>,
    generation: u64,
    /// The list moves to the page in the next frame.
    follow: bool,
    /// The page begins at its top in the next frame.
    to_top: bool,
}

impl Default for Pages {
    fn default() -> Self {
        Self {
            page: 0,
            size: Size::Page,
            shown: 1.0,
            pan: Vec2::ZERO,
            scrolled: None,
            small: Vec::new(),
            large: None,
            error: None,
            generation: 0,
            follow: false,
            to_top: false,
        }
    }
}

impl Pages {
    /// Number of the page shown, from 0.
    pub(super) const fn page(&self) -> usize {
        self.page
    }

    /// Turns pages; what is beyond the last is caught in the next frame.
    pub(super) fn turn(&mut self, by: isize) {
        self.go(self.page.saturating_add_signed(by));
    }

    fn go(&mut self, page: usize) {
        let page = page.min(self.small.len().saturating_sub(1));
        if page != self.page {
            self.page = page;
            self.follow = true;
            self.to_top = true;
        }
    }

    pub(super) const fn fit_page(&mut self) {
        self.size = Size::Page;
    }

    pub(super) const fn fit_width(&mut self) {
        self.size = Size::Width;
    }

    pub(super) fn zoom(&mut self, factor: f32) {
        self.size = Size::Zoom((self.shown * factor).clamp(*ZOOM.start(), *ZOOM.end()));
    }

    pub(super) fn pan(&mut self, by: Vec2) {
        self.pan += by;
    }

    /// Takes what was drawn since the last frame.
    pub(super) fn take(&mut self, ctx: &Context, papers: &mut Papers) {
        let many = papers.made().map_or(0, |made| made.set.pages.len());
        if self.generation != papers.generation() {
            self.generation = papers.generation();
            self.error = None;
            // Pages that stay keep their picture until the new one is there.
            self.small.resize(many, None);
            self.page = self.page.min(many.saturating_sub(1));
            if many == 0 {
                self.large = None;
            }
        }
        for (page, picture) in papers.take_small() {
            if let Some(place) = self.small.get_mut(page) {
                *place = Some((self.generation, texture(ctx, "page in small", picture)));
            }
        }
    }

    /// The list of pages.
    pub(super) fn list(&mut self, ui: &mut Ui, papers: &Papers) {
        let theme = Theme::of(ui.visuals());
        let Some(made) = papers.made() else { return };
        let holds = papers.current().is_some();
        let mut go = None;
        ScrollArea::vertical().auto_shrink([false, false]).show(ui, |ui| {
            ui.spacing_mut().item_spacing.y = 4.0;
            for (number, page) in made.set.pages.iter().enumerate() {
                let room = vec2(ui.available_width(), SMALL.y + CAPTION);
                let (rect, response) = ui.allocate_exact_size(room, Sense::click());
                let selected = number == self.page;
                let name = format!("Page {}: {}", number + 1, page.name);
                response.widget_info(|| {
                    egui::WidgetInfo::selected(egui::accesskit::Role::Button, true, selected, name.clone())
                });
                if response.clicked() {
                    go = Some(number);
                }
                if selected && self.follow {
                    response.scroll_to_me(None);
                }
                if !ui.is_rect_visible(rect) {
                    continue;
                }
                let painter = ui.painter_at(rect);
                if selected || response.hovered() || response.has_focus() {
                    let ground = if selected { theme.accent_ground } else { theme.ground };
                    painter.rect_filled(rect, 4.0, ground);
                }
                let place = Rect::from_center_size(
                    pos2(rect.center().x, rect.top() + SMALL.y / 2.0 + 2.0),
                    fitted(page, SMALL - vec2(4.0, 6.0)),
                );
                painter.rect_filled(place, 0.0, Color32::WHITE);
                if let Some(Some((of, small))) = self.small.get(number) {
                    let tint = if holds && *of == self.generation {
                        Color32::WHITE
                    } else {
                        Color32::from_gray(170)
                    };
                    painter.image(small.id(), place, whole(), tint);
                }
                let edge =
                    if selected { Stroke::new(2.0, theme.accent) } else { Stroke::new(1.0, theme.line) };
                painter.rect_stroke(place, 0.0, edge, StrokeKind::Outside);
                let ink = if selected { theme.ink } else { theme.soft };
                caption(ui, rect, number, page, ink);
            }
        });
        self.follow = false;
        if let Some(page) = go {
            self.go(page);
        }
    }

    /// Which page, and how large.
    pub(super) fn bar(&mut self, ui: &mut Ui, papers: &Papers) {
        let theme = Theme::of(ui.visuals());
        let made = papers.made();
        let many = made.map_or(0, |made| made.set.pages.len());
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = 6.0;
            let named = |ui: &mut Ui, enabled: bool, sign: &str, name: &str, keys: &str| {
                let button = egui::Button::new(sign).min_size(vec2(26.0, 24.0));
                let response = ui.add_enabled(enabled, button);
                response.widget_info(|| {
                    egui::WidgetInfo::labeled(egui::accesskit::Role::Button, enabled, name.to_owned())
                });
                response.on_hover_text(format!("{name} ({keys})")).clicked()
            };
            if named(ui, self.page > 0, "<", "Page before", "Page up") {
                self.turn(-1);
            }
            if named(ui, self.page + 1 < many, ">", "Next page", "Page down") {
                self.turn(1);
            }
            if let Some(page) = made.and_then(|made| made.set.pages.get(self.page)) {
                ui.label(RichText::new(format!("Page {} of {many}", self.page + 1)).strong());
                let details = format!("{} · {}", page.name, about(page));
                let room = (ui.available_width() - 290.0).max(60.0);
                ui.scope(|ui| {
                    ui.set_max_width(room);
                    ui.add(Label::new(RichText::new(details).color(theme.soft)).truncate());
                });
            }
            ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                if named(ui, many > 0, "+", "Zoom in", "Ctrl++") {
                    self.zoom(1.25);
                }
                let percent = format!("{:.0} %", self.shown * 100.0);
                ui.add_sized(vec2(44.0, 20.0), Label::new(RichText::new(percent).color(theme.soft)))
                    .on_hover_text("Of its true size, on a screen with 96 pixels an inch");
                if named(ui, many > 0, "−", "Zoom out", "Ctrl+−") {
                    self.zoom(0.8);
                }
                let width = ui.selectable_label(self.size == Size::Width, "Full width");
                if width.on_hover_text("As wide as there is room (Z)").clicked() {
                    self.fit_width();
                }
                let page = ui.selectable_label(self.size == Size::Page, "Whole page");
                if page.on_hover_text("All of the page (F)").clicked() {
                    self.fit_page();
                }
            });
        });
    }

    /// The page, large.
    pub(super) fn large(&mut self, ui: &mut Ui, papers: &mut Papers) {
        let theme = Theme::of(ui.visuals());
        let Some(made) = papers.made().cloned() else { return };
        let Some(page) = made.set.pages.get(self.page) else { return };
        let room = ui.available_rect_before_wrap();
        let paper = vec2(page.width as f32, page.height as f32) * POINTS_A_MILLIMETRE;
        let inner = room.size() - Vec2::splat(2.0 * MARGIN);
        let wide = (inner.x / paper.x).max(0.05);
        let high = (inner.y / paper.y).max(0.05);
        let mut zoom = match self.size {
            Size::Page => wide.min(high),
            // Room for the bar that scrolls.
            Size::Width => {
                if paper.y * wide > inner.y {
                    (inner.x - 12.0).max(20.0) / paper.x
                } else {
                    wide
                }
            }
            Size::Zoom(zoom) => zoom,
        };
        let pinch = ui.input(|input| input.zoom_delta());
        if pinch != 1.0 && ui.rect_contains_pointer(room) {
            zoom = (zoom * pinch).clamp(*ZOOM.start(), *ZOOM.end());
            self.size = Size::Zoom(zoom);
        }
        self.shown = zoom;
        let size = paper * zoom;
        let ppp = ui.ctx().pixels_per_point();
        // Pixels for a point of 1/72 in, no more than the memory and the screen's driver take.
        let side = ui.input(|input| input.max_texture_side) as f32;
        let pixels = size * ppp;
        let most = (side / pixels.max_elem()).min((MOST_PIXELS / (pixels.x * pixels.y)).sqrt()).min(1.0);
        let scale = pixels.x * most / (page.width * pdf::POINTS) as f32;
        let ctx = ui.ctx().clone();
        match papers.large(self.page, scale, move || ctx.request_repaint()) {
            Some((number, Ok(picture))) => {
                let texture = texture(ui.ctx(), "large page", picture);
                self.large = Some((papers.generation(), number, texture));
            }
            Some((_, Err(error))) => self.error = Some(error.to_string()),
            None => {}
        }
        if let Some(error) = &self.error {
            ui.label(RichText::new(error).color(theme.error));
        }
        let name = format!("Page {} of {}: {}", self.page + 1, made.set.pages.len(), page.name);
        let holds = papers.current().is_some();
        let mut area = ScrollArea::both()
            .id_salt("large page")
            .auto_shrink([false, false])
            .scroll_source(egui::scroll_area::ScrollSource::ALL);
        if self.to_top {
            area = area.scroll_offset(Vec2::ZERO);
            self.to_top = false;
        } else if let Some((before, offset)) = self.scrolled.filter(|(before, _)| *before != size) {
            // Zoomed about the middle of what is in sight; a page smaller than the room stands in its middle.
            let start = |size: Vec2| ((room.size() - size) / 2.0).max(Vec2::splat(MARGIN));
            let middle = offset + room.size() / 2.0 - start(before);
            let wanted = middle * (size / before) + start(size) - room.size() / 2.0;
            area = area.scroll_offset(wanted.max(Vec2::ZERO));
        }
        // White paper needs no shadow at its cut edges.
        ui.spacing_mut().scroll.fade.strength = 0.0;
        let pan = std::mem::take(&mut self.pan);
        let output = area.show(ui, |ui| {
            if pan != Vec2::ZERO {
                ui.scroll_with_delta(-pan);
            }
            let whole_room = ui.available_size();
            let room = (size + Vec2::splat(2.0 * MARGIN)).max(whole_room);
            let (rect, response) = ui.allocate_exact_size(room, Sense::hover());
            response
                .widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::Image, true, name.clone()));
            let min = rect.center() - size / 2.0;
            let min = pos2((min.x * ppp).round() / ppp, (min.y * ppp).round() / ppp);
            // Blurred is better than blank, and what was is better than nothing if it is marked.
            let large = self.large.as_ref().filter(|(_, number, _)| *number == self.page);
            let large = large.map(|(of, _, texture)| (*of, texture));
            let small =
                self.small.get(self.page).and_then(Option::as_ref).map(|(of, texture)| (*of, texture));
            let is_new = |(of, _): &(u64, &TextureHandle)| *of == self.generation;
            let shown = large.filter(is_new).or(small.filter(is_new)).or(large).or(small);
            // One pixel of the picture on one of the screen, so that lines stay sharp.
            let own = shown.map(|(_, texture)| texture.size_vec2() / ppp);
            let own = own.filter(|own| (*own - size).abs().max_elem() * ppp < 1.5);
            let place = Rect::from_min_size(min, own.unwrap_or(size));
            let painter = ui.painter();
            painter.rect_filled(place.translate(vec2(2.0, 3.0)), 0.0, Color32::from_black_alpha(40));
            painter.rect_filled(place, 0.0, Color32::WHITE);
            let holds = holds && shown.as_ref().is_none_or(is_new);
            if let Some((_, texture)) = shown {
                painter.image(texture.id(), place, whole(), Color32::WHITE);
            } else {
                let words = "This page is being drawn…";
                let font = FontId::proportional(14.0);
                painter.text(place.center(), Align2::CENTER_CENTER, words, font, Color32::from_gray(90));
            }
            painter.rect_stroke(place, 0.0, Stroke::new(1.0, theme.line), StrokeKind::Outside);
            if !holds && shown.is_some() {
                out_of_date(painter, place.intersect(ui.clip_rect()), &theme);
            }
            rect.min
        });
        self.scrolled = Some((size, output.inner_rect.min - output.inner));
    }
}

/// A mark across what does not hold any more.
fn out_of_date(painter: &egui::Painter, place: Rect, theme: &Theme) {
    let words = painter.layout_no_wrap("Out of date".to_owned(), FontId::proportional(16.0), theme.warning);
    let box_ =
        Align2::CENTER_TOP.anchor_size(place.center_top() + vec2(0.0, 12.0), words.size() + vec2(24.0, 12.0));
    painter.rect(box_, 4.0, theme.paper, Stroke::new(1.5, theme.warning), StrokeKind::Inside);
    painter.galley(box_.min + vec2(12.0, 6.0), words, theme.warning);
}

fn caption(ui: &Ui, rect: Rect, number: usize, page: &Page, ink: Color32) {
    let painter = ui.painter_at(rect);
    let line = |y: f32, text: String, size: f32, ink: Color32| {
        let mut job = egui::text::LayoutJob::simple_singleline(text, FontId::proportional(size), ink);
        job.wrap = egui::text::TextWrapping::truncate_at_width(rect.width() - 8.0);
        let galley = painter.layout_job(job);
        let at = pos2(rect.center().x - galley.size().x / 2.0, y);
        painter.galley(at, galley, ink);
    };
    line(rect.bottom() - CAPTION + 2.0, format!("{}  {}", number + 1, page.name), 12.0, ink);
    line(rect.bottom() - CAPTION + 17.0, about(page), 11.0, Theme::of(ui.visuals()).soft);
}

/// Paper and scale: `A3, 1:20`.
fn about(page: &Page) -> String {
    let near = |a: f64, b: f64| (a - b).abs() < 0.5;
    let paper = Paper::ALL.into_iter().find(|paper| {
        let (short, long) = paper.sides();
        near(page.width.min(page.height), short) && near(page.width.max(page.height), long)
    });
    let paper = paper.map_or_else(
        || format!("{:.0} mm × {:.0} mm", page.width, page.height),
        |paper| paper.label().to_owned(),
    );
    page.view.map_or_else(|| paper.clone(), |view| format!("{paper}, {}", view.text()))
}

/// As large as a page can be in a box.
fn fitted(page: &Page, room: Vec2) -> Vec2 {
    let paper = vec2(page.width as f32, page.height as f32);
    paper * (room.x / paper.x).min(room.y / paper.y)
}

const fn whole() -> Rect {
    Rect { min: pos2(0.0, 0.0), max: pos2(1.0, 1.0) }
}

fn texture(ctx: &Context, name: &str, picture: Picture) -> TextureHandle {
    // Opaque pixels are the same premultiplied.
    let image = ColorImage::from_rgba_premultiplied([picture.width, picture.height], &picture.rgba);
    ctx.load_texture(name, image, TextureOptions::LINEAR)
}
