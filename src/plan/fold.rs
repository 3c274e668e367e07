//! The bar on its way between working and transport position: where each section stands, and what rides on it.

use std::sync::Arc;

use super::SectionId;
use super::bar::{Bar, Hinge, Section};
use super::bar_point::BarPoint;
use super::kept::KeptLast;
use super::words::list;
use crate::geometry::{Point3, RigidMotion};
use crate::quantities::{Angle, Length, Ratio};

/// How far a bar is folded, as a share of the way from working to transport position.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
pub struct FoldPosition(f64);

impl FoldPosition {
    /// Every hinge as the bar works on level ground.
    pub const WORKING: Self = Self(0.0);
    /// Folded for the road.
    pub const TRANSPORT: Self = Self(1.0);

    /// A share of the way; below 0 or not a number is working position, above 1 transport position.
    pub const fn share(share: f64) -> Self {
        // Not `clamp`, which keeps what is not a number.
        Self(if share >= 1.0 {
            1.0
        } else if share > 0.0 {
            share
        } else {
            0.0
        })
    }

    /// As a share, 0 to 1.
    pub const fn as_share(self) -> f64 {
        self.0
    }

    /// As a ratio, for words.
    pub const fn ratio(self) -> Ratio {
        Ratio::from_si(self.0)
    }

    /// In whole per cents, for tables and data.
    pub fn percent(self) -> f64 {
        (self.0 * 100.0).round()
    }

    /// In words: `at work`, `folded 40 %`.
    pub fn words(self) -> String {
        if self.is_working() { "at work".to_owned() } else { format!("folded {} %", self.percent()) }
    }

    /// Not folded at all.
    pub const fn is_working(self) -> bool {
        self.0 == 0.0
    }
}

impl Hinge {
    /// The step of folding in which most machines' hinges turn: the first, and the only one.
    pub const FIRST_STEP: u8 = 1;
    /// Steps that a bar folds in, at most.
    pub const MOST_STEPS: u8 = 9;

    /// Its angle in a position of the fold of its bar.
    pub fn angle(&self, bar: &Bar, position: FoldPosition) -> Angle {
        Angle::from_si(self.angle_at(position, &bar.steps_of_fold()))
    }

    /// Its angle in a position of a bar that folds in these steps, radians.
    fn angle_at(&self, position: FoldPosition, steps: &[u8]) -> f64 {
        let before = steps.iter().filter(|step| **step < self.step).count() as f64;
        let done = position.0 * steps.len() as f64 - before;
        self.folded.si() * done.clamp(0.0, 1.0)
    }
}

impl Bar {
    /// The steps, one after the other, in which it folds; each takes an equal share of the way. None for a bar without hinges.
    /// Numbers that no hinge has are passed over.
    fn steps_of_fold(&self) -> Vec<u8> {
        let steps = self.sections.iter().filter_map(|section| section.hinge).map(|hinge| hinge.step);
        let mut steps: Vec<u8> = steps.collect();
        steps.sort_unstable();
        steps.dedup();
        steps
    }

    /// The position in which a hinge, named by the section that hangs on it, has turned so far; working position for an
    /// angle to the other side, and for a hinge that is not there.
    pub fn position_of(&self, section: SectionId, angle: Angle) -> FoldPosition {
        let Some(hinge) = self.section(section).and_then(|section| section.hinge) else {
            return FoldPosition::WORKING;
        };
        let steps = self.steps_of_fold();
        let before = steps.iter().filter(|step| **step < hinge.step).count() as f64;
        let turned = if hinge.folded == Angle::ZERO { 0.0 } else { angle / hinge.folded };
        if turned > 0.0 {
            FoldPosition::share((before + turned.min(1.0)) / steps.len() as f64)
        } else {
            FoldPosition::WORKING
        }
    }

    /// In how many steps, one after the other, it folds; 1 for a bar without hinges.
    pub fn fold_steps(&self) -> u8 {
        u8::try_from(self.steps_of_fold().len()).unwrap_or(u8::MAX).max(1)
    }

