//! Depth to volume and back, against tables and closed forms from elsewhere.

use proptest::prelude::*;
use quantity::{Length, Volume, cubic_metres, in_cubic_metres, in_metres, metres};
use site::strapping::{End, EndRatio, LevelError, Measure, ShapeError, StrapError, TankShape, strap_csv};
use std::f64::consts::PI;

/// Computed with `fluids.geometry.TANK` 1.3.1; see the head of the file.
const TABLE: &str = include_str!("data/tank_volume.csv");

const DISHED: End = End::Torispherical { crown_ratio: 1.0, knuckle_ratio: 0.06 };

fn at(shape: &TankShape, depth: f64) -> f64 {
    in_cubic_metres(shape.volume_at(metres(depth)).expect("a depth of this tank"))
}

fn full(shape: &TankShape) -> f64 {
    in_cubic_metres(shape.full_volume())
}

fn close(found: f64, expected: f64, relative: f64) {
    assert!((found - expected).abs() <= relative * expected.abs(), "{found} is not {expected}");
}

fn column<'a>(header: &csv::StringRecord, row: &'a csv::StringRecord, name: &str) -> &'a str {
    &row[header.iter().position(|found| found == name).expect("the column")]
}

fn parse(text: &str) -> (csv::StringRecord, Vec<csv::StringRecord>) {
    let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).from_reader(text.as_bytes());
    let header = reader.headers().expect("a header").clone();
    let rows = reader.records().map(|row| row.expect("a row")).collect();
    (header, rows)
}

/// Against `fluids.geometry.TANK` 1.3.1, all 210 rows, through the same door as the command line.
#[test]
fn every_row_of_the_reference_table() {
    let (header, expected) = parse(TABLE);
    let (out_header, found) = parse(&strap(TABLE).unwrap());
    assert_eq!(header, out_header, "volume_m3 is rewritten in its place, and no row fails");
    assert_eq!((expected.len(), found.len()), (210, 210));
    for (row, computed) in expected.iter().zip(&found) {
        let wanted: f64 = column(&header, row, "volume_m3").parse().unwrap();
        let got: f64 = column(&header, computed, "volume_m3").parse().unwrap();
        // The table's depths are rounded to 1e-6 m as well: half of that over the widest surface is another
        // 2.3e-6 m³ in V4, whose depths are not round numbers.
        let wide: f64 = column(&header, row, "inside_diameter_m").parse().unwrap();
        let irregular = column(&header, row, "tank_id") == "V4";
        let rounding = if irregular { 5.1e-7 * PI * wide * wide / 4.0 } else { 0.0 };
        let tolerance = (1e-6 * wanted).max(2e-6).max(rounding);
        assert!((got - wanted).abs() <= tolerance, "{row:?}: {got}");
        for name in header.iter().filter(|name| *name != "volume_m3") {
            assert_eq!(column(&header, row, name), column(&header, computed, name), "passed on untouched");
        }
    }
}

/// Full heights and volumes printed in the project's reference notes (`instruments.md`, section 7).
#[test]
fn full_heights_and_volumes() {
    let upright = |d, l, bottom| TankShape::vertical(metres(d), metres(l), bottom).unwrap();
    let lying = |d, l, end| TankShape::horizontal(metres(d), metres(l), end, end).unwrap();
    let cone = |depth| End::Conical { depth: metres(depth) };
    let bowl = |depth| End::Elliptical { depth: metres(depth) };
    let tanks = [
        (upright(3.0, 4.0, End::Flat), 4.0, 28.274334),
        (upright(2.59, 3.6, cone(0.75)), 4.35, 20.283838),
        (upright(3.66, 5.0, cone(1.83)), 6.83, 59.022135),
        (upright(2.4, 3.0, DISHED), 3.40641, 14.691410),
        (upright(2.4, 3.0, bowl(0.6)), 3.6, 15.381238),
        (lying(2.4, 6.0, End::Flat), 2.4, 27.143361),
        (lying(2.4, 6.0, bowl(0.6)), 2.4, 30.762475),
        (lying(2.0, 5.0, End::Hemispherical), 2.0, 19.896753),
        (lying(2.4, 6.0, DISHED), 2.4, 29.382821),
        (lying(1.8, 4.2, cone(0.3)), 1.8, 11.196636),
    ];
    for (tank, height, volume) in tanks {
        assert!((in_metres(tank.full_height()) - height).abs() < 5e-6, "{tank:?}");
        assert!((full(&tank) - volume).abs() < 1e-6, "{tank:?}: {}", full(&tank));
    }
}

