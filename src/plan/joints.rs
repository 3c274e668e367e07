//! Which ends fit together, read from the words of the catalogue's connections: threads, push-in ends and stems.
//!
//! The words are free text, so what can't be read is said to be unknown, never guessed: a joint then is one to ask
//! about. Pieces are parted by commas and semicolons. A piece that begins with a port's name (`gauge port G 1/4 internal`)
//! holds for that port alone; one with the word `in` or `out` (`8 mm stem out`) for that end alone.

use std::collections::HashMap;
use std::rc::Rc;

use super::kinds::PortName;
use super::{
    Catalogue, End, EntryKey, FeedElement, FeedId, Fitting, FittingForm, FittingItem, FittingKey, Item,
    LaidRouting, PortRef, Project, RowFeed, Run, RunId, StockItem, StockKey,
};

/// A pipe thread.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Thread {
    /// `G 1 1/4`, `3/4 NPT`.
    pub name: String,
    /// External; internal if false; none where the words don't say.
    pub external: Option<bool>,
}

impl Thread {
    /// Parallel (ISO 228-1), which seals on a washer and not in the thread.
    pub fn is_parallel(&self) -> bool {
        self.name.starts_with("G ")
    }

    /// What screws onto it.
    fn counterpart(&self) -> Option<String> {
        let external = self.external?;
        Some(format!("{} {}", self.name, if external { "internal" } else { "external" }))
    }
}

/// One way an end is made; sizes in millimetres.
#[derive(Debug, Clone, PartialEq)]
pub enum EndForm {
    /// Takes a stem or tube of an outside diameter.
    PushIn(f64),
    /// A stem, or the plain end of a tube, of an outside diameter.
    Stem(f64),
    /// Goes into a hose of a bore.
    Barb(f64),
    /// The inside of a hose or tube, of a bore.
    Bore(f64),
    /// A thread.
    Thread(Thread),
}

/// How two ends come together.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum EndFit {
    /// As they are.
    Fits,
    /// With a piece between them, in words.
    With(String),
    /// The words don't tell how: ask.
    Ask,
}

/// An end of something that the liquid passes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum FlowEnd {
    /// Where it comes in.
    In,
    /// Where it leaves.
    Out,
}

/// A size in words: `3/4`, `1.5`, `8`.
fn number(token: &str) -> Option<f64> {
    let whole = |text: &str| text.parse::<f64>().ok().filter(|one| one.is_finite() && *one > 0.0);
    match token.split_once('/') {
        Some((above, below)) => Some(whole(above)? / whole(below)?),
        None => whole(token),
    }
}

/// The first size with a unit of length: `8 mm`, `1/4 in`.
fn size(tokens: &[&str]) -> Option<f64> {
    tokens.windows(2).find_map(|pair| {
        let unit = match pair[1] {
            "mm" => 1.0,
            "in" | "inch" => 25.4,
            _ => return None,
        };
        Some(number(pair[0])? * unit)
    })
}

/// The first thread of some words.
pub fn thread(words: &str) -> Option<Thread> {
    let tokens: Vec<&str> = words.split_whitespace().map(|one| one.trim_end_matches([',', ';'])).collect();
    let is_size =
        |token: &&&str| token.starts_with(|one: char| one.is_ascii_digit()) && number(token).is_some();
    let name = tokens.iter().enumerate().find_map(|(at, token)| {
        if matches!(*token, "G" | "R" | "Rp" | "Rc") {
            let sizes: Vec<&str> = tokens[at + 1..].iter().take_while(is_size).copied().collect();
            return (!sizes.is_empty()).then(|| format!("{token} {}", sizes.join(" ")));
        }
        if token.starts_with("NPT") || token.starts_with("NPS") {
            let before = tokens[..at].iter().rev().take_while(is_size).count();
            return (before > 0).then(|| format!("{} {token}", tokens[at - before..at].join(" ")));
        }
        None
    })?;
    let has = |words: [&str; 2]| tokens.iter().any(|token| words.contains(token));
    let external = match (has(["external", "male"]), has(["internal", "female"])) {
        (true, false) => Some(true),
        (false, true) => Some(false),
        _ => None,
    };
    Some(Thread { name, external })
}

