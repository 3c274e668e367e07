//! What a judged catch test says in sentences: the same ones in the window, on the command line and on paper.

use super::judged::{Judged, JudgedGauge, JudgedRow, MayBe, NotJudged};
use super::prepare::{PreparedTest, Weighed};
use crate::plan::Source;
use crate::plan::words::{count, counted, range_pieces, ranges, short, short_list};
use crate::quantities::{Flow, Measure, Ratio, UnitSystem};
use crate::studies::status::rows_words;

/// The verdict in a few words: what stands on top.
pub fn headline(judged: &Judged) -> String {
    let verdict = &judged.verdict;
    let why = not_judged(judged).map_or_else(String::new, |why| format!(": {why}"));
    let says = match (verdict.as_drawn, verdict.within_limits) {
        (Some(true), Some(true)) => "As drawn and within the limits",
        (Some(true), Some(false)) => "As drawn, but not within the limits",
        (Some(false), Some(true)) => "Within the limits, but not as drawn",
        (Some(false), Some(false)) => "Neither as drawn nor within the limits",
        (Some(false), None) => "Not as drawn; not judged whether within the limits",
        (None, Some(false)) => "Not within the limits; not judged whether as drawn",
        (None, Some(true)) => "Within the limits; not judged whether as drawn",
        (None | Some(true), None) => "Not judged",
    };
    // What stands in no doubt of the rows that were caught.
    let rest = match verdict.not_judged {
        Some(NotJudged::NotCaught { .. }) if (verdict.as_drawn, verdict.within_limits) == (None, None) => {
            let caught = judged.rows.len();
            let those = if caught == 1 { "the one caught is" } else { "those caught are" };
            let drawn = if verdict.together.is_some() { "" } else { "as drawn and " };
            format!("; {those} {drawn}within the limits")
        }
        _ => String::new(),
    };
    format!("{says}{why}{rest}")
}

/// Why something is not judged, a sentence without its beginning; none where all is.
pub fn not_judged(judged: &Judged) -> Option<String> {
    Some(match judged.verdict.not_judged.as_ref()? {
        NotJudged::OfAnother(why) => why.clone(),
        NotJudged::LinesMissing(lines) => {
            format!("{} could not be read or placed", counted(*lines as usize, "line"))
        }
        NotJudged::NotCaught { rows: 1, of } => format!("1 of {} was not caught", counted(*of, "row")),
        NotJudged::NotCaught { rows, of } => {
            format!("{} of {} were not caught", count(*rows), counted(*of, "row"))
        }
        NotJudged::Doubted => {
            let each = if judged.apart().next().is_some() {
                "the mean of each row is as drawn by itself (its catches contradict each other)"
            } else {
                "each reading is as drawn by itself"
            };
            format!("{each}, and all together rather speak for something else")
        }
    })
}

/// What stands out of a row, in words.
pub fn marks(row: &JudgedRow) -> String {
    let marks = [
        ("not as asked", !row.within_limit),
        ("not as drawn", !row.as_drawn),
        ("outlier", row.is_outlier),
        ("catches apart", row.apart.is_some()),
    ];
    let marks: Vec<&str> = marks.iter().filter(|mark| mark.1).map(|mark| mark.0).collect();
    marks.join(", ")
}

/// What stands out of a gauge, in words.
pub const fn gauge_mark(gauge: &JudgedGauge) -> &'static str {
    match (gauge.as_drawn, gauge.expected) {
        (true, _) => "",
        (false, Some(_)) => "not as drawn",
        (false, None) => "no liquid expected",
    }
}

/// Between which pressures a gauge may show on a bar as drawn, ` (1.05 bar to 1.55 bar may be beside the other readings)`; empty
/// where no liquid reaches it.
pub fn gauge_range(gauge: &JudgedGauge, units: UnitSystem) -> String {
    gauge.may_show.map_or_else(String::new, |one| {
        let [low, high] = [one.low, one.high].map(|end| Measure::Pressure.text(end.si(), units));
        format!(" ({low} to {high} may be{})", beside_what(&one))
    })
}

const fn beside_what<T>(may_be: &MayBe<T>) -> &'static str {
    if may_be.by_others { " beside the other readings" } else { "" }
}

/// How far from what is expected a row may be on a bar as drawn, `, where −4.2 % to +4.0 % may be beside the other readings`; empty
/// of one that should get nothing.
fn row_range(row: &JudgedRow, units: UnitSystem) -> String {
    row.may_give.map_or_else(String::new, |one| {
        let off = |end: Flow| signed_percent(Ratio::from_si(end / row.expected - 1.0), None, units);
        format!(", where {} to {} may be{}", off(one.low), off(one.high), beside_what(&one))
    })
}

