//! Bent pieces against tables, closed forms and a boundary-value solver.

use std::f64::consts::{FRAC_PI_2, PI};

use super::*;

fn piece(from: (f64, f64, f64), to: (f64, f64, f64), length: f64) -> FreePiece {
    let clamp = |(x, y, angle)| PlaneClamp { at: Point2::new(x, y), angle };
    FreePiece { from: clamp(from), to: clamp(to), length, weight: None }
}

fn near(got: f64, want: f64, within: f64, what: &str) {
    assert!((got - want).abs() <= within * want.abs(), "{what}: {got}, not {want}");
}

/// Timoshenko and Gere, Theory of Elastic Stability, table 2-4: end angle, P/Pcr, x/l, y/l of a column of length l that is
/// clamped at one end. A strip between two clamps in line is four of them: it is 4 x long and 2 y high, and bends most
/// at the clamps and in the middle, by P y over the stiffness, where Pcr = (pi / 2 l)².
#[test]
fn a_strip_between_clamps_in_line_is_that_of_the_table() {
    let table = [
        (20.0, 1.015, 0.970, 0.220),
        (40.0, 1.063, 0.881, 0.422),
        (60.0, 1.152, 0.741, 0.593),
        (80.0, 1.293, 0.560, 0.719),
        (100.0, 1.518, 0.349, 0.792),
        (120.0, 1.884, 0.123, 0.803),
        (140.0, 2.541, -0.107, 0.750),
        (160.0, 4.029, -0.340, 0.625),
    ];
    for (end, load, x, y) in table {
        let bent = piece((0.0, 0.0, 0.0), (x, 0.0, 0.0), 1.0).shape().unwrap();
        let (right, left) = bent.bulge();
        // Figures of three digits: the flattest row is off by what 0.0005 makes of its height.
        near(right.max(left), y / 2.0, if end < 30.0 { 0.01 } else { 8e-3 }, "height");
        let most = bent.angles.iter().fold(0.0, |most: f64, one| most.max(one.abs()));
        near(most.to_degrees(), end, 0.012, "angle");
        near(1.0 / bent.least_radius(), load * PI * PI * y, 0.01, "curvature");
    }
}

/// Peirce 1930, J. Text. Inst. 21 T377, the pear loop: 0.4243 L high; width and radius computed with elliptic integrals.
#[test]
fn a_strip_with_its_ends_side_by_side_is_the_pear_loop() {
    for turn in [PI, -PI] {
        let bent = piece((0.3, 0.2, 0.4), (0.3, 0.2, 0.4 + turn), 1.5).shape().unwrap();
        near(bent.least_radius(), 1.5 / 10.769, 6e-3, "radius");
        let away = bent.points().iter().map(|one| one.distance(Point2::new(0.3, 0.2))).fold(0.0, f64::max);
        near(away, 1.5 * 0.4243, 3e-3, "height");
        let (right, left) = bent.bulge();
        near(right + left, 1.5 * 0.2042, 1e-2, "width");
    }
}

/// A piece whose clamps lie on a circle, along it, and that is as long as the arc, is the arc: no other is bent less.
#[test]
fn clamps_on_a_circle_give_its_arc() {
    for turn in [0.3, FRAC_PI_2, 2.0, PI, 4.0, -FRAC_PI_2] {
        let (radius, side): (f64, f64) = (0.37, f64::signum(turn));
        let end = (radius * turn.abs().sin(), side * radius * (1.0 - turn.abs().cos()), turn);
        let bent = piece((0.0, 0.0, 0.0), end, radius * turn.abs()).shape().unwrap();
        near(bent.least_radius(), radius, 2e-3, "radius");
        near(bent.energy(), turn * turn / (2.0 * radius * turn.abs()), 2e-3, "energy");
    }
}

/// A strip that hardly sags between clamps in line: w L⁴ / 384 EI in the middle, w L² / 12 EI at the clamps (beam formulas
/// of any handbook), where it is so little longer that it pulls with next to nothing.
#[test]
fn a_light_hose_sags_as_a_clamped_beam() {
    let mut strip = piece((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), 1.0);
    let weight = 2.0;
    // Its own sag makes it longer than its way by the mean of half its slope squared; the slope of
    // w x (L - x) (L - 2 x) / 12 has the mean square w² / 30240.
    let longer = weight * weight / 30240.0 / 2.0;
    strip.length = 1.0 + longer;
    strip.weight = Some(Point2::new(0.0, -weight));
    let bent = strip.shape().unwrap();
    near(bent.bulge().0, weight / 384.0, 1e-2, "sag");
    near(bent.least_radius(), 12.0 / weight, 2e-2, "radius");
}

