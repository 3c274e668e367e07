//! What a commissioning sheet says it is of, so that a filled-in one is known again when it is read: written by the sheet, and
//! read with the catches.

use crate::plan::part::{Port, outlet_words};
use crate::plan::words::counted;
use crate::plan::{Duty, Project, Routing, RowId};

/// Name of the fact that says what the sheet is of.
pub const SHEET_OF: &str = "Sheet of";

/// Name of the fact with the ground speed at which rows are caught.
pub const CATCH_AT: &str = "Catch at";

/// Name of the fact with the application rate.
pub const RATE: &str = "Application rate";

/// Name of the fact with the time every row is caught for, in seconds.
pub const CATCH_TIME: &str = "Catch time, s";

/// Name of the box for how long every row was caught, where that is not what the sheet asks.
pub const SECONDS_CAUGHT: &str = "Seconds really caught, if not as asked";

/// Beginning of the name of the box for the ground speed that was set, where that is not what the sheet asks; its unit follows.
pub const SPEED_SET: &str = "Ground speed really set, if not as asked, ";

/// What a sheet is of: bar, drawing, routing, its duty where the bar has several, and how many rows.
pub fn sheet_of(project: &Project, routing: &Routing, duty: Option<&Duty>) -> String {
    said_of(project, routing, duty, &project.document_number(routing))
}

/// A sheet is of such a bar, by what it says it is of. A tested bar keeps its one routing and duty: how many there were when the
/// sheet was printed, and thus whether it names them, nobody knows.
pub fn is_of(said: &str, project: &Project, routing: &Routing, duty: &Duty) -> bool {
    let number = project.title.number.trim();
    let of_several = if number.is_empty() { String::new() } else { format!("{number}-{}", routing.name) };
    [number, &of_several].into_iter().any(|number| {
        [Some(duty), None].into_iter().any(|duty| said_of(project, routing, duty, number) == said)
    })
}

fn said_of(project: &Project, routing: &Routing, duty: Option<&Duty>, number: &str) -> String {
    let title = &project.title;
    let mut said = vec![title.title.trim().to_owned()];
    for (name, words) in [("number", number), ("revision", &title.revision)] {
        if !words.trim().is_empty() {
            said.push(format!("{name} {}", words.trim()));
        }
    }
    said.push(format!("routing {}", routing.name));
    said.extend(duty.map(|duty| format!("duty {}", duty.name)));
    said.push(counted(project.bar.rows.len(), "row"));
    said.retain(|one| !one.is_empty());
    said.join(", ")
}

/// The outlet that a row hangs on, as the sheet names it; none for one that hangs on none.
pub fn outlet_of(routing: &Routing, row: RowId) -> Option<String> {
    let port = routing.feed_of(row)?.from.port()?;
    let Port::Outlet(number) = port.port else { return None };
    Some(outlet_words(&routing.part(port.part)?.tag, number))
}
