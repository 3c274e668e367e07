//! Which of a manifold's outlets is pointed at: they stand closer together than a pointer can be held.

use eframe::egui::{Painter, Rect, Stroke};

use super::to_screen;
use crate::geometry::{Point2, View};
use crate::plan::words::short_list;
use crate::plan::{PartId, Port, PortRef, Subject};
use crate::session::Session;
use crate::window::theme::Theme;

/// The outlet nearest to a point on a manifold; none if something else is pointed at.
pub(super) fn pointed_outlet(session: &Session, on: Option<Subject>, at: Point2) -> Option<PortRef> {
    let Some(Subject::Part(part)) = on else { return None };
    let outlets = outlets(session, part).into_iter().filter_map(|port| {
        let place = session.geometry().anchors.port(port)?.place.flat();
        Some((place.distance(at), port))
    });
    outlets.min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, port)| port)
}

/// The row outlets of a part that is for rows.
fn outlets(session: &Session, part: PartId) -> Vec<PortRef> {
    let entry = session.routing().part(part).map(|part| &part.entry);
    let item =
        entry.and_then(|entry| session.project().catalogue.item(entry)).filter(|item| item.is_for_rows());
    let ports = item.map(|item| item.ports()).unwrap_or_default().into_iter();
    ports.filter(|port| matches!(port, Port::Outlet(_))).map(|port| PortRef { part, port }).collect()
}

/// Which outlet it is, and the rows that hang on it: `M3/6: row 20`.
pub(super) fn outlet_words(session: &Session, port: PortRef) -> String {
    let (routing, bar) = (session.routing(), &session.project().bar);
    let tag = routing.part(port.part).map_or("", |part| part.tag.as_str());
    let name = session.geometry().anchors.port_words(tag, port);
    let feeds = routing.feeds.iter().filter(|feed| feed.from.port() == Some(port));
    let rows = feeds.flat_map(|feed| &feed.branches).filter_map(|branch| bar.row(branch.row));
    let rows: Vec<String> = rows.map(|row| row.number.to_string()).collect();
    match rows.as_slice() {
        [] => format!("{name}: no row"),
        [one] => format!("{name}: row {one}"),
        several => format!("{name}: rows {}", short_list(several, 4)),
    }
}

/// Marks the outlet that is pointed at in a picture.
pub(super) fn ring_outlet(
    painter: &Painter,
    rect: Rect,
    view: &View,
    session: &Session,
    outlet: Option<PortRef>,
    theme: &Theme,
) {
    if let Some(place) = outlet.and_then(|port| session.geometry().anchors.port(port)) {
        let at = to_screen(rect, view, place.place.flat());
        painter.circle_stroke(at, 3.5, Stroke::new(1.5, theme.accent));
    }
}
