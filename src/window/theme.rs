//! Colours and sizes of the window, as named tokens for a light and a dark ground.
//!
//! The colours of deviation are PuOr from ColorBrewer (Harrower and Brewer 2003, colorbrewer2.org, Apache 2.0),
//! diverging and safe for colour-blind readers: five classes on light ground. On dark ground an adapted PuOr takes
//! its place: bright far from the target and dark near it, so that there too a row stands out the more the farther it
//! is off. Of its colours two are PuOr's own (7-class `#f1a340`, and the panel's ground in the middle); `#a85408` is
//! the 9-class `#b35806` a little darker, `#6a5a9c` the 9-class `#8073ac` darker, `#b8aef0` the 5-class `#b2abd2`
//! brighter. The hues, and with them what a colour-blind reader tells apart, stay those of the map.
//!
//! The colours of pressure are viridis (S. van der Walt and N. Smith 2015, CC0; 16 of its 256 colours, evenly spaced,
//! as matplotlib lists them, and straight lines between): perceptually even, rising in lightness, safe for
//! colour-blind readers and in grey. Hoses carry an edge, since one end of any such map is faint on any ground.
//!
//! A value or a sign always stands beside the colour.

use eframe::egui::{
    self, Color32, CornerRadius, FontFamily, FontId, Margin, Stroke, TextStyle, Visuals, style::ScrollStyle,
    vec2,
};

use crate::drawing::{DeviationClass, Fill, Ink, PressureClass};

/// Room of a scroll bar beside what it scrolls, points.
pub const SCROLL_BAR: f32 = 9.0;

/// The tokens.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Theme {
    /// For dark surroundings.
    pub dark: bool,
    /// The drawing's ground.
    pub canvas: Color32,
    /// Panels beside it.
    pub panel: Color32,
    /// Fields, cards, and the inside of parts.
    pub paper: Color32,
    /// Words and numbers.
    pub ink: Color32,
    /// Words that explain.
    pub soft: Color32,
    /// Edges of panels and fields.
    pub line: Color32,
    /// What is active or selected.
    pub accent: Color32,
    /// The ground of what is active or selected.
    pub accent_ground: Color32,
    /// The ground of a section.
    pub ground: Color32,
    /// Frame members.
    pub rail: Color32,
    /// Hinge lines.
    pub hinge: Color32,
    /// Hoses.
    pub hose: Color32,
    /// Delivery tubes.
    pub tube: Color32,
    /// Hoses and tubes in which nothing moves.
    pub still: Color32,
    /// Lines of parts and outlets.
    pub outline: Color32,
    /// Within the limit of a row, in the strip.
    pub band: Color32,
    /// Within what a design should show, in the strip.
    pub design_band: Color32,
    /// Words of warnings, and outlets that get nothing.
    pub warning: Color32,
    /// Words of errors.
    pub error: Color32,
    /// Far below, below, within, above, far above.
    pub deviation: [Color32; 5],
}

const fn hex(rgb: u32) -> Color32 {
    Color32::from_rgb((rgb >> 16) as u8, (rgb >> 8 & 0xff) as u8, (rgb & 0xff) as u8)
}

/// Every 17th of viridis' 256 colours.
const VIRIDIS: [Color32; 16] = [
    hex(0x440154),
    hex(0x481a6c),
    hex(0x472f7d),
    hex(0x414487),
    hex(0x39568c),
    hex(0x31688e),
    hex(0x2a788e),
    hex(0x23888e),
    hex(0x1f988b),
    hex(0x22a884),
    hex(0x35b779),
    hex(0x54c568),
    hex(0x7ad151),
    hex(0xa5db36),
    hex(0xd2e21b),
    hex(0xfde725),
];