/// The circle segment r² acos((r−h)/r) − (r−h) √(2rh−h²) times length, worked in `instruments.md`.
#[test]
fn lying_cylinder_by_the_textbook_segment() {
    let tank = TankShape::horizontal(metres(2.4), metres(6.0), End::Flat, End::Flat).unwrap();
    for (depth, volume) in [(0.6, 5.306557), (1.2, 13.571680), (1.8, 21.836803)] {
        assert!((at(&tank, depth) - volume).abs() < 1e-6);
    }
}

/// Spherical caps π h² (R − h/3): a hemisphere can be written as five different ends.
#[test]
fn a_hemisphere_is_a_hemisphere_however_it_is_written() {
    let r = 1.3;
    let ends = [
        End::Hemispherical,
        End::Elliptical { depth: metres(r) },
        End::Torispherical { crown_ratio: 0.5, knuckle_ratio: 0.2 },
        End::Torispherical { crown_ratio: 2.0, knuckle_ratio: 0.5 },
        End::Torispherical { crown_ratio: 0.5, knuckle_ratio: 0.5 },
        End::Torispherical { crown_ratio: 0.5, knuckle_ratio: 0.0 },
    ];
    for end in ends {
        let upright = TankShape::vertical(metres(2.0 * r), metres(1.0), end).unwrap();
        let lying = TankShape::horizontal(metres(2.0 * r), metres(1e-9), end, end).unwrap();
        for step in 1..=40 {
            let h = f64::from(step) / 20.0 * r;
            let cap = PI * h * h * (r - h / 3.0);
            close(at(&lying, h), cap, 3e-9);
            if h <= r {
                close(at(&upright, h), cap, 1e-10);
            }
        }
    }
}

/// Half of an end lies below the middle, whatever its shape; the integrated ends must meet their closed volume.
#[test]
fn half_full_is_half_the_volume() {
    for (f, k) in [(1.0, 0.06), (1.0, 0.1), (0.8, 0.154), (0.6, 0.3), (3.0, 0.02), (1.0, 0.0)] {
        let end = End::Torispherical { crown_ratio: f, knuckle_ratio: k };
        // A hair below the middle, where the volume still comes from the integral.
        let tank = TankShape::horizontal(metres(2.0), metres(1e-6), end, end).unwrap();
        let below = at(&tank, 1.0 - 1e-13);
        close(below, 0.5 * full(&tank), 1e-10);
    }
}

/// A plain midpoint sum over 4000 slices along the axis, written here, of the profile of a dished end.
#[test]
fn lying_dished_end_by_a_plain_sum() {
    let (radius, crown, knuckle) = (1.2, 2.4, 0.144);
    let sine = (radius - knuckle) / (crown - knuckle);
    let cosine = f64::sqrt(1.0 - sine * sine);
    let depth = crown - (crown - knuckle) * cosine;
    let joint = knuckle * cosine;
    let profile = |z: f64| {
        if z < joint {
            radius - knuckle + f64::sqrt(knuckle * knuckle - z * z)
        } else {
            let x = z + crown - depth;
            f64::sqrt((crown * crown - x * x).max(0.0))
        }
    };
    let tank = TankShape::horizontal(metres(2.4), metres(6.0), DISHED, DISHED).unwrap();
    let bare = TankShape::horizontal(metres(2.4), metres(6.0), End::Flat, End::Flat).unwrap();
    for h in [0.05, 0.3, 0.77, 1.1, 1.9, 2.35] {
        let slices = 40_000;
        let dz = depth / f64::from(slices);
        let sum: f64 = (0..slices)
            .map(|i| {
                let rho = profile((f64::from(i) + 0.5) * dz);
                let y = (h - radius).clamp(-rho, rho);
                (rho * rho * f64::acos(-y / rho) + y * f64::sqrt(rho * rho - y * y)) * dz
            })
            .sum();
        close(0.5 * (at(&tank, h) - at(&bare, h)), sum, 2e-6);
    }
}

