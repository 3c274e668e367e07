//! Names of ends and places, as papers call them.

use crate::plan::{End, PortRef, Project, Routing, RowId, SectionId};

/// `pump`, `M3 outlet 4`, `F1 inlet`, `J2 left end`, `loose end`.
pub(super) fn end(project: &Project, routing: &Routing, end: &End) -> String {
    match end {
        End::Supply => "pump".to_owned(),
        End::Port(port) => format!("{} {}", tag(routing, *port), self::port(project, routing, *port)),
        End::Loose(_) => "loose end".to_owned(),
    }
}

fn tag(routing: &Routing, port: PortRef) -> &str {
    routing.part(port.part).map_or("?", |part| &part.tag)
}

/// A port without its part.
pub(super) fn port(project: &Project, routing: &Routing, port: PortRef) -> String {
    routing.port_name(port, &project.catalogue)
}

/// `row 14`.
pub(super) fn row(project: &Project, row: RowId) -> String {
    project.bar.row(row).map_or_else(|| "row ?".to_owned(), |row| format!("row {}", row.number))
}

/// A section's name.
pub(super) fn section(project: &Project, section: SectionId) -> &str {
    project.bar.section(section).map_or("?", |section| &section.name)
}

/// `1`, `1 and 2`, `1 to 5 and 7`: numbers in rising order, neighbours joined.
pub(super) fn ranges(numbers: &[u32]) -> String {
    let mut sorted = numbers.to_vec();
    sorted.sort_unstable();
    sorted.dedup();
    let mut pieces: Vec<String> = Vec::new();
    for run in sorted.chunk_by(|a, b| a + 1 == *b) {
        match run {
            [] => {}
            [one] => pieces.push(one.to_string()),
            [first, last] => pieces.extend([first.to_string(), last.to_string()]),
            [first, .., last] => pieces.push(format!("{first} to {last}")),
        }
    }
    list(&pieces)
}

/// `A`, `A and B`, `A, B and C`.
pub(super) fn list(words: &[String]) -> String {
    match words {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}

/// Tags with neighbours joined: `T1 to T14, T16 and H3`. A tag is a letter or more and a number.
pub(super) fn tags(tags: &[String]) -> String {
    let split = |tag: &str| {
        let at = tag.find(|c: char| c.is_ascii_digit())?;
        let number: u32 = tag[at..].parse().ok()?;
        // What would not read back the same (T01) stays as it is.
        (format!("{}{number}", &tag[..at]) == *tag).then(|| (tag[..at].to_owned(), number))
    };
    let mut pieces: Vec<String> = Vec::new();
    let neighbours = |a: &String, b: &String| match (split(a), split(b)) {
        (Some((letters, number)), Some((others, next))) => {
            letters == others && number.checked_add(1) == Some(next)
        }
        _ => false,
    };
    for run in tags.chunk_by(neighbours) {
        match run {
            [first, _, .., last] => pieces.push(format!("{first} to {last}")),
            few => pieces.extend_from_slice(few),
        }
    }
    list(&pieces)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn neighbours_are_joined() {
        assert_eq!(ranges(&[7, 1, 2, 3, 4, 5]), "1 to 5 and 7");
        assert_eq!(ranges(&[1, 2]), "1 and 2");
        assert_eq!(ranges(&[]), "");
        let words = |words: &[&str]| words.iter().map(|word| (*word).to_owned()).collect::<Vec<_>>();
        assert_eq!(tags(&words(&["T1", "T2", "T3", "T5", "H1"])), "T1 to T3, T5 and H1");
        assert_eq!(tags(&words(&["T01", "T02", "T03", "pump side"])), "T01, T02, T03 and pump side");
        assert_eq!(tags(&words(&["T4294967295", "T0"])), "T4294967295 and T0");
    }
}