impl Theme {
    /// For light surroundings.
    pub const LIGHT: Self = Self {
        dark: false,
        canvas: hex(0xfbfbf9),
        panel: hex(0xf0f3f3),
        paper: hex(0xffffff),
        ink: hex(0x1f2a33),
        soft: hex(0x566570),
        line: hex(0xcfd6db),
        accent: hex(0x0f6b75),
        accent_ground: hex(0xdceeed),
        ground: hex(0xf1f3f3),
        rail: hex(0xc9d0d5),
        hinge: hex(0x7d8a94),
        hose: hex(0x33566b),
        tube: hex(0x557488),
        still: hex(0x7f8a93),
        outline: hex(0x1f2a33),
        band: hex(0xeef1f0),
        design_band: hex(0xdfe8e4),
        warning: hex(0xa34700),
        error: hex(0xb3261e),
        deviation: [hex(0xe66101), hex(0xfdb863), hex(0xf7f7f7), hex(0xb2abd2), hex(0x5e3c99)],
    };

    /// For dark surroundings.
    pub const DARK: Self = Self {
        dark: true,
        canvas: hex(0x14191d),
        panel: hex(0x1b2126),
        paper: hex(0x232b31),
        ink: hex(0xe4e9ec),
        soft: hex(0x9daab4),
        line: hex(0x36414a),
        accent: hex(0x54bcc4),
        accent_ground: hex(0x173a3e),
        ground: hex(0x1b2227),
        rail: hex(0x3b464f),
        hinge: hex(0x6c7983),
        hose: hex(0x86aec6),
        tube: hex(0x7f9fb3),
        still: hex(0x6b7983),
        outline: hex(0xdfe5e9),
        band: hex(0x1e262b),
        design_band: hex(0x25332f),
        warning: hex(0xf0a35c),
        error: hex(0xf2857c),
        // An adapted PuOr; the top of this file says how.
        deviation: [hex(0xf1a340), hex(0xa85408), hex(0x232b31), hex(0x6a5a9c), hex(0xb8aef0)],
    };

    /// The tokens that go with egui's visuals.
    pub const fn of(visuals: &Visuals) -> Self {
        if visuals.dark_mode { Self::DARK } else { Self::LIGHT }
    }

    /// The colour of a deviation class; the paper for those without a number.
    pub const fn class(&self, class: DeviationClass) -> Color32 {
        match class {
            DeviationClass::FarBelow => self.deviation[0],
            DeviationClass::Below => self.deviation[1],
            DeviationClass::Within => self.deviation[2],
            DeviationClass::Above => self.deviation[3],
            DeviationClass::FarAbove => self.deviation[4],
            DeviationClass::NotFed
            | DeviationClass::FlowsBackward
            | DeviationClass::LeftOut
            | DeviationClass::Unknown => self.paper,
        }
    }

    /// The colour of a pressure class, the same on light and dark ground.
    pub fn pressure(class: PressureClass) -> Color32 {
        let at = class.share().clamp(0.0, 1.0) * (VIRIDIS.len() - 1) as f64;
        let low = (at.floor() as usize).min(VIRIDIS.len() - 2);
        VIRIDIS[low].lerp_to_gamma(VIRIDIS[low + 1], (at - low as f64) as f32)
    }

    /// The colour of words and signs that stand on a colour: whichever of black and white is farther from it.
    pub fn on(&self, ground: Color32) -> Color32 {
        let (dark, light) = (hex(0x12181d), Color32::WHITE);
        if contrast(dark, ground) >= contrast(light, ground) { dark } else { light }
    }

    /// The colour of a meaning.
    pub fn ink_colour(&self, ink: Ink) -> Color32 {
        match ink {
            Ink::SectionPanel => self.ground,
            Ink::FrameRail => self.rail,
            Ink::HingeLine => self.hinge,
            Ink::Travel | Ink::Ground | Ink::SoftWords => self.soft,
            Ink::TransportLimit => self.warning,
            Ink::Hose => self.hose,
            Ink::Tube => self.tube,
            Ink::HoseStill | Ink::TubeStill => self.still,
            Ink::Part | Ink::Outlet => self.outline,
            Ink::OnDeviation(class) => self.on(self.class(class)),
            Ink::Pressure(class) => Self::pressure(class),
            Ink::OnPressure(class) => self.on(Self::pressure(class)),
            Ink::NotFed => self.warning,
            Ink::LeftOut => self.hinge,
            Ink::Words => self.ink,
        }
    }

