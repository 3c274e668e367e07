//! Sections that fold into each other: which into which, and by which hinge.

use super::SectionId;
use super::bar::{Bar, Hinge};
use super::clash::FrameClash;
use super::fold::FoldPosition;
use crate::quantities::{Angle, Length, Measure, UnitSystem};

/// Frames that run into each other by more than this don't fold: less is within what profiles are drawn by (common practice,
/// no source); metres.
const NO_FOLD: f64 = 0.010;

/// A section whose frame runs into that of another one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FramesMet {
    /// The section that comes: it hangs on the hinge that turns, or on what that carries.
    pub moving: SectionId,
    /// The section that it comes to.
    pub into: SectionId,
    /// The hinge that turns there, named by the section that hangs on it.
    pub hinge: SectionId,
    /// Where in the fold they are deepest in each other; working position for the lowest angles at work.
    pub at: FoldPosition,
    /// From where in the fold on they are in each other.
    pub since: FoldPosition,
    /// How deep.
    pub by: Length,
    /// Members are through each other: how deep is no measure of how far they go on.
    pub is_through: bool,
}

impl FramesMet {
    /// Of what was found about the frames of a bar each pair once, the deepest.
    pub fn of(bar: &Bar, frames: &[FrameClash]) -> Vec<Self> {
        let mut all: Vec<Self> = Vec::new();
        for one in frames.iter().filter_map(|clash| Self::one(bar, clash)) {
            let same = |known: &&mut Self| {
                [known.moving, known.into] == [one.moving, one.into]
                    || [known.into, known.moving] == [one.moving, one.into]
            };
            match all.iter_mut().find(same) {
                Some(known) if known.by < one.by => *known = one,
                Some(_) => {}
                None => all.push(one),
            }
        }
        all
    }

    fn one(bar: &Bar, met: &FrameClash) -> Option<Self> {
        let clash = &met.deepest;
        let depth = |id: SectionId| bar.to_centre(id).len();
        let turned = |hinge: &Hinge| {
            let lowest = clash.at.is_working() && hinge.lowest != Angle::ZERO;
            lowest || hinge.angle(bar, clash.at) != Angle::ZERO
        };
        let between = bar.hinges_between(clash.on, clash.from).into_iter();
        let turning = between.filter_map(|id| Some((id, bar.section(id)?.hinge?)));
        // What turned in the step that is under way; of these the outermost.
        let (hinge, _) =
            turning.filter(|(_, hinge)| turned(hinge)).max_by_key(|(id, hinge)| (hinge.step, depth(*id)))?;
        let carries = bar.to_centre(clash.on).contains(&hinge);
        let (moving, into) = if carries { (clash.on, clash.from) } else { (clash.from, clash.on) };
        let (since, is_through) = (met.since, met.is_through);
        Some(Self { moving, into, hinge, at: clash.at, since, by: clash.gap.abs(), is_through })
    }

    /// It is too much to fold at all.
    pub fn is_no_fold(&self) -> bool {
        self.by.si() > NO_FOLD
    }

    /// The pair of hinges that the one that turns is of, from the centre outwards; 0 for the innermost.
    pub fn pair(&self, bar: &Bar) -> usize {
        bar.to_centre(self.hinge).len().saturating_sub(2)
    }

    /// What happens, in words: `wing right folds into centre: the frames run 40 mm into each other, folded 75 %, from folded
    /// 70 % on`.
    pub fn words(&self, bar: &Bar, units: UnitSystem) -> String {
        let (verb, at) = if self.at.is_working() {
            ("sinks", ", at its lowest angle at work".to_owned())
        } else if self.since.percent() == self.at.percent() || self.is_through {
            ("folds", format!(", {}", self.since.words()))
        } else {
            ("folds", format!(", {}, from {} on", self.at.words(), self.since.words()))
        };
        let how = if self.is_through {
            "run through each other".to_owned()
        } else {
            format!("run {} into each other", Measure::CutLength.text(self.by.si(), units))
        };
        format!(
            "{} {verb} into {}: the frames {how}{at}",
            section_name(bar, self.moving),
            section_name(bar, self.into)
        )
    }

