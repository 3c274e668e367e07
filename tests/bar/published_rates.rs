//! Row flow, density factor and catch formulas against published worked examples; each names its source, and what is our own
//! arithmetic says so.

use equirow::hydraulics::targets;
use equirow::plan::row_target::{strips_together, target, width};
use equirow::plan::{Bar, DutyId, OperatingPoint, Row, RowId, RowWidths, Section, SectionId};
use equirow::quantities::{
    Angle, ApplicationRate, Density, Flow, Length, Measure, Speed, Temperature, UnitSystem, Volume,
};

const INCH: f64 = 0.0254;
const FOOT: f64 = 0.3048;

fn us(measure: Measure, value: f64) -> f64 {
    measure.stored(value, UnitSystem::UsCustomary)
}

/// The target of one row of a bar with this spacing.
fn row_flow(rate: ApplicationRate, speed: Speed, spacing_m: f64) -> Flow {
    let row = Row {
        id: RowId(1),
        number: 1,
        section: SectionId(1),
        x: Length::ZERO,
        rank: 0,
        outlet_height: Length::ZERO,
        share: 1.0,
        left_out: false,
    };
    let bar = Bar { row_spacing: Length::metres(spacing_m), rows: vec![row.clone()], ..Bar::default() };
    let point = OperatingPoint {
        duty: DutyId(1),
        rate,
        speed,
        temperature: Temperature::from_si(20.0),
        side_slope: Angle::ZERO,
        fore_aft_slope: Angle::ZERO,
    };
    target(&bar, &row, &point)
}

fn near(ours: f64, published: f64, within: f64, source: &str) {
    assert!((ours - published).abs() <= within, "{source}: {ours} against {published}");
}

#[test]
fn row_flow_in_us_units() {
    let gallons = |flow: Flow| Measure::TotalFlow.shown(flow.si(), UnitSystem::UsCustomary);
    let speed = Speed::from_si(us(Measure::GroundSpeed, 6.0));
    // Iowa State University Extension, "Equipment considerations: liquid fertilizer": 150 lb N/ac of 28-0-0 at
    // 10.65 lb/gal is 50 gal/ac (exactly 50.302); a 40 ft boom at 6 mph then takes 24.4 gal/min.
    let gallons_acre = 150.0 / (0.28 * 10.65);
    near(gallons_acre, 50.302, 5e-4, "Iowa State, gal/ac");
    let rate = ApplicationRate::from_si(us(Measure::Rate, gallons_acre));
    near(gallons(row_flow(rate, speed, 40.0 * FOOT)), 24.4, 0.05, "Iowa State, boom");
    near(gallons(row_flow(rate, speed, 40.0 * FOOT)), 24.389, 5e-4, "Iowa State, boom, exact");
    near(
        gallons(row_flow(rate, speed, 20.0 * INCH)),
        1.0162,
        5e-5,
        "own arithmetic from the same, per 20 in outlet",
    );
    // University of Florida IFAS wg013: GPM = GPA · MPH · W[in] / 5940.
    let ten = ApplicationRate::from_si(us(Measure::Rate, 10.0));
    near(gallons(row_flow(ten, speed, 30.0 * INCH)), 10.0 * 6.0 * 30.0 / 5940.0, 1e-9, "Florida wg013");
}

#[test]
fn row_flow_in_metric_units() {
    // Own arithmetic: q = R·v·w[cm] / 60 000 follows from the definition of a rate per area; this checks our units.
    let speed = Speed::kilometres_per_hour(10.0);
    let flow = row_flow(ApplicationRate::litres_per_hectare(190.0), speed, 0.5);
    near(flow.as_litres_per_minute(), 190.0 * 10.0 * 50.0 / 60_000.0, 1e-12, "own arithmetic");
    // Alberta Agriculture, Crop Protection, p. 11: 40 L/ac at 9 km/h; 0.71 to 0.79 L/min are accepted, 0.75 ±5 %.
    // The 50 cm between outlets are our reading of that page.
    let rate = ApplicationRate::from_si(0.040 / (43_560.0 * FOOT * FOOT));
    let flow = row_flow(rate, Speed::kilometres_per_hour(9.0), 0.5);
    near(flow.as_litres_per_minute(), 0.7413, 5e-5, "Alberta, exact");
    assert!((0.71..=0.79).contains(&flow.as_litres_per_minute()), "Alberta, accepted band");
}

