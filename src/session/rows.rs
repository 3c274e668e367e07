//! Giving rows to manifolds: which edits make these rows hang on that manifold.

use crate::plan::feed::Branch;
use crate::plan::run::Line;
use crate::plan::{
    Edit, End, FeedElement, FeedId, Item, PartId, Port, PortRef, Project, Routing, RowFeed, RowId, Tube,
};

/// Why rows can't be given.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum RowsError {
    /// The part is no manifold.
    NotAManifold,
    /// More rows than outlets.
    TooMany {
        /// Rows asked for.
        rows: usize,
        /// Outlets that are free for rows.
        outlets: usize,
    },
    /// Nothing in the catalogue to make a feed of.
    NoStock(&'static str),
    /// Not a list of row numbers.
    NotRows(String),
}

impl std::fmt::Display for RowsError {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::NotAManifold => out.write_str("rows are given to a manifold; select one first"),
            Self::TooMany { rows, outlets } => {
                write!(
                    out,
                    "{rows} rows, but only {outlets} outlets free; choose a manifold with more outlets or fewer rows"
                )
            }
            Self::NoStock(what) => write!(out, "the catalogue has no {what}; add one first"),
            Self::NotRows(text) => {
                write!(out, "\"{text}\" is no list of rows; type row numbers like 27-34 or 1, 3, 5")
            }
        }
    }
}

/// The rows that hang on a manifold, from left to right.
pub fn rows_of(project: &Project, routing: &Routing, manifold: PartId) -> Vec<RowId> {
    let on = |feed: &&RowFeed| feed.from.port().is_some_and(|port| port.part == manifold);
    let mut rows: Vec<RowId> = routing
        .feeds
        .iter()
        .filter(on)
        .flat_map(|feed| feed.branches.iter().map(|branch| branch.row))
        .collect();
    let x = |id: &RowId| project.bar.row(*id).map_or(0.0, |row| row.x.si());
    rows.sort_by(|a, b| x(a).total_cmp(&x(b)));
    rows
}

/// Row numbers as people write them: `27–34, 36`.
pub fn numbers_text(numbers: &[u32]) -> String {
    let mut sorted = numbers.to_vec();
    sorted.sort_unstable();
    sorted.dedup();
    let mut parts: Vec<String> = Vec::new();
    let mut at = 0;
    while at < sorted.len() {
        let mut end = at;
        while end + 1 < sorted.len() && sorted[end + 1] == sorted[end] + 1 {
            end += 1;
        }
        parts.push(match end - at {
            0 => sorted[at].to_string(),
            1 => format!("{}, {}", sorted[at], sorted[end]),
            _ => format!("{}–{}", sorted[at], sorted[end]),
        });
        at = end + 1;
    }
    parts.join(", ")
}

/// Reads `27-34, 36` into rows of the bar.
pub fn parse_rows(project: &Project, text: &str) -> Result<Vec<RowId>, RowsError> {
    let wrong = || RowsError::NotRows(text.trim().chars().take(40).collect());
    let mut rows = Vec::new();
    for piece in text.split([',', ';']).map(str::trim).filter(|piece| !piece.is_empty()) {
        let (from, to) = match piece.split_once(['-', '–', '−']) {
            Some((from, to)) => (from.trim(), to.trim()),
            None => (piece, piece),
        };
        let (Ok(from), Ok(to)) = (from.parse::<u32>(), to.parse::<u32>()) else { return Err(wrong()) };
        let found: Vec<RowId> = project
            .bar
            .rows
            .iter()
            .filter(|row| (from..=to).contains(&row.number))
            .map(|row| row.id)
            .collect();
        if found.is_empty() {
            return Err(wrong());
        }
        rows.extend(found.into_iter().filter(|id| !rows.contains(id)).collect::<Vec<_>>());
    }
    Ok(rows)
}

