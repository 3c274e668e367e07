//! Icons: drawn for this program as SVG paths on a grid of 24 (stroke 1.6, round caps), painted in the colour of the
//! words beside them.
//!
//! The paths are flattened once, at the first use; there is no image to decode and nothing to load at start.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use eframe::egui::{
    self, Atom, Button, Color32, IdSalt, Painter, Pos2, Rect, Response, Shape, Stroke, Ui, vec2,
};
use kurbo::{BezPath, PathEl};

use crate::session::commands::Command;

/// Names and sources of all icons.
pub const SOURCES: &[(&str, &str)] = &[
    ("added-lines", include_str!("../../icons/added-lines.svg")),
    ("balance-outlets", include_str!("../../icons/balance-outlets.svg")),
    ("blanking-plug", include_str!("../../icons/blanking-plug.svg")),
    ("branch-over", include_str!("../../icons/branch-over.svg")),
    ("cancel", include_str!("../../icons/cancel.svg")),
    ("catalogue", include_str!("../../icons/catalogue.svg")),
    ("colours", include_str!("../../icons/colours.svg")),
    ("command-list", include_str!("../../icons/command-list.svg")),
    ("compare", include_str!("../../icons/compare.svg")),
    ("copy", include_str!("../../icons/copy.svg")),
    ("copy-routing", include_str!("../../icons/copy-routing.svg")),
    ("cut", include_str!("../../icons/cut.svg")),
    ("delete", include_str!("../../icons/delete.svg")),
    ("duplicate", include_str!("../../icons/duplicate.svg")),
    ("edit-bar", include_str!("../../icons/edit-bar.svg")),
    ("export-list", include_str!("../../icons/export-list.svg")),
    ("export-sheets", include_str!("../../icons/export-sheets.svg")),
    ("finish", include_str!("../../icons/finish.svg")),
    ("fit", include_str!("../../icons/fit.svg")),
    ("fit-section", include_str!("../../icons/fit-section.svg")),
    ("fit-selection", include_str!("../../icons/fit-selection.svg")),
    ("flow-meter", include_str!("../../icons/flow-meter.svg")),
    ("folded-bar", include_str!("../../icons/folded-bar.svg")),
    ("follow-frame", include_str!("../../icons/follow-frame.svg")),
    ("gauge", include_str!("../../icons/gauge.svg")),
    ("give-rows", include_str!("../../icons/give-rows.svg")),
    ("help", include_str!("../../icons/help.svg")),
    ("hinge-clamps", include_str!("../../icons/hinge-clamps.svg")),
    ("hose", include_str!("../../icons/hose.svg")),
    ("import-rows", include_str!("../../icons/import-rows.svg")),
    ("inlet-filter", include_str!("../../icons/inlet-filter.svg")),
    ("lay-straight", include_str!("../../icons/lay-straight.svg")),
    ("leave-blank", include_str!("../../icons/leave-blank.svg")),
    ("manifold", include_str!("../../icons/manifold.svg")),
    ("manifold-per-section", include_str!("../../icons/manifold-per-section.svg")),
    ("measure", include_str!("../../icons/measure.svg")),
    ("mirror-left", include_str!("../../icons/mirror-left.svg")),
    ("mirror-right", include_str!("../../icons/mirror-right.svg")),
    ("nearest-manifold", include_str!("../../icons/nearest-manifold.svg")),
    ("new", include_str!("../../icons/new.svg")),
    ("new-routing", include_str!("../../icons/new-routing.svg")),
    ("open", include_str!("../../icons/open.svg")),
    ("outlets-in-order", include_str!("../../icons/outlets-in-order.svg")),
    ("paste", include_str!("../../icons/paste.svg")),
    ("picture", include_str!("../../icons/picture.svg")),
    ("plug-open", include_str!("../../icons/plug-open.svg")),
    ("quit", include_str!("../../icons/quit.svg")),
    ("redo", include_str!("../../icons/redo.svg")),
    ("remove-routing", include_str!("../../icons/remove-routing.svg")),
    ("save", include_str!("../../icons/save.svg")),
    ("save-as", include_str!("../../icons/save-as.svg")),
    ("section-valve", include_str!("../../icons/section-valve.svg")),
    ("select", include_str!("../../icons/select.svg")),
    ("select-all", include_str!("../../icons/select-all.svg")),
    ("select-downstream", include_str!("../../icons/select-downstream.svg")),
    ("select-same", include_str!("../../icons/select-same.svg")),
    ("select-section", include_str!("../../icons/select-section.svg")),
    ("settings", include_str!("../../icons/settings.svg")),
    ("sheets", include_str!("../../icons/sheets.svg")),
    ("snap", include_str!("../../icons/snap.svg")),
    ("speed-range", include_str!("../../icons/speed-range.svg")),
    ("split-run", include_str!("../../icons/split-run.svg")),
    ("studies", include_str!("../../icons/studies.svg")),
    ("swap-rows", include_str!("../../icons/swap-rows.svg")),
    ("tables", include_str!("../../icons/tables.svg")),
    ("tee", include_str!("../../icons/tee.svg")),
    ("theme", include_str!("../../icons/theme.svg")),
    ("turn", include_str!("../../icons/turn.svg")),
    ("turn-back", include_str!("../../icons/turn-back.svg")),
    ("undo", include_str!("../../icons/undo.svg")),
    ("units", include_str!("../../icons/units.svg")),
    ("zoom-in", include_str!("../../icons/zoom-in.svg")),
    ("zoom-out", include_str!("../../icons/zoom-out.svg")),
];

