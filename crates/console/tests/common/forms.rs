//! Forms as a browser sends them, for the tests of more than one page.

use uuid::Uuid;

/// An id as a form brings one.
pub fn id() -> String {
    Uuid::now_v7().to_string()
}

/// A sample of tank 1, read on the bench.
pub fn sample(id: &str, instrument: &str, reading: &str, temp_f: &str) -> String {
    format!(
        "entry_id={id}&author=Pat&tank=1&instrument={instrument}&reading={reading}&temp_f={temp_f}&level=outlet&\
         occasion=usual"
    )
}

/// The same of the plant's tap.
pub fn tap(id: &str, instrument: &str, reading: &str, temp_f: &str) -> String {
    sample(id, instrument, reading, temp_f).replace("tank=1", "tank=tap")
}

pub fn dip(id: &str, depth: &str) -> String {
    format!("entry_id={id}&tank=1&depth_ft={depth}&temp_f=28&author=Pat")
}

pub fn right(id: &str, strength: &str, with: &str) -> String {
    format!(
        "entry_id={id}&author=Pat&tank=1&strength_pct={strength}&target_pct=23.3&volume_gal=4300&temp_f=30&\
         with_temp_f=44&uncertainty_pct=0.2&with={with}&part=first"
    )
}

pub fn jar(id: &str, result: &str) -> String {
    format!(
        "entry_id={id}&author=Pat&tank=4&liquid_a=brine&liquid_b=mag&share_a_pct=80&temp_f=-5&duration_h=24&\
         result={result}&remark="
    )
}

pub fn at_the_bench(id: &str, reading: &str, temp_f: &str) -> String {
    format!(
        "entry_id={id}&author=Pat&tank=1&instrument=hydrometer&reading={reading}&temp_f={temp_f}&level=middle&\
         occasion=after_rain"
    )
}

pub fn load(entry: &str, more: &str) -> String {
    format!("entry_id={entry}&truck=T1&tank=1&route=R1&how=meter&author=Pat{more}")
}

/// Logs a reading of tank 1 in spec, so that it may be loaded from.
pub async fn measured(test: &super::TestApp) {
    let answer = test.post("/bench", &sample(&id(), "hydrometer", "1.1775", "60")).await;
    assert!(answer.status.is_redirection(), "{}", answer.page());
}
