//! Which choice to take, two of them where one does not do, and the one that comes nearest.

use super::super::trial::{Judged, Requirement};
use super::choice::{MeteringChoice, TwoSets};
use super::words;
use crate::plan::{Metering, Project};
use crate::quantities::Length;

/// Of those that keep all limits one with a check valve that holds with the pump off, where there is any; of these one that
/// leaves the pump a margin; of these the widest orifice, since that plugs least and needs the least pressure; where no
/// orifice does, the widest tube, since tubes change their flow with the temperature.
pub(super) fn recommended(project: &Project, choices: &[MeteringChoice]) -> Option<usize> {
    let is_orifice = |choice: &MeteringChoice| matches!(choice.metering, Metering::Orifice(_));
    let opening = |choice: &MeteringChoice| choice.metering.bore(&project.catalogue).map_or(0.0, Length::si);
    let fitting = choices.iter().enumerate().filter(|(_, choice)| choice.fits());
    fitting
        .max_by(|(_, a), (_, b)| {
            a.holds()
                .cmp(&b.holds())
                .then(a.has_margin().cmp(&b.has_margin()))
                .then(is_orifice(a).cmp(&is_orifice(b)))
                .then(opening(a).total_cmp(&opening(b)))
                .then(a.in_use.cmp(&b.in_use))
        })
        .map(|(place, _)| place)
}

/// What no speed changes is granted.
fn suits_at_all(choice: &MeteringChoice) -> bool {
    !choice
        .broken
        .iter()
        .any(|requirement| matches!(requirement, Requirement::Passage | Requirement::Material))
}

/// One set for each duty, or else two sets of which one takes over from the other as the bar is driven faster: the pair
/// whose speeds overlap most.
pub(super) fn two_sets(project: &Project, choices: &[MeteringChoice]) -> Option<TwoSets> {
    let duties = choices.first()?.duties.len();
    let works_at = |choice: &MeteringChoice, duty: usize| {
        suits_at_all(choice)
            && choice.duties.get(duty).is_some_and(|one| one.at.iter().all(Judged::keeps_limits))
    };
    if duties > 1 {
        let of_duty = |duty: usize| {
            let alone: Vec<MeteringChoice> = choices
                .iter()
                .map(|choice| {
                    let granted = |requirement: &Requirement| *requirement == Requirement::Margin;
                    let broken = if works_at(choice, duty) {
                        choice.broken.iter().copied().filter(granted).collect()
                    } else {
                        vec![Requirement::Rows]
                    };
                    MeteringChoice { broken, ..choice.clone() }
                })
                .collect();
            let place = recommended(project, &alone)?;
            Some((choices.first()?.duties.get(duty)?.duty, place))
        };
        if let Some(each) = (0..duties).map(of_duty).collect() {
            return Some(TwoSets::ByDuty(each));
        }
    }
    let mut best: Option<(f64, TwoSets)> = None;
    for (slow, first) in choices.iter().enumerate().filter(|one| suits_at_all(one.1)) {
        for (fast, second) in choices.iter().enumerate().filter(|one| suits_at_all(one.1)) {
            if slow == fast {
                continue;
            }
            let mut overlap = f64::INFINITY;
            let mut both = Vec::new();
            for (a, b) in first.duties.iter().zip(&second.duties) {
                let ((Some((a_from, a_to)), Some((b_from, b_to))), [slowest, _, fastest]) =
                    ((a.window, b.window), &a.at)
                else {
                    both.clear();
                    break;
                };
                let reaches = a_from <= slowest.point.speed && b_to >= fastest.point.speed && b_from <= a_to;
                if !reaches {
                    both.clear();
                    break;
                }
                let to = a_to.min(fastest.point.speed);
                let from = b_from.max(slowest.point.speed);
                overlap = overlap.min((to - from).si());
                both.push((a.duty, from.min(to), to));
            }
            let better = best.as_ref().is_none_or(|(known, _)| overlap > *known);
            if both.len() == first.duties.len() && better {
                best = Some((overlap, TwoSets::BySpeed { slow, fast, both }));
            }
        }
    }
    best.map(|(_, sets)| sets)
}

/// The choice that breaks least: first by the requirement that is given up last, then by how many are broken and how far.
pub(super) fn nearest(project: &Project, choices: &[MeteringChoice]) -> Option<usize> {
    let order = |choice: &MeteringChoice| {
        let last = choice.broken.last().copied();
        (last, choice.broken.len())
    };
    let far = |choice: &MeteringChoice| -> f64 {
        choice.broken.iter().map(|requirement| words::by_how_much(project, choice, *requirement)).sum()
    };
    let all = choices.iter().enumerate();
    all.min_by(|(_, a), (_, b)| order(a).cmp(&order(b)).then(far(a).total_cmp(&far(b))))
        .map(|(place, _)| place)
}