/// Side of the grid that icons are drawn on.
const GRID: f32 = 24.0;
/// Width of their lines on that grid.
const STROKE: f32 = 1.6;
/// Side of an icon beside words, points.
const SIDE: f32 = 16.0;

/// A line of an icon, and whether it closes.
struct IconLine {
    points: Vec<[f32; 2]>,
    closed: bool,
}

static LINES: LazyLock<BTreeMap<&str, Vec<IconLine>>> =
    LazyLock::new(|| SOURCES.iter().map(|(name, source)| (*name, lines(source))).collect());

/// Every path of a source as lines; what can't be read is left away (a test reads them all).
fn lines(source: &str) -> Vec<IconLine> {
    let mut all = Vec::new();
    for data in source.split(" d=\"").skip(1).filter_map(|rest| rest.split('"').next()) {
        let Ok(path) = BezPath::from_svg(data) else { continue };
        kurbo::flatten(path, 0.04, |element| match element {
            PathEl::MoveTo(at) => {
                all.push(IconLine { points: vec![[at.x as f32, at.y as f32]], closed: false });
            }
            PathEl::LineTo(at) => {
                if let Some(line) = all.last_mut() {
                    line.points.push([at.x as f32, at.y as f32]);
                }
            }
            PathEl::ClosePath => {
                if let Some(line) = all.last_mut() {
                    line.closed = true;
                }
            }
            // Flattening leaves no curves.
            PathEl::QuadTo(..) | PathEl::CurveTo(..) => {}
        });
    }
    all
}

/// The icon of a command, if it has one.
pub const fn icon_of(command: Command) -> Option<&'static str> {
    Some(match command {
        Command::New => "new",
        Command::Open => "open",
        Command::Save => "save",
        Command::SaveAs => "save-as",
        Command::Quit => "quit",
        Command::EditBar => "edit-bar",
        Command::ImportRows | Command::ReadCutLengths => "import-rows",
        Command::Settings => "settings",
        Command::Undo => "undo",
        Command::Redo => "redo",
        Command::Delete => "delete",
        Command::Turn => "turn",
        Command::Cancel => "cancel",
        Command::FitToWindow => "fit",
        Command::ZoomIn => "zoom-in",
        Command::ZoomOut => "zoom-out",
        Command::Tables => "tables",
        Command::SpeedPlot => "speed-range",
        Command::Studies => "studies",
        Command::FoldedBar => "folded-bar",
        Command::SwitchUnits => "units",
        Command::SwitchTheme => "theme",
        Command::Select => "select",
        Command::Place(kind) => kind.facts().placing.icon,
        Command::JoinHose => "hose",
        Command::GiveRows => "give-rows",
        Command::CommandList => "command-list",
        Command::Help => "help",
        Command::Cut => "cut",
        Command::Copy => "copy",
        Command::Paste => "paste",
        Command::Duplicate => "duplicate",
        Command::TurnBack => "turn-back",
        Command::BranchOver => "branch-over",
        Command::MirrorToRight => "mirror-right",
        Command::MirrorToLeft => "mirror-left",
        Command::ManifoldPerSection => "manifold-per-section",
        Command::FollowFrame => "follow-frame",
        Command::ComputeCrossings => "hinge-clamps",
        Command::LayStraight => "lay-straight",
        Command::SplitRun => "split-run",
        Command::NearestManifold => "nearest-manifold",
        Command::BalanceOutlets => "balance-outlets",
        Command::SwapOutlets => "swap-rows",
        Command::RenumberOutlets => "outlets-in-order",
        Command::LeaveBlank => "leave-blank",
        Command::Measure => "measure",
        Command::SwitchSnapping => "snap",
        Command::SelectAll => "select-all",
        Command::NewRouting => "new-routing",
        Command::FitSelection => "fit-selection",
        Command::FitNextSection => "fit-section",
        Command::SwitchColours => "colours",
        Command::Confirm => "finish",
        Command::SelectSameKind => "select-same",
        Command::SelectSection => "select-section",
        Command::SelectDownstream => "select-downstream",
        Command::Compare => "compare",
        Command::PlugOpen => "plug-open",
        Command::CopyRouting => "copy-routing",
        Command::RemoveRouting => "remove-routing",
        Command::Catalogue => "catalogue",
        Command::AddedLines | Command::TakeAddedLines => "added-lines",
        Command::Sheets | Command::CustomerSheet | Command::CatchSheet => "sheets",
        Command::ExportSheets => "export-sheets",
        Command::ExportList => "export-list",
        Command::Picture => "picture",
        // Arrows, all of one kind and places in an order are said better in words.
        _ => return None,
    })
}