/// What a row may give on a bar as drawn, `As drawn from 0.48 L/min to 0.55 L/min beside the other readings`; none for one that
/// should get nothing.
pub fn row_may_give(row: &JudgedRow, units: UnitSystem) -> Option<String> {
    let may_be = row.may_give?;
    let [low, high] = [may_be.low, may_be.high].map(|end| Measure::RowFlow.text(end.si(), units));
    Some(format!("As drawn from {low} to {high}{}", beside_what(&may_be)))
}

fn signed_percent(ratio: Ratio, apart_from: Option<Ratio>, units: UnitSystem) -> String {
    let sign = if ratio > Ratio::ZERO { "+" } else { "" };
    let words = match apart_from {
        Some(other) => Measure::Percent.text_apart(ratio.si(), other.si(), units),
        None => Measure::Percent.text(ratio.si(), units),
    };
    format!("{sign}{words}")
}

/// What a reading may be on a bar as drawn, and what a small catch is taken to be read to: for the foot of a table. Sentences
/// without a full stop.
pub fn notes(test: &PreparedTest) -> Vec<String> {
    let units = test.studied().project.units;
    let mut all = vec![
        "as drawn is a bar of which each row and gauge is where it may be: by the scatter of jug, watch and gauge, of the supply, of \
         parts as sold and of the liquid, so that of 20 bars as drawn 19 are found to be; what all rows have in common counts once, \
         so that each row is also held against the others"
            .to_owned(),
    ];
    all.extend(test.jug_floor().map(|floor| {
        format!(
            "a jug is read no finer low down: of a row that gives less than the middle one of those caught ({}), the jug's {} counts \
             as of that",
            Measure::RowFlow.text(floor.flow.si(), units),
            Measure::Percent.short_text(floor.part.si(), units),
        )
    }));
    all
}

/// All that a judged test says by itself, each a sentence without a full stop, the most weighty first. Remarks of the test stand
/// beside them.
pub fn sentences(judged: &Judged, test: &PreparedTest) -> Vec<String> {
    let studied = test.studied();
    let units = studied.project.units;
    let percent = |ratio: Ratio| Measure::Percent.text(ratio.si(), units);
    let limit = Measure::Percent.short_text(judged.limit.si(), units);
    let mut said = Vec::new();
    if let Some(NotJudged::OfAnother(_)) = &judged.verdict.not_judged {
        return said;
    }
    let apart = apart(judged, units);
    let by_itself = if apart.is_some() {
        "the mean of each row is within its band, which catches that contradict each other make wider"
    } else {
        "each reading by itself is within its band"
    };
    said.extend(apart);
    said.extend(judged.verdict.together.as_ref().map(|one| {
        format!(
            "{by_itself}, but all together speak for: {} (odds {:.0} of 100)",
            one.what,
            (100.0 * one.odds).clamp(1.0, 99.0)
        )
    }));
    said.extend(beside(judged, |row| row.as_drawn, |row| row.from_expected, units).map(|one| {
        let range = one.farthest.map_or_else(String::new, |row| row_range(row, units));
        format!("not as drawn: {}{}{range}", one.rows, one.size)
    }));
    said.extend(
        beside(judged, |row| row.within_limit, |row| row.from_asked, units)
            .map(|one| format!("not as asked (more than {limit} from the target): {}{}", one.rows, one.size)),
    );
    let outliers: Vec<u32> = judged.rows.iter().filter(|row| row.is_outlier).map(|row| row.number).collect();
    if !outliers.is_empty() {
        said.push(format!("stand out from the others by the outlier test: {}", row_words(&outliers)));
    }
    if let Some(cv) = &judged.cv {
        let acceptable = percent(studied.project.limits.cv_acceptable);
        let between = cv.interval.map_or_else(String::new, |(low, high)| {
            format!(", of all rows between {} and {} (95\u{a0}%)", percent(low), percent(high))
        });
        said.push(format!(
            "CV {} as caught{between}; {} by the catch itself, {} without it; acceptable up to {acceptable}",
            percent(cv.as_caught),
            percent(cv.of_catch),
            percent(cv.of_bar),
        ));
    }
    if let Some(applied) = &judged.applied {
        // At work it is the liquid that runs: of water, it is computed what that would be.
        let applied_as =
            if test.at_work().is_some() { "of the liquid, by what came of water," } else { "applied" };
        let over = rows_words(applied.rows).map_or_else(String::new, |rows| format!(" ({rows})"));
        said.push(format!(
            "{} {applied_as} at {}{over}, {} asked",
            Measure::Rate.text(Measure::Rate.rounded(applied.rate.si(), units), units),
            Measure::GroundSpeed.short_text(applied.speed.si(), units),
            Measure::Rate.text(applied.asked.si(), units),
        ));
    }
    for gauge in judged.gauges.iter().filter(|gauge| !gauge.as_drawn) {
        let tag = studied.routing.part(gauge.part).map_or("", |part| part.tag.as_str());
        let read = Measure::Pressure.text(gauge.read.si(), units);
        said.push(gauge.expected.map_or_else(
            || format!("{tag} shows {read}, where no liquid should reach it"),
            |expected| {
                let expected = Measure::Pressure.text_apart(expected.si(), gauge.read.si(), units);
                format!("{tag} shows {read}, {expected} expected{}", gauge_range(gauge, units))
            },
        ));
    }
    said.extend(test.weighed().map(|one| weighed(one, units)));
    said.extend(share_caught(judged));
    said
}

