//! What the canvas shows: the choice of colours and the list of layers.

use eframe::egui::{RichText, Ui};

use super::view::Canvas;
use crate::drawing::{Colouring, Layer};
use crate::window::theme::Theme;

/// Layers that are switched together, by name.
const LAYERS: [(&str, &[Layer]); 6] = [
    ("Frame and sections", &[Layer::Frame, Layer::Hinge]),
    ("Hoses", &[Layer::Runs]),
    ("Row feeds", &[Layer::Feeds]),
    ("Tags", &[Layer::Tags]),
    ("Values", &[Layer::Values]),
    ("Hose lengths", &[Layer::Dimensions]),
];

impl Canvas {
    /// The other colours.
    pub const fn switch_colours(&mut self) {
        self.colouring = match self.colouring {
            Colouring::Deviation => Colouring::Pressure,
            Colouring::Pressure => Colouring::Deviation,
        };
    }

    /// A switch for the colours and a check box for every layer.
    pub fn layer_list(&mut self, ui: &mut Ui) {
        let theme = Theme::of(ui.visuals());
        let heading = |ui: &mut Ui, text: &str| {
            ui.add_space(6.0);
            ui.label(RichText::new(text).strong().color(theme.soft));
        };
        heading(ui, "Colour by");
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = 4.0;
            for (colouring, name, about) in [
                (Colouring::Deviation, "Deviation", "Colour rows by how far they are from their target"),
                (
                    Colouring::Pressure,
                    "Pressure",
                    "Colour hoses, manifolds and rows by gauge pressure; of a row it is the one ahead of its metering",
                ),
            ] {
                ui.selectable_value(&mut self.colouring, colouring, name).on_hover_text(about);
            }
        });
        heading(ui, "Show");
        for (name, layers) in LAYERS {
            let mut shown = !layers.iter().any(|layer| self.hidden.contains(layer));
            if ui.checkbox(&mut shown, name).changed() {
                for layer in layers {
                    if shown {
                        self.hidden.remove(layer);
                    } else {
                        self.hidden.insert(*layer);
                    }
                }
            }
        }
        ui.checkbox(&mut self.extras.widths, "Section widths");
        ui.checkbox(&mut self.extras.grid, "Grid");
        ui.checkbox(&mut self.extras.rulers, "Rulers");
    }
}
