//! The bar to scale as it is typed, and what a changed bar costs.

use eframe::egui;
use eframe::egui::{Rect, RichText, ScrollArea, Sense, Ui, vec2};

use super::{BarForm, Built, place_of};
use crate::geometry::{Bounds, View};
use crate::plan::Bar;
use crate::plan::words::counted;
use crate::quantities::{Measure, UnitSystem};
use crate::window::canvas::{paint, ruler};
use crate::window::theme::Theme;

impl BarForm {
    /// The bar to scale, or why there is none.
    pub(super) fn preview(&self, ui: &mut Ui, size: egui::Vec2, theme: &Theme) {
        let (rect, response) = ui.allocate_exact_size(vec2(size.x, size.y * 0.72), Sense::hover());
        response.widget_info(|| {
            egui::WidgetInfo::labeled(egui::accesskit::Role::Image, true, "The bar as it is laid out")
        });
        let painter = ui.painter_at(rect);
        painter.rect_filled(rect, 4.0, theme.canvas);
        let units = self.base.units;
        match &self.built {
            Some((_, Built::Bar { project, scene, losses, cautions })) => {
                let ruler_rect = Rect::from_min_max(egui::pos2(rect.left(), rect.bottom() - 26.0), rect.max);
                let picture = Rect::from_min_max(rect.min, egui::pos2(rect.right(), ruler_rect.top()));
                let bounds = scene.extent.unwrap_or(Bounds::EMPTY);
                let view = View::fit(bounds, f64::from(picture.width()), f64::from(picture.height()), 36.0);
                paint::scene(&painter, picture, &view, scene, &paint::Highlight::NONE, theme, |_| Vec::new());
                ruler::ruler(&painter, ruler_rect, &view, units, theme);
                ui.add_space(8.0);
                ui.label(facts(&project.bar, units));
                for (field, words) in cautions {
                    let text = format!("{}: {words}", place_of(*field));
                    ui.label(RichText::new(text).color(theme.warning));
                }
                if self.changes {
                    ui.add_space(4.0);
                    if losses.is_empty() {
                        ui.label(RichText::new("All plumbing fits the changed bar").color(theme.soft));
                    } else {
                        ui.label(RichText::new("What no longer fits").strong().color(theme.warning));
                        ScrollArea::vertical().id_salt("losses").show(ui, |ui| {
                            for loss in losses {
                                ui.label(RichText::new(loss).color(theme.warning));
                            }
                        });
                    }
                }
            }
            Some((_, Built::Refused(refusals))) => {
                let words = "No bar yet: see what is marked on the left".to_owned();
                let font = egui::FontId::proportional(14.0);
                let galley = painter.layout(words, font, theme.soft, (rect.width() - 8.0).max(40.0));
                painter.galley(rect.center() - galley.size() / 2.0, galley, theme.soft);
                ui.add_space(8.0);
                for one in refusals {
                    let text = format!("{}: {}; {}", place_of(one.field), one.what, one.advice);
                    ui.label(RichText::new(text).color(theme.warning));
                }
            }
            None => {}
        }
    }
}

fn facts(bar: &Bar, units: UnitSystem) -> String {
    let width: f64 = bar.sections.iter().map(|section| section.width().si()).sum();
    format!(
        "{}, {} wide, {}, {}",
        counted(bar.rows.len(), "row"),
        Measure::Distance.text(width, units),
        counted(bar.sections.len(), "section"),
        counted(bar.ranks.len(), "rank")
    )
}
