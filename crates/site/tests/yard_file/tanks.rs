//! Tanks: shapes, room, nameplates, and units that were mixed up.

use crate::small::{SMALL, accepted, near, one_wrong, only, shown, what, yard};
use quantity::{in_cubic_metres, in_feet, in_gallons};

#[test]
fn fractions_and_per_cents_mixed_up() {
    let add = |table: &str, line: &str| only(&format!("{SMALL}\n[{table}]\n{line}\n"));
    assert_eq!(what(&add("salt", "purity_pct = 0.96")), "site.file.fraction (write = 96)");
    assert_eq!(what(&add("salt", "purity_pct = 1")), "site.file.fraction (write = 100)");
    assert_eq!(what(&add("policy", "waste_share = 5")), "site.file.percent (write = 0.05)");
    let problem = one_wrong("making_rate_gal_h = 3000", "making_rate_gal_h = 3000\nspec_low_pct = 0.228");
    assert_eq!(what(&problem), "site.file.fraction (write = 22.8)");
    let problem = one_wrong("diameter_ft = 12", "diameter_ft = 12\nfreeboard_pct = 0.05");
    assert_eq!(what(&problem), "site.file.fraction (write = 5)");
    let problem =
        one_wrong("diameter_ft = 12", "diameter_ft = 12\nopening_gal = 900\nopening_strength_pct = 0.231");
    assert_eq!(what(&problem), "site.file.fraction (write = 23.1)");
    // Half a per cent of moisture is dry salt, not a slip.
    near(yard(&format!("{SMALL}\n[salt]\nmoisture_pct = 0.5\n")).salt.moisture.percent(), 0.5);
}

#[test]
fn gallons_and_litres_mixed_up() {
    // The tank of the small yard holds 11,844 gal, 44,836 L.
    let plate = |line: &str| one_wrong("diameter_ft = 12", &format!("diameter_ft = 12\n{line}"));
    let problem = plate("nameplate_gal = 44800");
    assert!(
        what(&problem)
            .starts_with("site.tank.plate (guess = site.tank.plate.litres (percent = 25), plate = 169.58"),
        "{problem}"
    );
    assert!(what(&problem).contains("full = 44.83"), "{problem}");
    assert!(
        what(&plate("nameplate_l = 12000")).starts_with("site.tank.plate (guess = site.tank.plate.gallons ")
    );
    assert!(
        what(&plate("nameplate_gal = 3200")).starts_with("site.tank.plate (guess = site.tank.plate.twice ")
    );
    assert!(
        what(&plate("nameplate_m3 = 170")).starts_with("site.tank.plate (guess = site.tank.plate.mixed_up ")
    );
    assert!(
        what(&plate("nameplate_gal = 8000"))
            .starts_with("site.tank.plate (guess = site.tank.plate.far (percent = 25)")
    );
    for good in ["nameplate_gal = 12000", "nameplate_l = 45000", "nameplate_m3 = 50"] {
        yard(&SMALL.replace("diameter_ft = 12", &format!("diameter_ft = 12\n{good}")));
    }
    let problem = one_wrong("tank_gal = 1800", "tank_gal = 6800");
    assert_eq!(what(&problem), "site.file.litres (write = tank_l = 6800)");
    assert_eq!(
        accepted(&problem).as_deref(),
        Some("site.accepted.quantity (low = 20, high = 6500, unit = gal)")
    );
    let problem = one_wrong("tank_gal = 1800", "tank_gal = 68000");
    assert_eq!(what(&problem), "site.file.too_large");
    let problem = one_wrong("tank_gal = 1800", "tank_l = 30000");
    assert_eq!(
        accepted(&problem).as_deref(),
        Some("site.accepted.quantity (low = 75.71, high = 24610, unit = L)")
    );
}

#[test]
fn room_in_a_tank() {
    let tank = |lines: &str| one_wrong("diameter_ft = 12", &format!("diameter_ft = 12\n{lines}"));
    let problem = tank("opening_gal = 11500");
    assert_eq!(problem.key, "tank[1].opening_gal");
    let room = accepted(&problem).unwrap();
    assert!(room.starts_with("site.tank.room (most = 42.59"), "{room}");
    let problem = tank("heel_gal = 11400");
    assert!(what(&problem).contains("full = 44.83"), "{problem}");
    assert!(what(&tank("freeboard_gal = 11900")).starts_with("site.tank.no_room"));
    assert!(what(&tank("freeboard_gal = 600\nfreeboard_pct = 5")).starts_with("site.tank.freeboard_twice"));
    assert!(what(&tank("opening_strength_pct = 23")).contains("why = site.why.opening"));
    let full =
        yard(&SMALL.replace("diameter_ft = 12", "diameter_ft = 12\nopening_gal = 9000\nfreeboard_l = 400"));
    let opening = full.tanks[0].opening.unwrap();
    near(in_gallons(opening.volume), 9000.0);
    near(opening.strength.unwrap().percent(), 23.3);
    near(in_cubic_metres(full.tanks[0].freeboard), 0.4);
}

#[test]
fn shapes_and_the_keys_that_go_with_them() {
    let tank = |lines: &str| SMALL.replace("orientation = \"vertical\"", lines);
    let wrong = |lines: &str| shown(&only(&tank(lines)));
    assert!(
        wrong("orientation = \"vertical\"\nends = \"flat\"")
            .contains("site.tank.ends_of_vertical (use_key = bottom)")
    );
    assert!(
        wrong("orientation = \"horizontal\"\nbottom = \"flat\"")
            .contains("site.tank.bottom_of_horizontal (use_key = ends)")
    );
    assert!(
        wrong("orientation = \"vertical\"\nbottom = \"conical\"")
            .contains("tank[1].end_depth_ft: site.file.missing_because")
    );
    assert!(
        wrong("orientation = \"vertical\"\nend_depth_ft = 2")
            .contains("site.tank.depth_of_deep_ends (ends = flat)")
    );
    assert!(
        wrong("orientation = \"vertical\"\nbottom = \"flat\"\ncrown_ratio = 1")
            .contains("site.tank.ratio_of_dished_ends (ends = flat)")
    );
    let dished = "orientation = \"vertical\"\nbottom = \"torispherical\"";
    assert!(wrong(&format!("{dished}\nknuckle_ratio = 6")).contains("site.file.percent (write = 0.06)"));
    let problem = only(&tank("orientation = \"vertical\"\nbottom = \"elipticall\"\n"));
    assert_eq!(problem.suggestion.as_deref(), Some("elliptical"));
    // The dished bottom of tank V4 in tests/data/tank_volume.csv (fluids 1.3.1): 1.119730 m³ on 2.4 m.
    let text = tank(dished).replace("diameter_ft = 12", "diameter_m = 2.4");
    let text = text.replace("straight_height_ft = 14", "straight_height_m = 3.0");
    let found = in_cubic_metres(yard(&text).tanks[0].shape.full_volume());
    assert!((found - 14.691410).abs() < 1e-6, "{found}");
    let lying = tank("orientation = \"horizontal\"\nends = \"hemispherical\"");
    let full = in_feet(yard(&lying).tanks[0].shape.full_height());
    near(full, 12.0);
}
