//! What the canvas shows: the choice of colours and the list of layers.

use eframe::egui::containers::menu::{MenuButton, MenuConfig};
use eframe::egui::{Button, PopupCloseBehavior, Ui};

use super::view::Canvas;
use crate::drawing::{Colouring, Layer};

/// Layers that are switched together, by name.
const LAYERS: [(&str, &[Layer]); 6] = [
    ("Frame and sections", &[Layer::Frame, Layer::Hinge]),
    ("Hoses", &[Layer::Runs]),
    ("Row feeds", &[Layer::Feeds]),
    ("Tags", &[Layer::Tags]),
    ("Values", &[Layer::Values]),
    ("Hose lengths", &[Layer::Dimensions]),
];

/// What the band behind each row is.
const SCATTER: &str = "A band behind each row: where 95 of 100 bars lie that are built of parts as they are sold and cut \
                       (Project, Spreads); in a drag it waits where it takes too long";

impl Canvas {
    /// The other colours.
    pub const fn switch_colours(&mut self) {
        self.colouring = match self.colouring {
            Colouring::Deviation | Colouring::Caught => Colouring::Pressure,
            Colouring::Pressure => Colouring::Deviation,
        };
    }

    /// What colours stand for, and the list of layers, from the right end of a line.
    pub fn controls(&mut self, ui: &mut Ui) {
        ui.spacing_mut().item_spacing.x = 4.0;
        let config = MenuConfig::new().close_behavior(PopupCloseBehavior::CloseOnClickOutside);
        MenuButton::new("Layers").config(config).ui(ui, |ui| self.layer_list(ui));
        ui.add_space(6.0);
        for (colouring, name, about) in [
            (
                Colouring::Pressure,
                "Pressure",
                "Colour hoses, manifolds and rows by gauge pressure; of a row it is the one ahead of its metering",
            ),
            (Colouring::Deviation, "Deviation", "Colour rows by how far they are from their target"),
        ] {
            let button = Button::selectable(self.colouring == colouring, name);
            if ui.add(button).on_hover_text(about).clicked() {
                self.colouring = colouring;
            }
        }
    }

    /// A check box for every layer.
    fn layer_list(&mut self, ui: &mut Ui) {
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
        ui.separator();
        ui.checkbox(&mut self.extras.widths, "Section widths");
        ui.checkbox(&mut self.extras.scatter, "Scatter of parts, in the strip").on_hover_text(SCATTER);
        ui.checkbox(&mut self.extras.grid, "Grid");
        ui.checkbox(&mut self.extras.rulers, "Ruler along the left edge");
    }
}