/// How an end is made, by one piece of the words.
fn form(piece: &str) -> Option<EndForm> {
    let tokens: Vec<&str> = piece.split_whitespace().collect();
    let first = tokens.iter().find_map(|token| match *token {
        "push-in" => size(&tokens).map(EndForm::PushIn),
        "stem" | "outside" => size(&tokens).map(EndForm::Stem),
        "barb" => size(&tokens).map(EndForm::Barb),
        _ => None,
    });
    first.or_else(|| thread(piece).map(EndForm::Thread))
}

/// The end that a piece of the words speaks of; none where it speaks of all.
fn side(piece: &str) -> Option<FlowEnd> {
    let tokens: Vec<&str> = piece.split_whitespace().collect();
    tokens.iter().enumerate().find_map(|(at, token)| match *token {
        // After a number it is a unit.
        "in" if at == 0 || number(tokens[at - 1]).is_none() => Some(FlowEnd::In),
        "out" => Some(FlowEnd::Out),
        _ => None,
    })
}

/// How an end is made; nothing where the words don't say.
pub fn forms(words: &str, wanted: Option<FlowEnd>) -> Vec<EndForm> {
    let pieces = || words.split([',', ';', ':']);
    let own: Vec<EndForm> =
        pieces().filter(|piece| wanted.is_some() && side(piece) == wanted).filter_map(form).collect();
    if !own.is_empty() {
        return own;
    }
    pieces().filter(|piece| side(piece).is_none()).filter_map(form).collect()
}

/// Names that a piece of a connection may begin with, to speak of one port.
const PORTS: [&str; 6] = ["inlet", "outlet", "far end", "other end", "gauge port", "branch"];

/// The words for one port of a part: those that name it, or all where no port is named. `other end` is the end of a
/// manifold that has no port.
pub fn words_for<'a>(connection: &'a str, name: &str) -> Option<&'a str> {
    let pieces = || connection.split(';').map(str::trim).filter(|piece| !piece.is_empty());
    let named = |piece: &str| PORTS.into_iter().find(|port| piece.starts_with(port));
    if pieces().all(|piece| named(piece).is_none()) {
        return Some(connection.trim()).filter(|words| !words.is_empty() && name != "other end");
    }
    let own = pieces().find(|piece| named(piece) == Some(name))?;
    // `outlets 8 mm push-in` is what each outlet has.
    Some(own[name.len()..].strip_prefix('s').unwrap_or(&own[name.len()..]).trim())
}

/// How the catalogue says a port is made.
pub fn port_words<'a>(project: &'a Project, routing: LaidRouting, at: PortRef) -> Option<&'a str> {
    let entry = project.catalogue.entry(&routing.part(at.part)?.entry)?;
    let port = routing.geometry.anchors.placed_port(at)?;
    words_for(&entry.connection, port.name.in_catalogue())
}

/// Sizes that are made to be the same.
fn same(a: f64, b: f64) -> bool {
    (a - b).abs() < 0.06
}

fn fit(a: &EndForm, b: &EndForm) -> bool {
    match (a, b) {
        (EndForm::PushIn(a), EndForm::Stem(b)) | (EndForm::Stem(b), EndForm::PushIn(a)) => same(*a, *b),
        (EndForm::Barb(a), EndForm::Bore(b)) | (EndForm::Bore(b), EndForm::Barb(a)) => same(*a, *b),
        (EndForm::Thread(a), EndForm::Thread(b)) => {
            a.name == b.name && a.external.zip(b.external).is_none_or(|(a, b)| a != b)
        }
        _ => false,
    }
}

/// What goes between two ends that don't fit as they are, if there is such a piece.
fn between(a: &EndForm, b: &EndForm) -> Option<String> {
    match (a, b) {
        (EndForm::PushIn(takes), EndForm::Stem(has)) | (EndForm::Stem(has), EndForm::PushIn(takes)) => {
            Some(format!("Push-in reducer {takes} mm stem x push-in for {has} mm tube"))
        }
        (EndForm::Thread(a), EndForm::Thread(b)) => {
            let what = if a.name == b.name { "Adapter" } else { "Reducer" };
            Some(format!("{what} {} x {}", a.counterpart()?, b.counterpart()?))
        }
        _ => None,
    }
}