#[test]
fn courses_and_catches() {
    // Alberta Agriculture, the same page: 800 m at 8, 9, 10, 11, 12 km/h take 6:00, 5:20, 4:48, 4:22, 4:00.
    for (speed, seconds) in [(8.0, 360.0), (9.0, 320.0), (10.0, 288.0), (11.0, 262.0), (12.0, 240.0)] {
        let ours = targets::course_seconds(Length::metres(800.0), Speed::kilometres_per_hour(speed));
        near(ours, seconds, 0.5, "Alberta, timing");
    }
    // University of Georgia Extension (P. Sumner), Fertilizer Applicator Calibration: 214.9 ft for 19 in,
    // 340.3 ft for 12 in.
    for (inches, feet) in [(19.0, 214.9), (12.0, 340.3)] {
        near(targets::course_of_128th_acre(Length::metres(inches * INCH)).si() / FOOT, feet, 0.05, "Georgia");
    }
    // Over it, fluid ounces caught are gallons an acre (the same page).
    let width = Length::metres(30.0 * INCH);
    let caught = Volume::from_si(Measure::Volume.parse("17 fl oz", UnitSystem::UsCustomary).unwrap());
    let rate = targets::rate_of_catch(caught, width, targets::course_of_128th_acre(width));
    near(
        Measure::Rate.shown(rate.si(), UnitSystem::UsCustomary),
        17.0,
        1e-9,
        "Georgia, ounces are gallons an acre",
    );
    // Ontario government, ep75: over 50 m, L/ha = 0.2 · mL / spacing[m].
    let rate = targets::rate_of_catch(Volume::from_si(250e-6), Length::metres(0.5), Length::metres(50.0));
    near(rate.as_litres_per_hectare(), 0.2 * 250.0 / 0.5, 1e-9, "Ontario");
    // A catch and the flow behind it are one thing: what a row gives while it covers the course is the rate.
    let (rate, speed) = (ApplicationRate::litres_per_hectare(80.0), Speed::kilometres_per_hour(9.0));
    let distance = Length::metres(50.0);
    let caught = targets::caught_in(row_flow(rate, speed, 0.3), targets::course_seconds(distance, speed));
    near(
        targets::rate_of_catch(caught, Length::metres(0.3), distance).as_litres_per_hectare(),
        80.0,
        1e-9,
        "identity",
    );
}

#[test]
fn density_factors() {
    // University of Nebraska, "Setting the Sprayer Flow Rate for Non-Water Solutions" (2016): lb/gal and factor,
    // printed to two places; 30-0-0 from University of Georgia Extension. The same source's example: 20 GPA of
    // 28-0-0 are 22.6 GPA of water.
    let density = |pounds: f64| Density::from_si(us(Measure::Density, pounds));
    let water = density(8.34);
    for (pounds, factor) in [
        (8.34, 1.00),
        (9.0, 1.04),
        (10.0, 1.10),
        (10.65, 1.13),
        (10.80, 1.14),
        (11.0, 1.15),
        (11.06, 1.15),
        (11.4, 1.17),
        (11.5, 1.17),
        (11.6, 1.18),
        (12.0, 1.20),
    ] {
        near(targets::water_equivalent(density(pounds), water).si(), factor, 0.0055, "Nebraska, factor");
    }
    near(20.0 * targets::water_equivalent(density(10.65), water).si(), 22.6007, 5e-5, "Nebraska, example");
}

#[test]
fn an_uneven_row_takes_half_way_to_each_neighbour_and_an_outer_one_to_the_edge() {
    // Geometry: rows at 0, 0.2 and 0.6 m on a bar from -0.15 to 0.9 m stand for 0.25, 0.3 and 0.5 m: its width of 1.05 m.
    let row = |id: u32, x: f64| Row {
        id: RowId(id),
        number: id,
        section: SectionId(1),
        x: Length::metres(x),
        rank: 0,
        outlet_height: Length::ZERO,
        share: 1.0,
        left_out: false,
    };
    let rows = vec![row(1, 0.0), row(2, 0.2), row(3, 0.6)];
    let section = Section {
        id: SectionId(1),
        name: "centre".to_owned(),
        hinge: None,
        left: Length::metres(-0.15),
        right: Length::metres(0.9),
        members: Vec::new(),
    };
    let nominal = Bar {
        row_spacing: Length::metres(0.3),
        sections: vec![section],
        rows: rows.clone(),
        ..Bar::default()
    };
    let mut own = Bar { row_widths: RowWidths::HalfWidths, ..nominal.clone() };
    for left_out in [false, true] {
        // A row that is left out bounds its neighbours all the same.
        own.rows[1].left_out = left_out;
        for (row, wide) in own.rows.iter().zip([0.25, 0.3, 0.5]) {
            near(width(&own, row).si(), wide, 1e-12, "geometry");
            near(width(&nominal, row).si(), 0.3, 1e-12, "geometry");
        }
        near(strips_together(&own).si(), 1.05, 1e-12, "geometry");
    }
    // One beyond the edge covers nothing out there.
    own.sections[0].left = Length::metres(0.1);
    near(width(&own, &own.rows[0]).si(), 0.1, 1e-12, "geometry");
}
