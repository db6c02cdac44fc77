//! Correcting, policy, routes and crews.

use crate::small::{SMALL, near, one_wrong, only, what, yard};
use quantity::{in_cubic_metres, in_feet, in_kilograms, in_pounds, minutes};

#[test]
fn what_a_tank_is_put_right_with() {
    let left_out = yard(SMALL).put_right;
    assert!(left_out.bucket.is_none() && left_out.circulation_rate.is_none());
    assert!(left_out.transfer_rate.is_none());
    near(left_out.turnovers, 3.0);
    let given = |lines: &str| format!("{SMALL}\n[put_right]\n{lines}\n");
    let read =
        yard(&given("bucket_tons = 2.7\ncirculation_l_min = 600\nturnovers = 0.5\ntransfer_m3_h = 45"));
    near(in_pounds(read.put_right.bucket.unwrap()), 5400.0);
    near(in_cubic_metres(read.put_right.circulation_rate.unwrap() * minutes(1.0)), 0.6);
    near(in_cubic_metres(read.put_right.transfer_rate.unwrap() * minutes(60.0)), 45.0);
    near(read.put_right.turnovers, 0.5);
    near(in_kilograms(yard(&given("bucket_kg = 2400")).put_right.bucket.unwrap()), 2400.0);
    near(yard(&given("turnovers = 20")).put_right.turnovers, 20.0);
    for (line, message) in [
        ("turnovers = 0.4", "site.file.too_small"),
        ("turnovers = 21", "site.file.too_large"),
        ("bucket_lb = 0", "site.file.above_zero"),
        ("circulation_gpm = 0", "site.file.above_zero"),
        ("transfer_gpm = 9000", "site.file.too_large"),
    ] {
        let problem = only(&given(line));
        assert_eq!(what(&problem), message, "{problem}");
    }
    let problem = only(&given("bucket_lb = 5400\nbucket_kg = 2400"));
    assert_eq!(what(&problem), "site.file.given_as_well (key = bucket_lb)");
}

#[test]
fn what_must_be_in_order() {
    let plant =
        |line: &str| one_wrong("making_rate_gal_h = 3000", &format!("making_rate_gal_h = 3000\n{line}"));
    let problem = plant("target_strength_pct = 20");
    assert_eq!(what(&problem), "site.file.target_above (target = 20, bound = 22.8)");
    assert_eq!(plant("spec_high_pct = 23").key, "plant.spec_high_pct");
    assert_eq!(what(&plant("spec_high_pct = 27")), "site.file.too_large");
    assert_eq!(plant("rate_loss_pct_per_f = 5\nwater_temp_f = 35").key, "plant.rate_loss_pct_per_f");
    let policy = |lines: &str| only(&format!("{SMALL}\n[policy]\n{lines}\n"));
    assert_eq!(what(&policy("block_below_f = 25")), "site.file.not_above (other = warn_below)");
    assert_eq!(what(&policy("warn_below_c = -12")), "site.file.not_below (other = block_below)");
    assert_eq!(policy("lead_min_h = 30").key, "policy.lead_min_h");
    assert!(
        what(&policy("rates_on = [\"a\"]\nrates_off = [\"b\", \"a\"]"))
            .contains("site.file.rate_on_and_off (rate = a)")
    );
    assert_eq!(what(&policy("rates_on = [1]")), "site.file.list");
}

#[test]
fn lanes_and_lane_length() {
    let problem = one_wrong("lanes = 2", "lanes = 2\nlane_miles = 25");
    assert_eq!(what(&problem), "site.file.lane_length (percent = 10, miles = 20, km = 32.19)");
    near(
        in_feet(yard(&SMALL.replace("lanes = 2", "lanes = 2\nlane_miles = 21")).routes[0].lane_length),
        21.0 * 5280.0,
    );
    near(yard(&SMALL.replace("lanes = 2", "lane_km = 40.2336")).routes[0].lanes, 2.5);
    assert!(what(&one_wrong("lanes = 2\n", "")).contains("why = site.why.lane_length"));
}

#[test]
fn hours_of_the_day() {
    let crew = |hours: &str| format!("{SMALL}\n[crew]\nmaking_hours = \"{hours}\"\n");
    let good = yard(&crew("6:00 - 14:00")).crew;
    assert_eq!((good.making_from_hour, good.making_to_hour), (6, 14));
    for (bad, why) in [
        ("06:30-22:00", "hours.whole"),
        ("06:00-25:00", "hours.past"),
        ("06:00", "hours.shape"),
        ("6-22", "hours.shape"),
        ("06:00-06:00", "hours.same"),
        ("24:00-06:00", "hours.from_24"),
        ("-1:00-06:00", "hours.shape"),
    ] {
        let problem = only(&crew(bad));
        assert!(what(&problem).contains(why), "{problem}");
        assert_eq!(problem.line, 37);
    }
}