    /// The colour inside a closed shape.
    pub fn fill_colour(&self, fill: Fill, ink: Ink) -> Color32 {
        match fill {
            Fill::None => Color32::TRANSPARENT,
            Fill::Paper => self.paper,
            Fill::Ink => self.ink_colour(ink),
            Fill::Deviation(class) => self.class(class),
            Fill::Pressure(class) => Self::pressure(class),
        }
    }

    /// egui's visuals in these colours.
    pub fn visuals(&self) -> Visuals {
        let mut visuals = if self.dark { Visuals::dark() } else { Visuals::light() };
        visuals.panel_fill = self.panel;
        visuals.window_fill = self.paper;
        visuals.extreme_bg_color = self.paper;
        visuals.faint_bg_color = self.ground;
        visuals.code_bg_color = self.ground;
        visuals.window_stroke = Stroke::new(1.0, self.line);
        visuals.window_corner_radius = CornerRadius::same(8);
        visuals.menu_corner_radius = CornerRadius::same(6);
        visuals.hyperlink_color = self.accent;
        visuals.warn_fg_color = self.warning;
        visuals.error_fg_color = self.error;
        visuals.weak_text_color = Some(self.soft);
        visuals.selection.bg_fill = self.accent_ground;
        visuals.selection.stroke = Stroke::new(1.2, self.accent);
        visuals.slider_trailing_fill = true;
        visuals.striped = false;
        let states = [
            (&mut visuals.widgets.noninteractive, self.panel, self.line, self.ink),
            (&mut visuals.widgets.inactive, self.paper, self.line, self.ink),
            (&mut visuals.widgets.hovered, self.paper, self.accent, self.ink),
            (&mut visuals.widgets.active, self.accent_ground, self.accent, self.ink),
            (&mut visuals.widgets.open, self.paper, self.accent, self.ink),
        ];
        for (state, ground, edge, words) in states {
            state.bg_fill = ground;
            state.weak_bg_fill = ground;
            state.bg_stroke = Stroke::new(1.0, edge);
            state.fg_stroke = Stroke::new(1.0, words);
            state.corner_radius = CornerRadius::same(5);
            state.expansion = 0.0;
        }
        // A slider's rail and an empty check box must stand out from the panel they lie on.
        visuals.widgets.inactive.bg_fill = if self.dark { self.line } else { hex(0xdde3e6) };
        visuals
    }
}

/// Sets colours, sizes of words and spacing, for light and for dark surroundings; which of the two is shown stays
/// the user's choice.
pub fn apply(ctx: &egui::Context) {
    for (which, theme) in [(egui::Theme::Light, Theme::LIGHT), (egui::Theme::Dark, Theme::DARK)] {
        ctx.style_mut_of(which, |style| {
            style.visuals = theme.visuals();
            style.text_styles = [
                (TextStyle::Small, FontId::new(11.0, FontFamily::Proportional)),
                (TextStyle::Body, FontId::new(13.0, FontFamily::Proportional)),
                (TextStyle::Button, FontId::new(13.0, FontFamily::Proportional)),
                (TextStyle::Heading, FontId::new(17.0, FontFamily::Proportional)),
                (TextStyle::Monospace, FontId::new(12.0, FontFamily::Monospace)),
            ]
            .into();
            style.spacing.item_spacing = vec2(8.0, 6.0);
            style.spacing.button_padding = vec2(9.0, 4.0);
            style.spacing.interact_size.y = 24.0;
            style.spacing.window_margin = Margin::same(12);
            style.spacing.menu_margin = Margin::same(6);
            style.spacing.slider_rail_height = 4.0;
            style.spacing.indent = 14.0;
            // In room of its own, so that it lies over no words; seen before anybody points at it.
            let mut bar = ScrollStyle::floating();
            (bar.bar_width, bar.floating_width, bar.floating_allocated_width) = (7.0, 4.0, SCROLL_BAR);
            (bar.bar_inner_margin, bar.bar_outer_margin) = (1.0, 1.0);
            bar.dormant_handle_opacity = 0.35;
            style.spacing.scroll = bar;
        });
    }
}