    /// Which sections turn in each step of folding, in the order of the steps; empty for a bar without hinges.
    pub fn fold_order(&self) -> Vec<Vec<&Section>> {
        let of_step = |step: u8| {
            let turns = |section: &&Section| section.hinge.is_some_and(|hinge| hinge.step == step);
            self.sections.iter().filter(turns).collect()
        };
        self.steps_of_fold().into_iter().map(of_step).collect()
    }

    /// The order of folding in words: `outer wing left and outer wing right first, then inner wing left and inner wing right`; none
    /// for a bar without hinges.
    pub fn fold_order_words(&self) -> Option<String> {
        let names = |sections: &Vec<&Section>| {
            list(&sections.iter().map(|section| section.name.clone()).collect::<Vec<_>>())
        };
        let steps: Vec<String> = self.fold_order().iter().map(names).collect();
        match &steps[..] {
            [] => None,
            [one] => Some(format!("{one} in one step")),
            [first, rest @ ..] => Some(format!("{first} first, then {}", rest.join(", then "))),
        }
    }

    /// What turns in a position of the fold; nothing at work, on the road, and for a bar without hinges.
    pub fn turning_at(&self, position: FoldPosition) -> Vec<&Section> {
        let mut order = self.fold_order();
        if order.is_empty() || position.is_working() || position >= FoldPosition::TRANSPORT {
            return Vec::new();
        }
        // Where one step is done and the next begins, what has turned last.
        let at = ((position.0 * order.len() as f64).ceil() as usize).clamp(1, order.len()) - 1;
        order.swap_remove(at)
    }
}

/// A bar in one position: how each section has moved since working position.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct FoldedBar {
    /// Sorted by the sections' ids.
    sections: Vec<(SectionId, RigidMotion)>,
}

impl FoldedBar {
    /// A bar folded so far.
    pub fn at(bar: &Bar, position: FoldPosition) -> Self {
        let steps = bar.steps_of_fold();
        Self::new(bar, |hinge| hinge.angle_at(position, &steps))
    }

    /// With every hinge at the lowest angle that it reaches at work.
    pub fn at_lowest(bar: &Bar) -> Self {
        Self::new(bar, |hinge| hinge.lowest.si())
    }

    fn new(bar: &Bar, angle: impl Fn(&Hinge) -> f64) -> Self {
        let mut folded = Self { sections: Vec::with_capacity(bar.sections.len()) };
        // A parent stands before its children, and carries them.
        for section in &bar.sections {
            let motion = section.hinge.map_or(RigidMotion::STILL, |hinge| {
                let own = RigidMotion::about(hinge.point, hinge.axis, angle(&hinge));
                folded.motion(hinge.parent).after(&own)
            });
            let at = folded.sections.partition_point(|(id, _)| *id < section.id);
            folded.sections.insert(at, (section.id, motion));
        }
        folded
    }

    /// How a section has moved; one that is not there stands still.
    pub fn motion(&self, section: SectionId) -> RigidMotion {
        let found = self.sections.binary_search_by_key(&section, |(id, _)| *id);
        found.ok().and_then(|at| self.sections.get(at)).map_or(RigidMotion::STILL, |(_, motion)| *motion)
    }

    /// Where a point is that rides on a section; metres.
    pub fn place(&self, point: BarPoint) -> Point3 {
        self.motion(point.section).place(point.place)
    }
}

/// Positions that are looked at in each step of folding.
const POSITIONS_A_STEP: u32 = 60;

/// A bar in all positions from working to transport, close enough to each other that a distance between two points grows
/// by under 0.1 % from one to the next, and at the lowest angles that its hinges reach at work.
#[derive(Debug, Clone, PartialEq)]
pub struct FoldSweep {
    lowest: FoldedBar,
    positions: Vec<(FoldPosition, FoldedBar)>,
}