/// The edits after which exactly these rows hang on the manifold, outlets in the order of the rows. Rows it loses
/// lose their feeds; rows fed elsewhere bring theirs along; rows without one get one like the others' (or of the
/// first tube, check valve and orifice of the catalogue).
pub fn set_rows(
    project: &Project,
    routing: &Routing,
    manifold: PartId,
    rows: &[RowId],
) -> Result<Vec<Edit>, RowsError> {
    let part = routing.part(manifold).ok_or(RowsError::NotAManifold)?;
    let Some(Item::Manifold { outlets, .. }) = project.catalogue.item(&part.entry) else {
        return Err(RowsError::NotAManifold);
    };
    let plugged = |number: &u16| {
        let port = PortRef { part: manifold, port: Port::Outlet(*number) };
        let runs =
            routing.runs.iter().any(|run| run.from.port() == Some(port) || run.to.port() == Some(port));
        runs || routing.parts.iter().any(|part| part.mount == Some(port))
    };
    let free: Vec<u16> = (1..=*outlets).filter(|number| !plugged(number)).collect();
    let mut wanted: Vec<RowId> = rows.to_vec();
    let x = |id: &RowId| project.bar.row(*id).map_or(0.0, |row| row.x.si());
    wanted.sort_by(|a, b| x(a).total_cmp(&x(b)));
    wanted.dedup();
    // Rows that share a feed come along together and take one outlet.
    let mut feeds: Vec<RowFeed> = Vec::new();
    let mut fresh = FeedId::next(routing.feeds.iter().map(|feed| feed.id)).0;
    let mut numbers = 1u32..;
    for row in &wanted {
        if feeds.iter().any(|feed| feed.feeds(*row)) {
            continue;
        }
        if let Some(feed) = routing.feed_of(*row) {
            feeds.push(feed.clone());
            continue;
        }
        let taken = |tag: &String| {
            routing.tags().any(|used| used == tag) || feeds.iter().any(|feed| feed.tag == *tag)
        };
        let tag =
            numbers.by_ref().map(|number| format!("T{number}")).find(|tag| !taken(tag)).unwrap_or_default();
        let elements = match routing
            .feeds
            .iter()
            .find(|feed| feed.trunk.is_empty())
            .and_then(|feed| feed.branches.first())
        {
            Some(like) => like.elements.iter().map(as_new).collect(),
            None => default_elements(project)?,
        };
        feeds.push(RowFeed {
            id: FeedId(fresh),
            tag,
            from: End::Supply,
            trunk: Vec::new(),
            split: None,
            branches: vec![Branch { row: *row, elements }],
        });
        fresh += 1;
    }
    if feeds.len() > free.len() {
        return Err(RowsError::TooMany { rows: feeds.len(), outlets: free.len() });
    }
    let mut edits = Vec::new();
    for feed in routing.feeds.iter().filter(|feed| feed.from.port().is_some_and(|port| port.part == manifold))
    {
        if !feeds.iter().any(|kept| kept.id == feed.id) {
            edits.push(Edit::RemoveFeed(routing.id, feed.id));
        }
    }
    for (mut feed, number) in feeds.into_iter().zip(free) {
        let from = End::Port(PortRef { part: manifold, port: Port::Outlet(number) });
        if feed.from != from {
            feed.from = from;
            edits.push(Edit::PutFeed(routing.id, feed));
        }
    }
    Ok(edits)
}

/// The same element for another row: its own way and measured length are not copied.
fn as_new(element: &FeedElement) -> FeedElement {
    match element {
        FeedElement::Tube(tube) => FeedElement::Tube(Tube {
            line: Line { slack: tube.line.slack, ..Line::straight(tube.line.stock.clone()) },
            end: None,
        }),
        other => other.clone(),
    }
}

fn default_elements(project: &Project) -> Result<Vec<FeedElement>, RowsError> {
    let first = |fits: fn(&Item) -> bool, what| {
        let entry = project.catalogue.entries.iter().find(|entry| fits(&entry.item));
        entry.map(|entry| entry.key.clone()).ok_or(RowsError::NoStock(what))
    };
    let tube = first(|item| matches!(item, Item::Tube(_)), "tube")?;
    let valve = first(|item| matches!(item, Item::CheckValve { .. }), "check valve")?;
    let orifice = first(|item| matches!(item, Item::MeteringOrifice { .. }), "metering orifice")?;
    Ok(vec![
        FeedElement::Tube(Tube { line: Line::straight(tube), end: None }),
        FeedElement::CheckValve(valve),
        FeedElement::Orifice(orifice),
    ])
}
