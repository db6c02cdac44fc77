//! The least yard file, and how a test looks at what is wrong with one.

use site::Yard;
use site::yard_file::{Problem, read_yard};

/// The least a yard can be, in gallons and feet.
pub const SMALL: &str = r#"format = 1

[yard]
name = "Alder Creek yard"
time_zone = "America/Denver"

[plant]
making_rate_gal_h = 3000
water_rate_gpm = 60

[[tank]]
id = "T1"
orientation = "vertical"
diameter_ft = 12
straight_height_ft = 14

[loading]
pump_rate_gpm = 200

[[route_class]]
id = "main"
anti_icing = true
cycle_h = 1.5

[[truck]]
id = "K1"
tank_gal = 1800
spray_speed_mph = 30

[[route]]
id = "R1"
class = "main"
length_mi = 10
lanes = 2
"#;

/// The same yard, in SI.
pub const SMALL_SI: &str = r#"format = 1

[yard]
name = "Alder Creek yard"
time_zone = "America/Denver"
units = "si"
elevation_m = 0

[plant]
making_rate_m3_h = 11.356235352
rated_water_temp_c = 15.5555555555555556
rate_loss_pct_per_c = 0
water_rate_l_min = 227.12470704
start_up_h = 0.3333333333333333
settle_and_test_h = 1
water_usd_per_m3 = 0

[salt]
on_hand_kg = 0
usd_per_t = 0

[[tank]]
id = "T1"
orientation = "vertical"
diameter_mm = 3657.6
straight_height_m = 4.2672

[loading]
pump_rate_l_min = 757.0823568
hook_up_h = 0.0666666666666667

[[route_class]]
id = "main"
anti_icing = true
cycle_min = 90

[[truck]]
id = "K1"
tank_l = 6813.7412112
spray_speed_km_h = 48.28032

[[route]]
id = "R1"
class = "main"
length_km = 16.09344
lanes = 2
drive_h = 0.1666666666666667

[policy]
lead_min_min = 60
lead_max_min = 1440
block_below_c = -9.4444444444444444
warn_below_c = -6.6666666666666667
warn_wind_m_s = 6.7056
pavement_colder_f = 5.4
pavement_warmer_c = 2
"#;

pub fn problems(text: &str) -> Vec<Problem> {
    match read_yard(text, "yard.toml") {
        Ok(_) => panic!("reads without a problem:\n{text}"),
        Err(problems) => problems,
    }
}

pub fn yard(text: &str) -> Yard {
    read_yard(text, "yard.toml")
        .unwrap_or_else(|problems| panic!("{}", problems.iter().map(shown).collect::<Vec<_>>().join("\n")))
}

/// What is wrong, as a log would have it: the id and what stands in its blanks.
pub fn what(problem: &Problem) -> String {
    problem.what.to_string()
}

/// What is accepted, likewise; names as they are.
pub fn accepted(problem: &Problem) -> Option<String> {
    let accepted = problem.accepted.as_ref()?;
    Some(accepted.arg("names").map_or_else(|| accepted.to_string(), ToString::to_string))
}

/// All of a problem in a line.
pub fn shown(problem: &Problem) -> String {
    let mut line = format!("{}:{}: {}", problem.file, problem.line, problem.key);
    line += &problem.value.as_ref().map_or(String::new(), |value| format!(" = {value}"));
    line += &format!(": {}", what(problem));
    line += &accepted(problem).map_or(String::new(), |accepted| format!("; accepted: {accepted}"));
    line + &problem.suggestion.as_ref().map_or(String::new(), |name| format!("; did you mean \"{name}\"?"))
}

/// The only problem of a text.
pub fn only(text: &str) -> Problem {
    let mut all = problems(text);
    assert_eq!(all.len(), 1, "{all:#?}");
    all.remove(0)
}

/// The small yard with one line put in place of another, or added below it; exactly one problem, on that line.
pub fn one_wrong(old: &str, new: &str) -> Problem {
    assert_eq!(SMALL.matches(old).count(), 1, "{old}");
    let text = SMALL.replace(old, new);
    let problem = only(&text);
    let wrong = problem.key.rsplit('.').next().expect("a key").to_owned();
    let line = text.lines().nth(problem.line - 1).expect("a line");
    assert!(line.starts_with(&wrong) || line.starts_with('['), "{problem} is not on line {line:?}");
    problem
}

/// To 1e-7: the US gallon behind `quantity` is rounded to seven digits.
pub fn near(found: f64, expected: f64) {
    assert!((found - expected).abs() <= 1e-7 * expected.abs().max(1.0), "{found} is not {expected}");
}