/// How two ends come together, by all the ways that each is made.
pub fn join(a: &[EndForm], b: &[EndForm]) -> EndFit {
    let pairs = || a.iter().flat_map(|a| b.iter().map(move |b| (a, b)));
    if pairs().any(|(a, b)| fit(a, b)) {
        return EndFit::Fits;
    }
    pairs().find_map(|(a, b)| between(a, b)).map_or(EndFit::Ask, EndFit::With)
}

/// Bores that differ by no more than this share fit the same fitting (common practice, no source).
const SAME_BORE: f64 = 0.15;

/// An end of a hose: on a port, or at the pump.
pub struct HoseEnd {
    /// The port; none at the pump.
    pub at: Option<PortRef>,
    /// How the fitting and the port come together.
    pub joint: EndFit,
    /// Threads that are screwed together here, and need a seal each.
    pub threads: Vec<Thread>,
}

/// The fitting in one end of a hose: of two, the first is taken to be at its start.
pub fn fitting_at(run: &Run, at: Option<PortRef>) -> Option<&FittingKey> {
    match run.fittings.as_slice() {
        [first, last] if first == last || run.from.port() != run.to.port() => {
            Some(if run.from.port() == at && !matches!(run.from, End::Loose(_)) { first } else { last })
        }
        _ => None,
    }
}

/// An end of a hose; none where it lies loose.
pub fn hose_end(project: &Project, routing: LaidRouting, run: &Run, end: &End) -> Option<HoseEnd> {
    if matches!(end, End::Loose(_)) {
        return None;
    }
    let at = end.port();
    let fitting = fitting_at(run, at);
    let connection = |key: &EntryKey| project.catalogue.entry(key).map(|entry| entry.connection.as_str());
    let only_threads = |words: Option<&str>| words.and_then(thread);
    let of_fitting = only_threads(fitting.and_then(|fitting| connection(fitting)));
    let of_port = only_threads(at.and_then(|at| port_words(project, routing, at)));
    let joint = match (&of_port, &of_fitting) {
        (Some(port), Some(fitting)) => {
            join(&[EndForm::Thread(port.clone())], &[EndForm::Thread(fitting.clone())])
        }
        _ if at.is_some_and(|at| other_bore(project, routing, run, at)) => EndFit::Ask,
        _ => EndFit::Fits,
    };
    let threads = match (&joint, of_port, of_fitting) {
        (EndFit::With(_), port, fitting) => port.into_iter().chain(fitting).collect(),
        (_, port, fitting) => fitting.or(port).into_iter().collect(),
    };
    Some(HoseEnd { at, joint, threads })
}

/// A barb narrower than this share of its hose's bore was not made for that hose (common practice, no source).
const NARROWEST_BARB: f64 = 0.6;

/// The catalogue's barb for a hose: one that is made for its bore; of those whose catalogue entry doesn't say for which
/// they are made the widest that goes in, if it is not far too narrow; the first of several alike.
pub fn barb_for(catalogue: &Catalogue, stock: &StockKey) -> Option<FittingKey> {
    fittings_for(catalogue, stock, FittingForm::Straight).into_iter().next()
}

/// All straight fittings or elbows of the catalogue that go into a hose, the most suitable first, as in [`barb_for`].
pub fn fittings_for(catalogue: &Catalogue, stock: &StockKey, wanted: FittingForm) -> Vec<FittingKey> {
    let Some(hose) = catalogue.stock(stock).map(|stock| stock.bore.si()) else { return Vec::new() };
    let own = [EndForm::Bore(hose * 1e3)];
    let fits = catalogue.of::<FittingKey>().filter_map(|(key, item)| match item {
        FittingItem::Fitting(Fitting { bore, form, .. }) if bore.si() < hose && *form == wanted => {
            let ends = forms(&catalogue.entry(&key)?.connection, None);
            let of_barb: Vec<_> = ends.into_iter().filter(|one| matches!(one, EndForm::Barb(_))).collect();
            let made_for_it = join(&of_barb, &own) == EndFit::Fits;
            let may_do = of_barb.is_empty() && bore.si() >= NARROWEST_BARB * hose;
            (made_for_it || may_do).then_some((made_for_it, bore.si(), key))
        }
        _ => None,
    });
    let mut fits: Vec<_> = fits.collect();
    fits.sort_by(|a, b| b.0.cmp(&a.0).then(b.1.total_cmp(&a.1)));
    fits.into_iter().map(|(_, _, key)| key).collect()
}

