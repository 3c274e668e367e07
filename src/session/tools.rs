//! Tools: a press, moves and a release, in metres on the bar, become edits in one step.

use super::Session;
use super::rows::{self, RowsError};
use crate::geometry::{Point2, Point3};
use crate::plan::part;
use crate::plan::run::Line;
use crate::plan::{
    Edit, End, Entry, EntryKey, HingeAllowance, Item, Part, PartId, Port, PortRef, Routing, RowId, Run,
    RunId, Subject,
};
use crate::quantities::{Angle, Length};

/// The tool in hand.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum Tool {
    /// Select; drag parts.
    #[default]
    Select,
    /// Place parts of this entry.
    Place(EntryKey),
    /// Join ports with hoses of this stock.
    Join {
        /// The hose.
        stock: EntryKey,
    },
    /// Give rows to a manifold.
    GiveRows {
        /// The manifold; none until one is clicked.
        manifold: Option<PartId>,
    },
}

/// What is going on between a press and a release.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum Gesture {
    /// Nothing.
    #[default]
    None,
    /// A part is dragged; the offset from the pointer to its middle, and its height.
    MovePart {
        /// The part.
        part: PartId,
        /// From the pointer to the part's middle.
        grip: Point2,
        /// Where the pointer went down.
        start: Point2,
        /// It has left its place.
        moving: bool,
    },
    /// A hose has its first end.
    Joining {
        /// That end.
        from: End,
    },
    /// Rows are collected for a manifold.
    Rows {
        /// The manifold.
        manifold: PartId,
        /// The rows so far.
        rows: Vec<RowId>,
    },
}

/// Extra length entered for each hinge a new hose crosses, until it is computed from the fold (common practice, no
/// source).
pub const HINGE_ALLOWANCE: Length = Length::metres(0.25);

/// Height given to a part where the section has no frame, metres.
const DEFAULT_HEIGHT: f64 = 1.0;

impl Session {
    /// What is going on, for drawing it.
    pub const fn gesture(&self) -> &Gesture {
        &self.gesture
    }

    /// The pointer went down at a point of the bar, over `hit`; `reach` is how near a port counts as hit, metres.
    pub fn press(&mut self, at: Point2, hit: Option<Subject>, reach: f64, add: bool) {
        self.message = None;
        match self.tool.clone() {
            Tool::Select => self.press_select(at, hit, add),
            Tool::Place(entry) => self.place(&entry, at, reach),
            Tool::Join { stock } => self.press_join(&stock, at, reach),
            Tool::GiveRows { manifold } => self.press_rows(manifold, hit),
        }
    }

    fn press_select(&mut self, at: Point2, hit: Option<Subject>, add: bool) {
        let Some(subject) = hit else {
            if !add {
                self.selection.clear();
            }
            return;
        };
        if add {
            if !self.selection.remove(&subject) {
                self.selection.insert(subject);
            }
            return;
        }
        self.selection.clear();
        self.selection.insert(subject);
        if let Subject::Part(id) = subject
            && let Some(part) = self.routing().part(id)
        {
            let middle = self.routing().placement(part, &self.project().catalogue).0;
            let name = format!("Move {}", part.tag);
            self.gesture = Gesture::MovePart {
                part: id,
                grip: Point2::new(middle.x - at.x, middle.y - at.y),
                start: at,
                moving: false,
            };
            self.begin(&name);
        }
    }

    /// The pointer moved, button down. `steady` is how far it must go before a part leaves its place, metres.
    pub fn drag(&mut self, at: Point2, hit: Option<Subject>, steady: f64) {
        match self.gesture.clone() {
            Gesture::MovePart { part, grip, start, moving } => {
                if !moving && at.distance(start) < steady {
                    return;
                }
                self.gesture = Gesture::MovePart { part, grip, start, moving: true };
                let routing = self.routing();
                let Some(height) = routing.part(part).map(|part| part.position.z) else { return };
                let to = Point3::new(
                    round_to_centimetre(at.x + grip.x),
                    round_to_centimetre(at.y + grip.y),
                    height,
                );
                let edit = Edit::MovePart(routing.id, part, to);
                if let Err(error) = self.change(edit) {
                    self.message = Some(error.to_string());
                }
            }
            Gesture::Rows { manifold, mut rows } => {
                if let Some(Subject::Row(row)) = hit
                    && !rows.contains(&row)
                {
                    rows.push(row);
                    self.gesture = Gesture::Rows { manifold, rows };
                }
            }
            Gesture::None | Gesture::Joining { .. } => {}
        }
    }

