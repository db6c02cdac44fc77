//! `road` and `treat`.

use super::folder::*;

/// Two clear, calm nights and the day between, as a station tells them.
fn week(humidity_at_3: &str) -> String {
    let mut text = String::from(
        "# times are the start of the hour\ntime_utc,air_temp_c,rel_humidity_pct,wind_speed_m_s,cloud_pct,precip_mm\n",
    );
    for hour in 0..48 {
        let humidity = if hour == 3 { humidity_at_3 } else { "85" };
        let air = -4.0 + 4.0 * (f64::from(hour - 9) * std::f64::consts::TAU / 24.0).sin();
        let (day, clock) = (10 + hour / 24, hour % 24);
        text.push_str(&format!("2026-01-{day}T{clock:02}:00Z,{air:.1},{humidity},1,5,0\n"));
    }
    text
}

fn rows(csv: &str, column: &str) -> Vec<f64> {
    let mut lines = csv.lines();
    let at = lines.next().unwrap().split(',').position(|name| name == column).unwrap();
    lines.map(|line| line.split(',').nth(at).unwrap().parse().unwrap()).collect()
}

/// A road is worked out from a weather file alone; a reading moves what comes after it, and one 20 K off does not.
#[test]
fn a_road_is_worked_out_and_corrected() {
    let folder = Folder::new();
    folder.write("week.csv", &week("85"));
    let road = [
        "road",
        "week.csv",
        "--latitude-deg",
        "43",
        "--longitude-deg",
        "-75",
        "--issued",
        "2026-01-10T12:00Z",
    ];
    let plain = folder.expect(&road, 0, &[]);
    let surface = rows(&plain, "surface_c");
    assert_eq!(surface.len(), 48);
    // Under a clear sky a calm night's road is colder than the air, never by more than 10 K.
    assert!((-18.0..-8.0).contains(&surface[8]), "{}", surface[8]);
    for (low, high) in rows(&plain, "surface_c_p10").iter().zip(rows(&plain, "surface_c_p90")) {
        assert!(*low < high);
    }
    let expected = rows(&plain, "surface_end_c")[10];
    folder.write("read.csv", &format!("time,surface_c\n2026-01-10T11:00Z,{}\n", expected - 2.0));
    let with = |name: &'static str| [&road[..], &["--readings", name]].concat();
    let read = rows(&folder.expect(&with("read.csv"), 0, &[]), "surface_end_c");
    assert!((read[12] - rows(&plain, "surface_end_c")[12] + 1.4).abs() < 0.5, "{}", read[12]);
    folder.write("off.csv", &format!("time,surface_c\n2026-01-10T11:00Z,{}\n", expected + 20.0));
    let off = rows(&folder.expect(&with("off.csv"), 0, &["too far from what was expected"]), "surface_end_c");
    assert!((off[12] - rows(&plain, "surface_end_c")[12]).abs() < 1e-9);
}

/// Each wrong thing is one sentence, and nothing is made up in its place.
#[test]
fn what_is_wrong_with_a_road_is_told() {
    let folder = Folder::new();
    folder.write("damp.csv", &week("109"));
    folder.expect(&["road", "damp.csv"], 0, &["impossible relative humidity: line 6: 109"]);
    folder.write("knots.csv", &week("85").replace("wind_speed_m_s", "wind_speed"));
    folder.expect(&["road", "knots.csv"], 2, &["wind_speed", "wind_speed_m_s|mph|km_h|kn"]);
    folder.write("week.csv", &week("85"));
    folder.expect(&["road", "week.csv", "--sky-view", "1.5"], 2, &["--sky-view = 1.5: accepted: 0.05…1"]);
    folder.write("read.csv", "time,surface_c\nyesterday,3\n");
    let readings = ["road", "week.csv", "--readings", "read.csv"];
    folder.expect(&readings, 2, &["read.csv: line 2: time = yesterday: not a time"]);
    folder.write("read.csv", "time,surface_c\n2026-01-10T11:00Z,300\n");
    folder.expect(&readings, 2, &["line 2: surface_c = 300: accepted: -60…80"]);
    folder.write("read.csv", "time,surface_c,instrument\n2026-01-10T11:00Z,-3,finger\n");
    folder.expect(&readings, 2, &["instrument = finger", "infrared, vehicle_infrared, station"]);
}

/// Rates are the published table's; rain that freezes is not brined, and a road below brine's limit is plowed.
#[test]
fn one_condition_gets_one_answer() {
    let folder = Folder::new();
    let says = |args: &[&str], parts: &[&str]| {
        let told = folder.expect(&[&["treat"][..], args].concat(), 0, &[]);
        for part in parts {
            assert!(told.contains(part), "{args:?}: no \"{part}\" in: {told}");
        }
    };
    // TxDOT San Antonio: 30 to 60 gal ahead.
    says(&["--surface-f", "28", "--before"], &["Brine:", "30 to 60 gal"]);
    // Maine's table A: 250 to 350 lb prewet at 20 to 25 °F.
    says(&["--surface-f", "24", "--lies", "damp"], &["250 to 350 lb", "First ice in it after"]);
    says(&["--surface-f", "5"], &["Plow only"]);
    says(&["--surface-f", "40", "--falls", "rain"], &["Nothing to put down now"]);
    let json = folder.expect(&["treat", "--surface-f", "24", "--json"], 0, &[]);
    let told: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(told["form"], "prewet_salt");
    let hours = &told["holds_to_first_ice"];
    assert!(hours["p10_h"].as_f64().unwrap() <= hours["p90_h"].as_f64().unwrap());
    let wet = ["treat", "--surface-f", "24", "--humidity-pct", "109"];
    folder.expect(&wet, 2, &["--humidity-pct = 109: accepted: 1…100"]);
}