/// A barb whose catalogue entry says for which bore it is made goes into the hose; so does one whose entry doesn't say.
pub fn barb_goes_in(catalogue: &Catalogue, run: &Run, fitting: &FittingKey) -> bool {
    let (Some(hose), Some(entry)) = (catalogue.stock(&run.line.stock), catalogue.entry(fitting.any())) else {
        return true;
    };
    let hose = hose.bore.si() * 1e3;
    let barbs = forms(&entry.connection, None).into_iter().filter_map(|one| match one {
        EndForm::Barb(size) => Some(size),
        _ => None,
    });
    let barbs: Vec<f64> = barbs.collect();
    barbs.is_empty() || barbs.iter().any(|size| (size / hose).max(hose / size) <= 1.0 + SAME_BORE)
}

/// The fitting of the catalogue with which an end of a hose fits the port it is on as it is: straight or an elbow, the
/// most suitable first. None where there is none.
pub fn fitting_that_fits(
    project: &Project,
    routing: LaidRouting,
    run: &Run,
    end: &End,
    wanted: FittingForm,
) -> Option<FittingKey> {
    let candidates = fittings_for(&project.catalogue, &run.line.stock, wanted);
    candidates.into_iter().find(|key| {
        let changed = Run { fittings: vec![key.clone(), key.clone()], ..run.clone() };
        hose_end(project, routing, &changed, end).is_some_and(|one| one.joint == EndFit::Fits)
    })
}

/// A hose and a port of another bore.
fn other_bore(project: &Project, routing: LaidRouting, run: &Run, at: PortRef) -> bool {
    let item = routing.part(at.part).and_then(|part| project.catalogue.item(&part.entry));
    let hose = project.catalogue.stock(&run.line.stock).map(|stock| stock.bore);
    match (item.and_then(|item| item.bore()), hose) {
        (Some(bore), Some(hose)) => (bore / hose).max(hose / bore) > 1.0 + SAME_BORE,
        _ => false,
    }
}

/// A joint in a row feed between two neighbours.
pub struct RowJoint {
    /// What the liquid comes from; none for the outlet the feed begins at.
    pub from: Option<EntryKey>,
    /// What it goes to.
    pub to: EntryKey,
    /// How they come together.
    pub joint: EndFit,
}

/// Where a piece goes that two ends need between them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum AdapterPlace {
    /// At an end of a hose.
    Hose(RunId, End),
    /// In a row feed.
    Feed(FeedId),
}

/// A piece that goes between two ends that don't fit as they are: no catalogue entry stands for it.
#[derive(Debug, Clone, PartialEq)]
pub struct Adapter {
    /// What it is; none where the catalogue's words on a hose's end don't tell.
    pub piece: Option<String>,
    /// Where it goes.
    pub at: AdapterPlace,
}

/// All reducers and adapters of a routing: those at the hoses' ends first, then those of the row feeds, each in the
/// routing's order.
pub fn adapters(project: &Project, routing: LaidRouting) -> Vec<Adapter> {
    let mut all = Vec::new();
    for run in &routing.runs {
        for end in [&run.from, &run.to] {
            let at = AdapterPlace::Hose(run.id, *end);
            match hose_end(project, routing, run, end).map(|end| end.joint) {
                Some(EndFit::With(piece)) => all.push(Adapter { piece: Some(piece), at }),
                Some(EndFit::Ask) => all.push(Adapter { piece: None, at }),
                Some(EndFit::Fits) | None => {}
            }
        }
    }
    let mut ends = Ends::new(project);
    for feed in &routing.feeds {
        for joint in ends.of_feed(routing, feed).0 {
            if let EndFit::With(piece) = joint.joint {
                all.push(Adapter { piece: Some(piece), at: AdapterPlace::Feed(feed.id) });
            }
        }
    }
    all
}