    /// The pointer went up.
    pub fn release(&mut self) {
        match std::mem::take(&mut self.gesture) {
            Gesture::MovePart { .. } => self.commit(),
            Gesture::Rows { manifold, rows } => {
                let mut all = rows::rows_of(self.project(), self.routing(), manifold);
                all.extend(rows.into_iter().filter(|row| !all.contains(row)).collect::<Vec<_>>());
                // A refusal is in the message.
                let _ = self.give_rows(manifold, &all);
            }
            // A hose waits for its second click.
            joining @ Gesture::Joining { .. } => self.gesture = joining,
            Gesture::None => {}
        }
    }

    /// Ends the gesture as if it had not been; true if there was one.
    pub fn cancel_gesture(&mut self) -> bool {
        let was = !matches!(std::mem::take(&mut self.gesture), Gesture::None) || self.is_in_step();
        self.revert();
        was
    }

    /// Esc: the gesture, then the tool, then the selection.
    pub fn cancel(&mut self) {
        self.message = None;
        if self.cancel_gesture() {
            return;
        }
        if self.tool == Tool::Select {
            self.selection.clear();
        } else {
            self.tool = Tool::Select;
        }
    }

    /// Takes a tool in hand.
    pub fn take(&mut self, tool: Tool) {
        self.cancel_gesture();
        self.message = None;
        self.tool = tool;
    }

    /// The first entry of the catalogue that fits.
    pub fn first_entry(&self, fits: impl Fn(&Item) -> bool) -> Option<&Entry> {
        self.project().catalogue.entries.iter().find(|entry| fits(&entry.item))
    }

    /// Makes exactly these rows hang on a manifold, in one step.
    pub fn give_rows(&mut self, manifold: PartId, rows: &[RowId]) -> Result<(), String> {
        let tag = self.tag_of(Subject::Part(manifold));
        let edits: Result<Vec<Edit>, RowsError> =
            rows::set_rows(self.project(), self.routing(), manifold, rows);
        match edits {
            Ok(edits) => self.edit(&format!("Give rows to {tag}"), edits).map_err(|error| error.to_string()),
            Err(error) => {
                self.message = Some(error.to_string());
                Err(error.to_string())
            }
        }
    }

    fn press_rows(&mut self, manifold: Option<PartId>, hit: Option<Subject>) {
        let is_manifold = |id: &PartId| {
            let entry = self.routing().part(*id).map(|part| &part.entry);
            matches!(
                entry.and_then(|entry| self.project().catalogue.item(entry)),
                Some(Item::Manifold { .. })
            )
        };
        match (hit, manifold) {
            (Some(Subject::Part(id)), _) if is_manifold(&id) => {
                self.tool = Tool::GiveRows { manifold: Some(id) };
                self.selection = [Subject::Part(id)].into();
            }
            (Some(Subject::Row(row)), Some(manifold)) => {
                self.gesture = Gesture::Rows { manifold, rows: vec![row] };
            }
            (Some(Subject::Row(_)), None) => {
                self.message = Some("Click the manifold first, then its rows".to_owned());
            }
            _ => {}
        }
    }

    /// Places a part: a gauge or plug onto the nearest free port within reach, anything else on the bar.
    pub fn place(&mut self, entry: &EntryKey, at: Point2, reach: f64) {
        let Some(item) = self.project().catalogue.item(entry).copied() else {
            self.message = Some(format!("{entry} is not in the catalogue; choose another part"));
            return;
        };
        let Some(letter) = item.tag_letter() else { return };
        let routing = self.routing();
        let mount = match item {
            Item::Gauge { .. } | Item::BlankingPlug { .. } => self.nearest_port(at, reach, |port| {
                let on_manifold_gauge = port.port == Port::Gauge;
                matches!(item, Item::Gauge { .. }) || !on_manifold_gauge
            }),
            _ => None,
        };
        if mount.is_none() && matches!(item, Item::BlankingPlug { .. }) {
            self.message = Some("A plug closes a free port; click nearer to one".to_owned());
            return;
        }
        let section = self.project().bar.section_at(at.x);
        let frame = section.and_then(|section| section.members.first()).map(|member| member.from.z);
        let part = Part {
            id: PartId::next(routing.parts.iter().map(|part| part.id)),
            tag: routing.free_tag(letter),
            entry: entry.clone(),
            section: section.map_or(crate::plan::SectionId(0), |section| section.id),
            position: Point3::new(
                round_to_centimetre(at.x),
                round_to_centimetre(at.y),
                frame.unwrap_or(DEFAULT_HEIGHT),
            ),
            turn: Angle::ZERO,
            mount,
            shut: false,
        };
        let (id, tag, routing) = (part.id, part.tag.clone(), routing.id);
        if self.edit(&format!("Place {tag}"), [Edit::PutPart(routing, part)]).is_ok() {
            self.selection = [Subject::Part(id)].into();
        }
    }

