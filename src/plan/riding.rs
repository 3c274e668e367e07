//! On which section of the bar a point rides: a new one, one beside others of its line, and one that is moved.

use super::bar::Bar;
use super::bar_point::BarPoint;
use crate::geometry::Point3;

impl BarPoint {
    /// A point that rides on the section it lies over; where none spans it, on the one whose end is nearest.
    pub fn over(bar: &Bar, place: Point3) -> Self {
        Self { place, section: bar.section_at(place.x).map(|section| section.id).unwrap_or_default() }
    }

    /// A point that goes between or beside others of a line: it rides on the section of the first of them that spans it, also
    /// where another section lies over the same place; where none does, on the one it lies over.
    pub fn beside(bar: &Bar, others: &[Self], place: Point3) -> Self {
        let spans = |other: &&Self| bar.section(other.section).is_some_and(|one| one.spans(place.x));
        match others.iter().find(spans) {
            Some(other) => Self { place, section: other.section },
            None => Self::over(bar, place),
        }
    }

    /// Where it is after it was moved: it keeps its section while it stays over that, also where another one lies over the
    /// same place, or no farther beyond its end than it was; otherwise it rides on what it lies over then.
    #[must_use]
    pub fn moved(self, bar: &Bar, to: Point3) -> Self {
        let beyond = |x: f64| {
            bar.section(self.section).map(|one| (one.left.si() - x).max(x - one.right.si()).max(0.0))
        };
        match (beyond(self.place.x), beyond(to.x)) {
            (Some(was), Some(now)) if now <= was => Self { place: to, ..self },
            _ => Self::over(bar, to),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::{Section, SectionId};
    use crate::quantities::Length;

    /// A centre from -2 to 2 m and a wing from 2 to 5 m.
    fn bar() -> Bar {
        let section = |id, left, right| Section {
            id: SectionId(id),
            name: format!("section {id}"),
            hinge: None,
            left: Length::metres(left),
            right: Length::metres(right),
            members: Vec::new(),
        };
        Bar { sections: vec![section(1, -2.0, 2.0), section(2, 2.0, 5.0)], ..Bar::default() }
    }

    fn at(x: f64) -> Point3 {
        Point3::new(x, 0.0, 1.0)
    }

    #[test]
    fn a_new_point_rides_on_what_it_lies_over() {
        let on = |x| BarPoint::over(&bar(), at(x)).section.0;
        assert_eq!((on(1.9), on(2.1), on(-9.0), on(9.0)), (1, 2, 1, 2));
        assert_eq!(BarPoint::over(&Bar::default(), at(0.0)).section, SectionId::default());
    }

    #[test]
    fn a_point_beyond_its_sections_end_keeps_its_section_until_it_is_dragged_farther() {
        // 0.3 m over the end of the centre, where the wing is.
        let hung_over = BarPoint { place: at(2.3), section: SectionId(1) };
        let to = |x| hung_over.moved(&bar(), at(x)).section.0;
        assert_eq!((to(2.3), to(2.1), to(1.0)), (1, 1, 1));
        assert_eq!((to(2.4), to(4.0)), (2, 2));
        let inside = BarPoint { place: at(1.0), section: SectionId(1) };
        assert_eq!(inside.moved(&bar(), at(2.1)).section.0, 2);
        let gone = BarPoint { place: at(1.0), section: SectionId(9) };
        assert_eq!(gone.moved(&bar(), at(1.0)).section.0, 1);
    }
}