    /// What to change, in words.
    pub fn advice(&self, bar: &Bar, units: UnitSystem) -> String {
        let name = section_name(bar, self.hinge);
        let Some(hinge) = bar.section(self.hinge).and_then(|section| section.hinge) else {
            return format!("check the hinge of {name}");
        };
        if self.at.is_working() {
            return format!("let {name} sink less at work, or end the frames farther from its hinge");
        }
        let line = if hinge.is_upright() {
            "put its hinge line on the face of the frame that it closes on"
        } else {
            "put its hinge line higher"
        };
        // A smaller angle helps only where they meet at the end of its turn, not on the way.
        let at_end = (hinge.angle(bar, self.at) - hinge.folded).si().abs() < 1e-6;
        let less = if at_end {
            format!(", turn it by less than {}", Measure::Angle.short_text(hinge.folded.si().abs(), units))
        } else {
            String::new()
        };
        format!("{name}: {line}{less}, or let it turn in another step than {}", hinge.step)
    }
}

fn section_name(bar: &Bar, id: SectionId) -> &str {
    bar.section(id).map_or("a missing section", |section| section.name.as_str())
}

#[cfg(test)]
mod tests {
    use super::super::clash_search::frames_that_meet;
    use super::super::lay_out::{Fold, HingePair, Layout, lay_out};
    use super::*;

    fn met(pair: HingePair) -> (Bar, Vec<FramesMet>) {
        // Wings so short that both have room on the centre.
        let sections = [1.8, 8.4, 1.8].map(Length::metres).to_vec();
        let layout = Layout { sections, hinges: vec![pair], ..Layout::even(40, Length::metres(0.3)) };
        let bar = lay_out(&layout).unwrap();
        let met = FramesMet::of(&bar, &frames_that_meet(&bar));
        (bar, met)
    }

    /// A wing that turns forward about a pin on the front face clears the centre; about one in the middle of the frame its front
    /// rail comes back into it. Either side is the one that moves, whichever the search met first.
    #[test]
    fn a_pin_behind_the_front_face_lets_the_wings_into_the_centre() {
        let forward = HingePair { fold: Fold::Forward, ..HingePair::default() };
        assert_eq!(met(forward).1, []);
        let (bar, found) = met(HingePair { forward: Some(Length::ZERO), ..forward });
        let words: Vec<String> = found.iter().map(|one| one.words(&bar, UnitSystem::Metric)).collect();
        assert_eq!(found.len(), 2, "{words:?}");
        for (one, wing) in found.iter().zip(["wing left", "wing right"]) {
            assert!(one.is_no_fold());
            assert_eq!(one.pair(&bar), 0);
            let words = one.words(&bar, UnitSystem::Metric);
            assert!(words.starts_with(&format!("{wing} folds into centre: ")), "{words}");
            let advice = one.advice(&bar, UnitSystem::Metric);
            assert!(advice.starts_with(&format!("{wing}: put its hinge line on the face")), "{advice}");
            assert!(!advice.contains('°'), "they pass on the way: {advice}");
        }
    }

    /// Rails of 100 mm at 0.9 m; folded over by 180 degrees about a line at 0.945 m they are 2 * 45 mm apart, so 10 mm deep in each
    /// other; about one at 0.94 m 20 mm (by hand).
    #[test]
    fn ten_millimetres_are_the_most_that_may_be_left_to_the_drawing() {
        let about = |height: f64| {
            let angle = Angle::degrees(180.0);
            met(HingePair { height: Length::metres(height), angle, ..HingePair::default() }).1
        };
        assert_eq!(about(0.951), []);
        assert!(about(0.946).iter().all(|one| !one.is_no_fold()), "{:?}", about(0.946));
        assert_eq!(about(0.946).len(), 2);
        assert!(about(0.94).iter().all(FramesMet::is_no_fold));
        assert_eq!(about(0.94).len(), 2);
    }

    /// Both sides follow the ground downwards: 5 degrees at 6 m are half a metre.
    #[test]
    fn at_the_lowest_angle_both_tips_are_down() {
        let (bar, _) = met(HingePair::default());
        let low = super::super::FoldedBar::at_lowest(&bar);
        for section in bar.sections.iter().filter(|section| section.hinge.is_some()) {
            for x in [section.left, section.right] {
                let hinge = section.hinge.unwrap();
                let place = crate::geometry::Point3::new(x.si(), 0.0, hinge.point.z);
                let away = (x.si() - hinge.point.x).abs();
                let down = hinge.point.z - low.motion(section.id).place(place).z;
                assert!((down - away * 5f64.to_radians().sin()).abs() < 1e-9, "{}: {down}", section.name);
            }
        }
    }
}