/// The same for a lying cone: midpoint sum over slices along the axis.
#[test]
fn lying_cone_by_a_plain_sum() {
    let (radius, depth) = (0.9, 0.3);
    let cone = End::Conical { depth: metres(depth) };
    let tank = TankShape::horizontal(metres(1.8), metres(4.2), cone, cone).unwrap();
    let bare = TankShape::horizontal(metres(1.8), metres(4.2), End::Flat, End::Flat).unwrap();
    for h in [0.02, 0.03, 0.041, 0.2, 0.6, 0.9, 1.4, 1.79] {
        let slices = 40_000;
        let dz = depth / f64::from(slices);
        let sum: f64 = (0..slices)
            .map(|i| {
                let rho = radius * (f64::from(i) + 0.5) / f64::from(slices);
                let y = (h - radius).clamp(-rho, rho);
                (rho * rho * f64::acos(-y / rho) + y * f64::sqrt(rho * rho - y * y)) * dz
            })
            .sum();
        close(0.5 * (at(&tank, h) - at(&bare, h)), sum, 2e-6);
    }
}

#[test]
fn the_two_ends_may_differ() {
    let mixed = TankShape::horizontal(metres(2.0), metres(3.0), DISHED, End::Flat).unwrap();
    let both = TankShape::horizontal(metres(2.0), metres(3.0), DISHED, DISHED).unwrap();
    let none = TankShape::horizontal(metres(2.0), metres(3.0), End::Flat, End::Flat).unwrap();
    for h in [0.2, 1.0, 1.7] {
        close(at(&mixed, h), 0.5 * (at(&both, h) + at(&none, h)), 1e-12);
    }
    close(in_cubic_metres(DISHED.volume(metres(2.0))), full(&mixed) - full(&none), 1e-12);
}

#[test]
fn refuses_measures_that_cannot_be_built() {
    for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert!(matches!(
            TankShape::vertical(metres(bad), metres(1.0), End::Flat),
            Err(ShapeError::Size { what: Measure::Diameter, .. })
        ));
        assert!(TankShape::vertical(metres(1.0), metres(bad), End::Flat).is_err());
        assert!(TankShape::vertical(metres(1.0), metres(1.0), End::Conical { depth: metres(bad) }).is_err());
        let end = End::Elliptical { depth: metres(bad) };
        assert!(TankShape::horizontal(metres(1.0), metres(1.0), End::Flat, end).is_err());
        let end = End::Torispherical { crown_ratio: bad, knuckle_ratio: 0.06 };
        assert!(matches!(
            TankShape::vertical(metres(1.0), metres(1.0), end),
            Err(ShapeError::Ratio { what: EndRatio::Crown, .. })
        ));
    }
    let end = End::Torispherical { crown_ratio: 1.0, knuckle_ratio: 0.51 };
    let error = TankShape::vertical(metres(1.0), metres(1.0), end).unwrap_err();
    assert_eq!(
        error.to_string(),
        "site.tank.ratio (what = site.tank.knuckle_ratio, value = 0.51, low = 0, high = 0.5)"
    );
}

#[test]
fn refuses_depths_and_volumes_outside_the_tank() {
    let tank = TankShape::vertical(metres(3.0), metres(4.0), End::Flat).unwrap();
    for bad in [-0.001, 4.001, f64::NAN, f64::INFINITY] {
        assert!(matches!(tank.volume_at(metres(bad)), Err(LevelError::Depth { .. })), "{bad}");
    }
    for bad in [-0.001, 28.3, f64::NAN] {
        assert!(matches!(tank.depth_of(cubic_metres(bad)), Err(LevelError::Volume { .. })), "{bad}");
    }
    close(at(&tank, 4.0 + 1e-9), full(&tank), 1e-15);
    assert!(at(&tank, -1e-9).abs() < 1e-15);
    let error = tank.volume_at(metres(5.0)).unwrap_err();
    assert_eq!(error.to_string(), "site.tank.depth_outside (depth = 5 m, height = 4 m)");
}