/// The frame of a dialog, with room around its words.
pub fn dialog(ctx: &egui::Context) -> egui::Frame {
    egui::Frame::popup(&ctx.global_style()).inner_margin(Margin::same(14))
}

/// Contrast ratio of two colours, 1 to 21 (WCAG 2.1, relative luminance and contrast ratio).
pub fn contrast(a: Color32, b: Color32) -> f32 {
    let (a, b) = (luminance(a), luminance(b));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

fn luminance(colour: Color32) -> f32 {
    let linear = |channel: u8| {
        let share = f32::from(channel) / 255.0;
        if share <= 0.04045 { share / 12.92 } else { ((share + 0.055) / 1.055).powf(2.4) }
    };
    0.2126 * linear(colour.r()) + 0.7152 * linear(colour.g()) + 0.0722 * linear(colour.b())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// WCAG 2.1, success criteria 1.4.3 (words, 4.5 to 1) and 1.4.11 (graphics, 3 to 1).
    #[test]
    fn words_and_lines_stand_out() {
        for theme in [Theme::LIGHT, Theme::DARK] {
            let grounds = [theme.canvas, theme.panel, theme.paper, theme.ground];
            let under_words = [theme.accent_ground, theme.band, theme.design_band];
            for ground in grounds.into_iter().chain(under_words) {
                for words in [theme.ink, theme.soft, theme.accent, theme.warning, theme.error] {
                    assert!(
                        contrast(words, ground) >= 4.5,
                        "{words:?} on {ground:?}: {}",
                        contrast(words, ground)
                    );
                }
            }
            // The frame and the lines of grid and tables are ground for what is drawn on them, and not held to this.
            let graphics = [theme.hose, theme.tube, theme.still, theme.hinge, theme.outline, theme.warning];
            for ground in grounds {
                for graphic in graphics {
                    let ratio = contrast(graphic, ground);
                    assert!(ratio >= 3.0, "{graphic:?} on {ground:?}: {ratio}");
                }
            }
            for colour in theme.deviation {
                let ratio = contrast(theme.on(colour), colour);
                assert!(ratio >= 4.5, "a sign on {colour:?}: {ratio}");
            }
        }
    }

    /// The farther off, the farther from the ground, on both sides and in both themes.
    #[test]
    fn far_stands_out_more_than_near() {
        for theme in [Theme::LIGHT, Theme::DARK] {
            let away = theme.deviation.map(|colour| contrast(colour, theme.canvas));
            assert!(
                away[0] > away[1] && away[1] > away[2] && away[2] < away[3] && away[3] < away[4],
                "{away:?}"
            );
        }
    }

    /// What makes viridis even and safe in grey: lightness rises in nearly equal steps. CIE L* by CIE 15:2004.
    #[test]
    fn pressures_rise_evenly_in_lightness() {
        let lightness = |colour: Color32| {
            let y = f64::from(luminance(colour));
            if y > 216.0 / 24389.0 { 116.0 * y.cbrt() - 16.0 } else { y * 24389.0 / 27.0 }
        };
        let shades: Vec<f64> =
            (0..7).map(|index| lightness(Theme::pressure(PressureClass { index, count: 7 }))).collect();
        let steps: Vec<f64> = shades.windows(2).map(|pair| pair[1] - pair[0]).collect();
        assert!(steps.iter().all(|step| (9.0..=15.0).contains(step)), "{shades:?}");
        for theme in [Theme::LIGHT, Theme::DARK] {
            for index in 0..7 {
                let colour = Theme::pressure(PressureClass { index, count: 7 });
                let ratio = contrast(theme.on(colour), colour);
                assert!(ratio >= 4.2, "words on {colour:?}: {ratio}");
            }
            let edge = contrast(theme.hose, theme.canvas);
            assert!(edge >= 3.0, "the edge of a hose: {edge}");
        }
    }

    /// The value of WCAG's own definition: black on white is 21 to 1.
    #[test]
    fn contrast_of_black_on_white() {
        assert!((contrast(Color32::BLACK, Color32::WHITE) - 21.0).abs() < 1e-4);
    }
}