/// Rows whose catches contradict each other; none where all agree.
fn apart(judged: &Judged, units: UnitSystem) -> Option<String> {
    let numbers: Vec<u32> = judged.apart().map(|(row, _)| row.number).collect();
    let (farthest, by) = judged.apart().max_by(|a, b| a.1.range.si().total_cmp(&b.1.range.si()))?;
    let flow = |flow: Flow| Measure::RowFlow.text(flow.si(), units);
    Some(format!(
        "catches of {} contradict each other (row {}: {} apart, up to {} may be), so that their mean tells little: look which was \
         caught or timed otherwise, mark it as spoiled, or catch again",
        row_words(&numbers),
        farthest.number,
        flow(by.range),
        flow(by.critical)
    ))
}

/// By what weights became volumes: `weights are volumes by a density of 1100 kg/m³ (measured): that of Starter at 12 °C`.
fn weighed(one: &Weighed, units: UnitSystem) -> String {
    let measured = if one.at_is_measured { "" } else { ", a temperature that is assumed" };
    let weigh = if one.source == Source::Assumed { "; weigh a litre of it to know" } else { "" };
    format!(
        "weights are volumes by a density of {} ({}): that of {} at {}{measured}{weigh}",
        Measure::Density.text(one.density.si(), units),
        one.source.mark(units).unwrap_or_else(|| one.source.words()),
        short(&one.liquid),
        Measure::Temperature.short_text(one.at.si(), units),
    )
}

/// What share of the rows was caught, where that is not all of them.
fn share_caught(judged: &Judged) -> Option<String> {
    let (missing, in_use) = (judged.not_caught.len(), judged.expected.rows_in_use());
    if missing == 0 || in_use == 0 {
        return None;
    }
    let share = 100.0 * (in_use - missing) as f64 / in_use as f64;
    let others = if missing == 1 { "it" } else { "them" };
    Some(format!(
        "{} in use of {} not caught, {} caught ({share:.0} %): catch {others} too, for what is wrong at one row does not show \
         at another",
        counted(missing, "row"),
        count(in_use),
        count(in_use - missing),
    ))
}

/// Rows that are not as they should be.
struct Wrong<'j> {
    /// `rows 3 and 7`.
    rows: String,
    /// How far off they are at most, `, the farthest by −12.3 %`.
    size: String,
    farthest: Option<&'j JudgedRow>,
}

/// Rows that are not as they should be; none where all are.
fn beside(
    judged: &Judged,
    is_right: fn(&JudgedRow) -> bool,
    from: fn(&JudgedRow) -> Option<Ratio>,
    units: UnitSystem,
) -> Option<Wrong<'_>> {
    let wrong: Vec<&JudgedRow> = judged.rows.iter().filter(|row| !is_right(row)).collect();
    if wrong.is_empty() {
        return None;
    }
    let sizes = wrong.iter().filter_map(|row| Some((*row, from(row)?)));
    let farthest = sizes.max_by(|a, b| a.1.si().abs().total_cmp(&b.1.si().abs()));
    let numbers: Vec<u32> = wrong.iter().map(|row| row.number).collect();
    let size = match farthest.map(|(_, most)| signed_percent(most, Some(judged.limit), units)) {
        Some(most) if wrong.len() == 1 => format!(", {most}"),
        Some(most) => format!(", the farthest by {most}"),
        None => String::new(),
    };
    Some(Wrong { rows: row_words(&numbers), size, farthest: farthest.map(|one| one.0) })
}

fn row_words(numbers: &[u32]) -> String {
    let pieces = range_pieces(numbers);
    let verb = if numbers.len() == 1 { "row" } else { "rows" };
    format!("{verb} {}", if pieces.len() > 12 { short_list(&pieces, 12) } else { ranges(numbers) })
}