/// How an entry is made at one of its ends; none where the catalogue has no words on it at all.
fn entry_forms(project: &Project, key: &EntryKey, side: FlowEnd) -> Option<Vec<EndForm>> {
    let entry = project.catalogue.entry(key).filter(|entry| !entry.connection.trim().is_empty())?;
    let mut all = forms(&entry.connection, Some(side));
    if let Item::Stock(StockItem::Tube(stock) | StockItem::MeteringTube(stock)) = &entry.item {
        let millimetres = |length: crate::quantities::Length| (length.si() * 1e6).round() / 1e3;
        if all.is_empty() {
            all.push(EndForm::Stem(millimetres(stock.outside)));
        }
        all.push(EndForm::Bore(millimetres(stock.bore)));
    }
    Some(all)
}

/// How the end of one entry that liquid leaves by and the end of another that it comes in by come together; none where the
/// catalogue has no words on one of them.
pub fn between_entries(project: &Project, from: &EntryKey, to: &EntryKey) -> Option<EndFit> {
    let (from, to) = (entry_forms(project, from, FlowEnd::Out)?, entry_forms(project, to, FlowEnd::In)?);
    Some(join(&from, &to))
}

/// How an outlet of a part of an entry and the end of another that liquid comes in by come together; none where the
/// catalogue has no words on one of them.
pub fn outlet_joint(project: &Project, part: &EntryKey, to: &EntryKey) -> Option<EndFit> {
    let entry = project.catalogue.entry(part)?;
    let words = words_for(&entry.connection, PortName::Outlet.in_catalogue())?;
    Some(join(&forms(words, None), &entry_forms(project, to, FlowEnd::In)?))
}

/// Every joint of a row feed, from its outlet on, and how the last piece of each branch ends. Joints of entries that the
/// catalogue has no words on are left out: the list says that of the entries themselves.
pub fn of_feed(
    project: &Project,
    routing: LaidRouting,
    feed: &RowFeed,
) -> (Vec<RowJoint>, Vec<Option<EndForm>>) {
    Ends::new(project).of_feed(routing, feed)
}

/// How the ends of a project's entries are made, each read from its words once.
struct Ends<'a> {
    project: &'a Project,
    entries: HashMap<(&'a EntryKey, FlowEnd), Option<Rc<[EndForm]>>>,
    ports: HashMap<(&'a EntryKey, PortName), Option<Rc<[EndForm]>>>,
}

impl<'a> Ends<'a> {
    fn new(project: &'a Project) -> Self {
        Self { project, entries: HashMap::new(), ports: HashMap::new() }
    }

    fn of_entry(&mut self, key: &'a EntryKey, side: FlowEnd) -> Option<Rc<[EndForm]>> {
        let read = || entry_forms(self.project, key, side).map(Rc::from);
        self.entries.entry((key, side)).or_insert_with(read).clone()
    }

    fn of_port(&mut self, routing: LaidRouting<'a>, at: PortRef) -> Option<Rc<[EndForm]>> {
        let entry = self.project.catalogue.entry(&routing.part(at.part)?.entry)?;
        let port = routing.geometry.anchors.placed_port(at)?.name;
        let read =
            || words_for(&entry.connection, port.in_catalogue()).map(|words| forms(words, None).into());
        self.ports.entry((&entry.key, port)).or_insert_with(read).clone()
    }

    fn of_feed(
        &mut self,
        routing: LaidRouting<'a>,
        feed: &'a RowFeed,
    ) -> (Vec<RowJoint>, Vec<Option<EndForm>>) {
        let mut joints = Vec::new();
        let mut follow = |ends: &mut Self, last: Last<'a>, key: &'a EntryKey| {
            if let Some((before, after)) = last.1.zip(ends.of_entry(key, FlowEnd::In)) {
                let joint = join(&before, &after);
                joints.push(RowJoint { from: last.0.cloned(), to: key.clone(), joint });
            }
            (Some(key), ends.of_entry(key, FlowEnd::Out))
        };
        let mut last: Last = (None, feed.from.port().and_then(|at| self.of_port(routing, at)));
        let shared = feed.trunk.iter().map(FeedElement::entry);
        for key in shared.chain(feed.split.iter().map(|split| &*split.entry)) {
            last = follow(self, last, key);
        }
        let mut ends = Vec::new();
        for branch in &feed.branches {
            let mut own = last.clone();
            for element in &branch.elements {
                own = follow(self, own, element.entry());
            }
            let end = own.1.and_then(|forms| forms.first().cloned());
            ends.push(end.filter(|_| own.0.is_some()));
        }
        (joints, ends)
    }
}

/// What a joint comes from, and how that ends.
type Last<'a> = (Option<&'a EntryKey>, Option<Rc<[EndForm]>>);