/// The table worked out, with reasons as a log would have them.
fn strap(text: &str) -> Result<String, StrapError> {
    strap_csv(text, ToString::to_string)
}

const HEADER: &str = "tank_id,inside_diameter_m,straight_length_m,orientation,end_A_shape,end_A_depth_m,\
                      end_B_shape,end_B_depth_m,tori_crown_ratio_f,tori_knuckle_ratio_k,liquid_depth_m";

#[test]
fn a_bad_row_keeps_its_place_and_says_what_is_accepted() {
    let rows = [
        ("#1,3,4,vertical,flat,,flat,,,,2", ""),
        ("a,-3,4,vertical,flat,,flat,,,,2", "site.strap.above_zero (column = inside_diameter_m, given = -3)"),
        (
            "b,3,4,vertical,flat,,flat,,,,9",
            "site.strap.depth (column = liquid_depth_m, depth = 9, height = 4)",
        ),
        (
            "c,3,4,sideways,flat,,flat,,,,2",
            "site.strap.word (column = orientation, given = sideways, accepted = vertical, horizontal)",
        ),
        (
            "d,3,4,vertical,round,,flat,,,,2",
            "site.strap.word (column = end_A_shape, given = round, accepted = flat, ellipsoidal (or elliptical), hemispherical, conical, torispherical)",
        ),
        ("e,3,4,vertical,conical,,flat,,,,2", "site.strap.number (column = end_A_depth_m, given = )"),
        (
            "f,3,4,vertical,torispherical,,flat,,0.2,0.06,2",
            "site.strap.ratio (column = tori_crown_ratio_f, given = 0.2, low = 0.5, high = 10)",
        ),
        (
            "g,3,4,vertical,flat,0.4,flat,,,,2",
            "site.strap.end_depth (column = end_A_depth_m, given = 0.4, shape = flat, depth = 0)",
        ),
        ("h,3,4,vertical,flat,,conical,1,,,2", "site.strap.top (column = end_B_shape, given = conical)"),
        ("i,3,4,vertical,flat,,flat,,,,deep", "site.strap.number (column = liquid_depth_m, given = deep)"),
        (
            "j,3,4",
            "site.strap.word (column = end_A_shape, given = , accepted = flat, ellipsoidal (or elliptical), hemispherical, conical, torispherical)",
        ),
    ];
    let text = std::iter::once(HEADER).chain(rows.iter().map(|row| row.0)).collect::<Vec<_>>().join("\n");
    let out = strap(&text).unwrap();
    let (header, found) = parse(&out.replace("#1", "1"));
    assert_eq!(header.iter().rev().take(2).collect::<Vec<_>>(), ["error", "volume_m3"]);
    for (row, (_, error)) in found.iter().zip(rows) {
        assert_eq!(column(&header, row, "error"), error);
        assert_eq!(column(&header, row, "volume_m3").is_empty(), !error.is_empty());
    }
    assert_eq!(found.len(), rows.len());
    assert!(out.contains("#1,3,4,vertical,flat,,flat,,,,2,14.137166941,\n"), "{out}");
    assert_eq!(strap(&out).unwrap(), out, "running it again changes nothing");
}

#[test]
fn no_error_column_when_every_row_works() {
    let out = strap(&format!("{HEADER}\nx,3,4,Vertical,Flat,0,FLAT,,,,4.0\n")).unwrap();
    assert_eq!(out, format!("{HEADER},volume_m3\nx,3,4,Vertical,Flat,0,FLAT,,,,4.0,28.274333882\n"));
}