/// The catenary, to which a piece without stiffness hangs: of a length 1 between ends d apart it is a (cosh(d / 2a) - 1) deep,
/// where 2a sinh(d / 2a) = 1 (any handbook). Clamps along it, so that hardly anything bends at them.
#[test]
fn a_limp_and_heavy_piece_hangs_as_a_chain() {
    for apart in [0.95, 0.8, 0.6] {
        let (mut low, mut high) = (1e-3, 1e3);
        for _ in 0..200 {
            let middle = f64::midpoint(low, high);
            if 2.0 * middle * (apart / 2.0 / middle).sinh() > 1.0 { low = middle } else { high = middle }
        }
        let (deep, slope) = (low * ((apart / 2.0 / low).cosh() - 1.0), (apart / 2.0 / low).sinh().atan());
        let mut chain = piece((0.0, 0.0, -slope), (apart, 0.0, slope), 1.0);
        chain.weight = Some(Point2::new(0.0, -1e5));
        let bent = chain.shape().unwrap();
        near(bent.bulge().0, deep, 3e-3, "depth");
        near(bent.reach(Point2::new(0.0, -1.0)), deep, 3e-3, "reach");
        // The radius at the lowest point of a catenary is a.
        let lowest = bent.points()[PIECES / 2];
        near(lowest.x, apart / 2.0, 1e-3, "middle");
    }
}

/// Bulging down, its weight helps; the same piece bulging up has more bending energy to hold it there, and falls.
#[test]
fn a_heavy_piece_lies_as_its_weight_has_it() {
    for weight in [1.0, 20.0, 200.0] {
        let mut arch = piece((0.0, 0.0, 0.0), (0.8, 0.0, 0.0), 1.0);
        arch.weight = Some(Point2::new(0.0, -weight));
        let (right, left) = arch.shape().unwrap().bulge();
        assert!(right > 0.2 && left < 0.01, "{weight}: {right} {left}");
    }
}

/// Solutions of the boundary-value problem by scipy: `tests/cross_check/elastica.py --write` made the table, and the check
/// makes it anew.
#[test]
fn clamps_anywhere_bend_a_piece_as_a_boundary_value_solver_says() {
    let table = include_str!("../../../tests/data/elastica.csv");
    let mut compared = 0;
    for line in table.lines().skip(1) {
        let row: Vec<f64> = line.split(',').map(|cell| cell.parse().unwrap()).collect();
        let [x, y, from, to, length, down_x, down_y, energy, radius, middle_x, middle_y] = row[..] else {
            unreachable!("{line}")
        };
        let mut free = piece((0.0, 0.0, from), (x, y, to), length);
        free.weight = Some(Point2::new(down_x, down_y));
        let bent = free.shape().unwrap();
        near(bent.least_radius(), radius, 1e-2, line);
        let middle = bent.points()[PIECES / 2];
        let mut away = middle.distance(Point2::new(middle_x, middle_y));
        if from == to && down_x == 0.0 && down_y == 0.0 {
            // Turned round its middle it is the same piece: both shapes have the same energy.
            away = away.min(middle.distance(Point2::new(x - middle_x, y - middle_y)));
        }
        assert!(away < 4e-3 * length, "{line}: {middle:?}");
        if down_x == 0.0 && down_y == 0.0 {
            near(bent.energy(), energy, 5e-3, line);
        }
        compared += 1;
    }
    assert!(compared >= 27, "{compared}");
}

#[test]
fn what_can_not_be_is_said() {
    let straight = piece((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), 1.0);
    assert_eq!(straight.shape(), Err(NoShape::Stretched));
    assert_eq!(piece((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), 0.9).shape(), Err(NoShape::Stretched));
    assert_eq!(piece((0.0, 0.0, 0.0), (1.0, f64::NAN, 0.0), 2.0).shape(), Err(NoShape::NotFound));
    assert_eq!(piece((0.0, 0.0, 0.0), (0.0, 0.0, 0.0), 0.0).shape(), Err(NoShape::NotFound));
}

#[test]
fn a_shape_that_is_followed_keeps_its_side() {
    let at = |turn: f64| piece((0.0, 0.0, 0.0), (0.1 + 0.1 * turn.cos(), 0.1 * turn.sin(), turn), 0.3);
    let mut bent = at(PI).shape().unwrap();
    for step in (0..18).rev() {
        bent = at(PI * f64::from(step) / 18.0).shape_from(&bent).unwrap();
    }
    let (right, left) = bent.bulge();
    assert!(right > 0.05 && left < 1e-3, "it bulges away from the inside of the fold: {right} {left}");
}