    fn press_join(&mut self, stock: &EntryKey, at: Point2, reach: f64) {
        let Some(end) = self.nearest_end(at, reach) else {
            self.message = Some("A hose goes from port to port; click nearer to a free one".to_owned());
            return;
        };
        match std::mem::take(&mut self.gesture) {
            Gesture::Joining { from } if from != end => {
                // A refusal is in the message.
                let _ = self.join(stock, from, end);
            }
            _ => self.gesture = Gesture::Joining { from: end },
        }
    }

    /// Joins two ends with a hose, with an allowance for each hinge between their sections.
    pub fn join(&mut self, stock: &EntryKey, from: End, to: End) -> Result<(), String> {
        let routing = self.routing();
        let section =
            |end: &End| end.port().and_then(|port| routing.part(port.part)).map(|part| part.section);
        let hinges = match (section(&from), section(&to)) {
            (Some(a), Some(b)) => self.project().bar.hinges_between(a, b),
            _ => Vec::new(),
        };
        let allowances = hinges.into_iter().map(|section| HingeAllowance { section, extra: HINGE_ALLOWANCE });
        let run = Run {
            id: RunId::next(routing.runs.iter().map(|run| run.id)),
            tag: routing.free_tag('H'),
            from,
            to,
            line: Line { hinge_allowances: allowances.collect(), ..Line::straight(stock.clone()) },
            fittings: Vec::new(),
        };
        let (id, tag, routing) = (run.id, run.tag.clone(), routing.id);
        self.edit(&format!("Join with {tag}"), [Edit::PutRun(routing, run)])
            .map_err(|error| error.to_string())?;
        self.selection = [Subject::Run(id)].into();
        Ok(())
    }

    /// The nearest end a hose may take: a free port, or the supply.
    pub fn nearest_end(&self, at: Point2, reach: f64) -> Option<End> {
        let pump = self.project().supply.pump.flat().distance(at);
        let port = self.nearest_port(at, reach, |_| true);
        let port_distance = port
            .and_then(|port| self.routing().port_position(port, &self.project().catalogue))
            .map(|place| place.flat().distance(at));
        match port_distance {
            Some(distance) if distance <= pump => port.map(End::Port),
            _ if pump <= reach => Some(End::Supply),
            _ => port.map(End::Port),
        }
    }

    /// The nearest port that nothing sits on.
    pub fn nearest_port(&self, at: Point2, reach: f64, fits: impl Fn(&PortRef) -> bool) -> Option<PortRef> {
        let routing = self.routing();
        let taken = crate::hydraulics::connectivity::connections(routing);
        let mut nearest: Option<(f64, PortRef)> = None;
        for part in &routing.parts {
            let Some(item) = self.project().catalogue.item(&part.entry) else { continue };
            let (middle, turn) = routing.placement(part, &self.project().catalogue);
            for port in item.ports() {
                let port_ref = PortRef { part: part.id, port };
                let place = part::place_offset(middle, turn, part::port_offset(item, port));
                let distance = place.flat().distance(at);
                let nearer = nearest.is_none_or(|(best, _)| distance < best);
                if distance <= reach && nearer && fits(&port_ref) && !taken.contains_key(&port_ref) {
                    nearest = Some((distance, port_ref));
                }
            }
        }
        nearest.map(|(_, port)| port)
    }

    /// Turns the selected parts by a quarter, counter-clockwise.
    pub fn turn_selection(&mut self) {
        let routing = self.routing();
        let selected = self.selection.iter().filter_map(|subject| match subject {
            Subject::Part(id) => routing.part(*id),
            _ => None,
        });
        let edits: Vec<Edit> = selected
            .map(|part| {
                let turn =
                    Angle::from_si((part.turn.si() + std::f64::consts::FRAC_PI_2) % std::f64::consts::TAU);
                Edit::PutPart(routing.id, Part { turn, ..part.clone() })
            })
            .collect();
        if !edits.is_empty() {
            // A refusal is in the message.
            let _ = self.edit("Turn", edits);
        }
    }
}

/// A free place on the bar is meant to the centimetre.
fn round_to_centimetre(metres: f64) -> f64 {
    (metres * 100.0).round() / 100.0
}

/// Where an end is drawn while it is joined.
pub fn end_place(session: &Session, routing: &Routing, end: &End) -> Option<Point2> {
    routing.end_position(end, &session.project().catalogue, &session.project().supply).map(Point3::flat)
}