#[test]
fn refuses_a_table_with_a_missing_column() {
    let error = strap(&HEADER.replace("liquid_depth_m", "liquid_dept_m")).unwrap_err();
    assert!(matches!(&error, StrapError::MissingColumn { missing: "liquid_depth_m", .. }));
    let text = error.to_string();
    assert!(
        text.starts_with("site.strap.misspelt (column = liquid_depth_m, found = tank_id, inside_diameter_m")
    );
    assert!(text.ends_with(", name = liquid_dept_m)"), "{text}");
    assert_eq!(strap("").unwrap_err(), StrapError::Empty);
    let twice = format!("{HEADER},liquid_depth_m");
    assert_eq!(strap(&twice).unwrap_err(), StrapError::Twice("liquid_depth_m".into()));
    let wide = format!("# note\n{HEADER}\na,b, too wide,3,4,vertical,flat,,flat,,,,2\n");
    assert_eq!(strap(&wide).unwrap_err(), StrapError::TooWide { line: 3, fields: 13, expected: 11 });
}

fn end() -> impl Strategy<Value = End> {
    prop_oneof![
        Just(End::Flat),
        Just(End::Hemispherical),
        (0.05..3.0_f64).prop_map(|depth| End::Elliptical { depth: metres(depth) }),
        (0.05..3.0_f64).prop_map(|depth| End::Conical { depth: metres(depth) }),
        (0.5..4.0_f64, 0.0..0.5_f64)
            .prop_map(|(crown_ratio, knuckle_ratio)| End::Torispherical { crown_ratio, knuckle_ratio }),
    ]
}

fn shape() -> impl Strategy<Value = TankShape> {
    (0.3..12.0_f64, 0.2..30.0_f64, end(), end(), any::<bool>()).prop_map(|(d, l, a, b, upright)| {
        let (d, l): (Length, Length) = (metres(d), metres(l));
        if upright { TankShape::vertical(d, l, a) } else { TankShape::horizontal(d, l, a, b) }
            .expect("a tank")
    })
}

/// A length that no tank has is refused: its volume would be no number.
#[test]
fn a_tank_beyond_any_is_refused() {
    let of =
        |diameter: f64, straight: f64| TankShape::vertical(metres(diameter), metres(straight), End::Flat);
    assert!(of(10_000.0, 10_000.0).is_ok_and(|shape| in_cubic_metres(shape.full_volume()).is_finite()));
    for (diameter, straight) in [(10_000.1, 1.0), (1.0, 1e308), (1e200, 1.0), (f64::NAN, 1.0), (0.0, 1.0)] {
        let refused = of(diameter, straight).unwrap_err();
        assert!(matches!(refused, ShapeError::Size { .. }), "{refused}");
    }
}

proptest! {
    #[test]
    fn volume_rises_with_depth(tank in shape(), a in 0.0..1.0_f64, b in 0.0..1.0_f64) {
        let height = in_metres(tank.full_height());
        let (low, high) = (a.min(b) * height, a.max(b) * height);
        prop_assert!(at(&tank, low) <= at(&tank, high) * (1.0 + 1e-12));
        if high - low > 1e-6 * height {
            prop_assert!(at(&tank, low) < at(&tank, high));
        }
        prop_assert!(at(&tank, high) <= full(&tank) * (1.0 + 1e-12));
    }

    #[test]
    fn depth_of_undoes_volume_at(tank in shape(), share in 0.0..=1.0_f64) {
        let height = in_metres(tank.full_height());
        let depth = share * height;
        let volume: Volume = tank.volume_at(metres(depth)).unwrap();
        let back = in_metres(tank.depth_of(volume).unwrap());
        prop_assert!((at(&tank, back) - in_cubic_metres(volume)).abs() <= 1e-12 * full(&tank));
        // Away from tips and from the top of lying tanks the depth itself comes back too.
        if (0.1..0.95).contains(&share) {
            prop_assert!((back - depth).abs() <= 1e-9 * height, "{} {}", back, depth);
        }
    }

    #[test]
    fn any_text_gives_an_answer(text in ".{0,200}") {
        let _ = strap(&text);
        let _ = strap(&format!("{HEADER}\n{text}"));
    }
}