/// Paints an icon into a square.
pub fn paint(painter: &Painter, rect: Rect, name: &str, colour: Color32) {
    let Some(lines) = LINES.get(name) else { return };
    let scale = rect.width().min(rect.height()) / GRID;
    let width = (STROKE * scale).max(1.1);
    for line in lines {
        let points: Vec<Pos2> = line.points.iter().map(|[x, y]| rect.min + vec2(*x, *y) * scale).collect();
        let ends = [points.first().copied(), points.last().copied()];
        if line.closed {
            painter.add(Shape::closed_line(points, Stroke::new(width, colour)));
            continue;
        }
        painter.add(Shape::line(points, Stroke::new(width, colour)));
        for end in ends.into_iter().flatten() {
            painter.circle_filled(end, width / 2.0, colour);
        }
    }
}

/// A button with an icon before its words; room is kept where there is no icon, so that words stand in one column.
pub fn button<'a>(
    ui: &mut Ui,
    enabled: bool,
    icon: Option<&str>,
    words: &'a str,
    with: impl FnOnce(Button<'a>) -> Button<'a>,
) -> Response {
    let place = IdSalt::new("icon");
    let button = with(Button::new((Atom::custom(place, vec2(SIDE, SIDE)), words, Atom::grow())));
    ui.add_enabled_ui(enabled, |ui| {
        let shown = button.atom_ui(ui);
        if let (Some(icon), Some(rect)) = (icon, shown.rect(place)) {
            let colour = ui.style().interact(&shown.response).fg_stroke.color;
            paint(ui.painter(), rect, icon, colour);
        }
        let words = words.to_owned();
        shown
            .response
            .widget_info(move || egui::WidgetInfo::labeled(egui::accesskit::Role::Button, enabled, &words));
        shown.response
    })
    .inner
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::session::commands::TABLE;

    #[test]
    fn every_file_is_used_and_every_icon_of_a_command_exists() {
        let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/icons");
        let mut files: Vec<String> = std::fs::read_dir(folder)
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .filter_map(|name| name.strip_suffix(".svg").map(str::to_owned))
            .collect();
        files.sort();
        let known: Vec<&str> = SOURCES.iter().map(|(name, _)| *name).collect();
        assert_eq!(files, known);
        let used: Vec<&str> = TABLE.iter().filter_map(|entry| icon_of(entry.command)).collect();
        for name in &known {
            assert!(used.contains(name), "{name} is used by no command");
        }
        for name in used {
            assert!(known.contains(&name), "{name} is not drawn");
        }
    }

    #[test]
    fn one_style_and_every_path_is_read_and_lies_on_the_grid() {
        for (name, source) in SOURCES {
            for holds in
                ["viewBox=\"0 0 24 24\"", "stroke-width=\"1.6\"", "stroke-linecap=\"round\"", "fill=\"none\""]
            {
                assert!(source.contains(holds), "{name} lacks {holds}");
            }
            let paths = source.matches("<path d=").count();
            assert_eq!(source.matches('<').count(), paths + 2, "{name} holds more than paths");
            let lines = lines(source);
            assert_eq!(lines.len(), paths, "{name}");
            for line in &lines {
                assert!(line.points.len() > 1, "{name}");
                for [x, y] in &line.points {
                    assert!((1.5..=22.5).contains(x) && (1.5..=22.5).contains(y), "{name}: {x}, {y}");
                }
            }
        }
    }
}