#[cfg(test)]
mod tests {
    use super::*;

    fn made(words: &str) -> Vec<EndForm> {
        forms(words, None)
    }

    /// Designations of ISO 228-1 (`G 1 1/4`), ISO 7-1 (`R 1/2`) and ASME B1.20.1 (`3/4 NPT`).
    #[test]
    fn threads_are_read_as_standards_write_them() {
        for (words, name, external) in [
            ("G 1 1/4 internal thread, three", "G 1 1/4", Some(false)),
            ("G 3/4 external thread, barb for 19 mm hose", "G 3/4", Some(true)),
            ("R 1/2 external", "R 1/2", Some(true)),
            ("1 1/4 NPT female", "1 1/4 NPT", Some(false)),
            ("G 1/4, plugged", "G 1/4", None),
        ] {
            assert_eq!(thread(words), Some(Thread { name: name.to_owned(), external }), "{words}");
        }
        assert_eq!(thread("barb for 19 mm hose"), None);
        assert_eq!(thread("G internal"), None);
    }

    #[test]
    fn ends_join_by_their_words_or_are_asked_about() {
        let valve = "push-in for 8 mm tube in, 8 mm stem out";
        let holder = "push-in for an 8 mm stem in, 8 mm stem out to the opener";
        assert_eq!(join(&forms(valve, Some(FlowEnd::Out)), &forms(holder, Some(FlowEnd::In))), EndFit::Fits);
        let both = "push-in for 8 mm tube at both ends";
        assert_eq!(join(&forms(both, Some(FlowEnd::Out)), &forms(both, Some(FlowEnd::In))), EndFit::Ask);
        assert_eq!(join(&made("8 mm push-in"), &made("plain ends, 8 mm outside")), EndFit::Fits);
        assert_eq!(
            join(&made("8 mm push-in"), &made("plain ends, 6 mm outside")),
            EndFit::With("Push-in reducer 8 mm stem x push-in for 6 mm tube".to_owned())
        );
        // 1/4 in is 6.35 mm; `in` after a number is a unit and no end.
        assert_eq!(join(&made("push-in for 1/4 in tube"), &[EndForm::Stem(6.35)]), EndFit::Fits);
        assert_eq!(join(&made("clamp"), &made("8 mm push-in")), EndFit::Ask);
        assert_eq!(
            join(&made("G 1 1/4 internal thread"), &made("G 3/4 external thread, barb for 19 mm hose")),
            EndFit::With("Reducer G 1 1/4 external x G 3/4 internal".to_owned())
        );
        assert_eq!(
            join(&made("G 3/4 external"), &made("G 3/4 external thread")),
            EndFit::With("Adapter G 3/4 internal x G 3/4 internal".to_owned())
        );
        // Another size, and nobody says which is outside.
        assert_eq!(join(&made("G 1"), &made("G 3/4 external")), EndFit::Ask);
    }

    #[test]
    fn a_port_has_its_own_words() {
        let manifold =
            "inlet G 3/4 internal; gauge port G 1/4 internal, plugged; far end plugged; outlets 8 mm push-in";
        assert_eq!(words_for(manifold, "inlet"), Some("G 3/4 internal"));
        assert_eq!(words_for(manifold, "outlet"), Some("8 mm push-in"));
        assert_eq!(words_for(manifold, "gauge port"), Some("G 1/4 internal, plugged"));
        assert_eq!(words_for(manifold, "other end"), None);
        assert_eq!(words_for("G 1 internal thread, three", "branch"), Some("G 1 internal thread, three"));
        assert_eq!(words_for("", "inlet"), None);
    }
}