impl FoldSweep {
    /// Folds a bar; at once where it is the one that was folded last.
    pub fn of(bar: &Bar) -> Arc<Self> {
        static LAST: KeptLast<Bar, FoldSweep> = KeptLast::nothing();
        LAST.of(bar, || Self::new(bar))
    }

    fn new(bar: &Bar) -> Self {
        let count = POSITIONS_A_STEP * u32::from(bar.fold_steps());
        let position = |index: u32| FoldPosition::share(f64::from(index) / f64::from(count));
        let positions = (0..=count).map(position).map(|at| (at, FoldedBar::at(bar, at))).collect();
        Self { lowest: FoldedBar::at_lowest(bar), positions }
    }

    /// With every hinge at the lowest angle that it reaches at work.
    pub const fn lowest(&self) -> &FoldedBar {
        &self.lowest
    }

    /// The positions, from working to transport.
    pub fn positions(&self) -> &[(FoldPosition, FoldedBar)] {
        &self.positions
    }

    /// The longest straight distance between two points, and at which position; at the lowest working angles that is
    /// working position.
    pub fn longest(&self, a: BarPoint, b: BarPoint) -> (Length, FoldPosition) {
        let apart = |bar: &FoldedBar| bar.place(a).distance(bar.place(b));
        let low = (apart(&self.lowest), FoldPosition::WORKING);
        let through = self.positions.iter().map(|(at, bar)| (apart(bar), *at));
        let (longest, at) = through.fold(low, |most, one| if one.0 > most.0 { one } else { most });
        (Length::metres(longest), at)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const UP: Point3 = Point3::new(0.0, 1.0, 0.0);

    fn section(id: u32, left: f64, right: f64, hinge: Option<Hinge>) -> Section {
        Section {
            id: SectionId(id),
            name: format!("section {id}"),
            hinge,
            left: Length::metres(left),
            right: Length::metres(right),
            members: Vec::new(),
        }
    }

    fn hinge(parent: u32, x: f64, degrees: f64, step: u8) -> Hinge {
        Hinge {
            parent: SectionId(parent),
            point: Point3::new(x, 0.0, 1.0),
            axis: UP,
            lowest: Angle::ZERO,
            folded: Angle::degrees(degrees),
            step,
        }
    }

    #[test]
    fn the_order_of_folding_is_named() {
        let outer_first = bar(1, 2);
        assert_eq!(outer_first.fold_order_words().unwrap(), "section 3 first, then section 2");
        assert_eq!(bar(3, 1).fold_order_words().unwrap(), "section 2 first, then section 3");
        assert_eq!(bar(4, 4).fold_order_words().unwrap(), "section 2 and section 3 in one step");
        assert_eq!(Bar::default().fold_order_words(), None);
        let turns = |share: f64| {
            let turning = outer_first.turning_at(FoldPosition::share(share));
            turning.iter().map(|section| section.id.0).collect::<Vec<_>>()
        };
        let none: Vec<u32> = Vec::new();
        assert_eq!([0.0, 0.2, 0.5, 0.6, 1.0].map(turns), [none.clone(), vec![3], vec![3], vec![2], none]);
    }

    /// A centre of 4 m with an inner wing of 4 m that stands up and an outer one of 3 m that folds in on it.
    fn bar(outer_step: u8, inner_step: u8) -> Bar {
        let sections = vec![
            section(1, -2.0, 2.0, None),
            section(2, 2.0, 6.0, Some(hinge(1, 2.0, -90.0, inner_step))),
            section(3, 6.0, 9.0, Some(hinge(2, 6.0, -180.0, outer_step))),
        ];
        Bar { sections, ..Bar::default() }
    }

    fn tip(bar: &Bar, share: f64) -> Point3 {
        let tip = BarPoint { section: SectionId(3), place: Point3::new(9.0, 0.5, 1.2) };
        FoldedBar::at(bar, FoldPosition::share(share)).place(tip)
    }

    /// Closed forms of a chain of two hinges in one plane: inner angle a, outer angle b on top of it; the tip is 3 m along
    /// and 0.2 m above the outer hinge, which is 4 m along from the inner one.
    #[test]
    fn a_tip_on_two_hinges_goes_where_closed_forms_say() {
        let bar = bar(1, 1);
        for share in [0.0, 0.2, 0.5, 0.81, 1.0] {
            let (a, b) = (share * 90f64.to_radians(), share * 270f64.to_radians());
            let want = Point3::new(
                2.0 + 4.0 * a.cos() + 3.0 * b.cos() - 0.2 * b.sin(),
                0.5,
                1.0 + 4.0 * a.sin() + 3.0 * b.sin() + 0.2 * b.cos(),
            );
            assert!(tip(&bar, share).distance(want) < 1e-12, "{share}: {:?}, {want:?}", tip(&bar, share));
        }
    }

    #[test]
    fn hinges_turn_in_the_order_of_their_steps() {
        // Step 1 and 2, or 3 and 9: what no hinge has takes no time.
        assert_eq!(self::bar(3, 9).fold_steps(), 2);
        assert!(tip(&self::bar(3, 9), 0.5).distance(tip(&self::bar(1, 2), 0.5)) < 1e-12);
        let bar = bar(1, 2);
        assert_eq!(bar.fold_steps(), 2);
        // Half-way the outer wing lies on the inner one, which has not moved.
        assert!(tip(&bar, 0.5).distance(Point3::new(3.0, 0.5, 0.8)) < 1e-12, "{:?}", tip(&bar, 0.5));
        // Then both stand up: what was 1 m beyond the inner hinge is 1 m above it.
        assert!(tip(&bar, 1.0).distance(Point3::new(2.2, 0.5, 2.0)) < 1e-12, "{:?}", tip(&bar, 1.0));
        let together = self::bar(1, 1);
        assert!(tip(&together, 1.0).distance(tip(&bar, 1.0)) < 1e-12, "the end is the same in any order");
        assert!(tip(&together, 0.5).distance(tip(&bar, 0.5)) > 0.5, "the way is not");
    }

    /// The way back from an angle to the position: half of 90 degrees is half of the second of two steps.
    #[test]
    fn the_position_of_an_angle_is_found() {
        let bar = bar(1, 2);
        let at = |section, degrees| bar.position_of(SectionId(section), Angle::degrees(degrees)).as_share();
        assert_eq!((at(2, -45.0), at(3, -90.0), at(3, -180.0), at(2, 5.0)), (0.75, 0.25, 0.5, 0.0));
        assert_eq!((at(1, 45.0), at(9, 45.0)), (0.0, 0.0));
    }

    #[test]
    fn what_is_out_of_range_or_not_a_number_is_one_of_the_ends() {
        let shares = [f64::NAN, -1.0, 0.25, 7.0].map(|share| FoldPosition::share(share).as_share());
        assert_eq!(shares, [0.0, 0.0, 0.25, 1.0]);
    }

    /// Brute force over a thousand positions finds nothing longer by more than 0.1 %.
    #[test]
    fn the_longest_distance_through_the_fold_is_found_with_the_position() {
        let bar = bar(1, 2);
        let a = BarPoint { section: SectionId(2), place: Point3::new(5.7, 0.1, 0.7) };
        let b = BarPoint { section: SectionId(3), place: Point3::new(6.4, 0.3, 1.3) };
        let apart = |share: f64| {
            let bar = FoldedBar::at(&bar, FoldPosition::share(share));
            bar.place(a).distance(bar.place(b))
        };
        let brute = (0..=1000).map(|step| apart(f64::from(step) / 1000.0)).fold(0.0, f64::max);
        let (longest, at) = FoldSweep::new(&bar).longest(a, b);
        assert!((longest.si() - brute).abs() < 1e-3 * brute, "{} {brute}", longest.si());
        assert!((apart(at.as_share()) - longest.si()).abs() < 1e-12);
    }
}
