//! The demo's work besides making and loading: tasks around the yard, odd jobs, the bench.

use super::writing::*;
use event::{
    Adjusted, Body, BucketCount, BucketsTo, CaughtLiquid, CheckSeen, CheckedIn, ChoreDone, CleanOut,
    Correction, EventId, HowFound, InstrumentCheck, IssueOut, JarResult, JarTest, LiquidDelivery, Loss,
    Maintenance, MonthClose, Note, Occasion, PanelCheck, PileSurvey, Reading, SamplePoint, SeasonStart,
    SprayerCheck, SpreaderCheck, Transfer, TrimSet, Void,
};

/// Chores, catch tests, buckets and the pile, months closed.
pub(super) fn around_the_yard(season: &mut Season) {
    let day = |d: f64| d * 24.0;
    let chores = [
        (0.5, "train", "Pat and Lou trained on pump, hose and tickets"),
        (0.6, "verify", "both instruments within a tenth in 20 % and 23.3 %"),
        (1.0, "calibrate", "T1, T2, T3 caught; T4 waits for its pump"),
        (40.0, "containment", "dry, two labels replaced"),
        (61.0, "strainers", "loading strainer half full of grit"),
        (74.0, "flush", "all four flushed"),
        (76.0, "walk", "one drip at the transfer pump, tightened"),
        (78.5, "batch-test", "23.3 %, logged"),
        (78.5, "batch-look", "strainers clean, lids on"),
        (78.5, "batch-rinse", "rinsed and dried"),
        (79.1, "walk", "dry all round"),
        (79.2, "circulate", "tank 3, 20 min"),
        (77.0, "cross-check", "a tenth apart"),
        (75.0, "zeros", "scale and refractometer right"),
    ];
    for (at, chore, done) in chores {
        season.add(day(at), "Lou", Body::ChoreDone(ChoreDone { chore: chore.into(), done: done.into() }));
    }
    let ounces =
        [("T1", "64 65 63 64 64 66 63 65"), ("T2", "63 64 64 72 65 64 63 64"), ("T3", "58 57 58 59 58 57")];
    for (truck, caught) in ounces {
        let caught_ml: Vec<String> = caught
            .split(' ')
            .filter_map(|oz| oz.parse::<f64>().ok())
            .map(|oz| format!("{:.1}", oz * 29.573_529_562_5))
            .collect();
        let check = SprayerCheck {
            truck: truck.into(),
            liquid: CaughtLiquid::Water,
            caught_ml: caught_ml.join(" "),
            catch_s: 15.0,
            pressure_kpa: Some(40.0 * 6.894_757),
            lanes_number: 1.0,
            remark: None,
        };
        season.add(day(1.1), "Lou", Body::SprayerCheck(check));
    }
    let spreader = SpreaderCheck {
        truck: "T1".into(),
        material: "rock salt, pre-wet off".into(),
        setting: "4".into(),
        caught_kg: "45.8 46.7 45.1".into(),
        turns_number: 10.0,
        per_minute_number: 22.0,
        remark: None,
    };
    season.add(day(1.2), "Lou", Body::SpreaderCheck(spreader));
    for (at, to, buckets) in
        [(41.9, BucketsTo::Trucks, 9.0), (58.9, BucketsTo::Trucks, 7.0), (70.0, BucketsTo::Plant, 3.0)]
    {
        let count = BucketCount { to, buckets_number: buckets, bucket_kg: None };
        season.add(day(at), "Lou", Body::BucketCount(count));
    }
    let survey = PileSurvey { mass_kg: 118.0 * TON, uncertainty_pct: 6.0, how: Some("pole and tape".into()) };
    season.add(day(0.3), "Ines", Body::PileSurvey(survey));
    for (at, month) in [(28.0, "2012-11"), (59.5, "2012-12")] {
        season.add(day(at), "Ines", Body::MonthClose(MonthClose { month: month.into() }));
    }
}

/// One of each rarer kind of event.
pub(super) fn odd_jobs(season: &mut Season) {
    let day = |d: f64| d * 24.0;
    let transfer =
        Transfer { from_tank: "3".into(), to_tank: "1".into(), volume_m3: 300.0 * GALLON, temp_c: Some(4.0) };
    season.add(day(15.0), "Ines", Body::Transfer(transfer));
    let correction = Correction { tank: "3".into(), water_m3: Some(40.0 * GALLON), salt_kg: None };
    season.add(day(17.0), "Ines", Body::Correction(correction));
    let liquid = LiquidDelivery {
        tank: "4".into(),
        volume_m3: 300.0 * GALLON,
        temp_c: None,
        strength_pct: None,
        product: None,
        ticket: Some("M-12".into()),
        price_usd: Some(405.0),
    };
    season.add(day(30.0), "Lou", Body::LiquidDelivery(liquid));
    let issue = IssueOut {
        tank: "1".into(),
        agency: "School district".into(),
        volume_m3: 150.0 * GALLON,
        temp_c: Some(3.0),
        price_usd: None,
        how: Some(HowFound::Meter),
        carrier: Some("their own pick-up".into()),
        ..IssueOut::default()
    };
    season.add(day(44.0), "Ines", Body::IssueOut(issue));
    let loss = Loss {
        tank: "2".into(),
        volume_m3: 12.0 * GALLON,
        reason: "hose let go at the loading place".into(),
    };
    season.add(day(45.0), "Pat", Body::Loss(loss));
    let sludge = CleanOut {
        tank: "2".into(),
        volume_m3: 25.0 * GALLON,
        disposal: "sludge to the covered salt pad".into(),
    };
    season.add(day(60.0), "Lou", Body::CleanOut(sludge));
    let done =
        Maintenance { subject: "loading pump".into(), done: "strainer cleaned, seal looked at".into() };
    season.add(day(61.0), "Lou", Body::Maintenance(done));
    let wrong = season.add(day(66.0), "Pat", run("1", 4000.0, 23.3));
    let void = Void { event: wrong.to_string(), reason: "400 gal, typed one nought too many".into() };
    season.add(day(66.1), "Pat", Body::Void(void));
    season.add(day(66.2), "Pat", run("1", 400.0, 23.3));
    season.add(
        day(79.0),
        "Ines",
        Body::Note(Note { text: "New refractometer zeroed on distilled water.".into() }),
    );
    let jar = JarTest {
        liquid_a: "brine".into(),
        liquid_b: "mag".into(),
        share_a_pct: 80.0,
        temp_c: -18.0,
        duration_h: 24.0,
        result: JarResult::Crystals,
        remark: Some("A finger of fine salt on the bottom; gone again when warm.".into()),
        tank: None,
    };
    season.add(day(79.5), "Ines", Body::JarTest(jar));
}

/// The bench of the season: instruments checked every week, two read in one sample, and the panel trimmed once. The
/// numbers set are those that `trim` advises from these looks.
pub(super) fn at_the_bench(season: &mut Season) {
    let day = |d: f64| d * 24.0;
    season.add(0.3, "Ines", Body::SeasonStart(SeasonStart { season: "winter 2012/13".into() }));
    let sign_off = |check: &EventId, kind: &str, done: &str| {
        Body::CheckSeen(CheckSeen { check: format!("{kind}:{check}"), done: done.into() })
    };
    let start = season.events.last().map(|event| event.id);
    if let Some(start) = start {
        let done = "both instruments zeroed and checked, panel held against the bench";
        season.add(day(1.0), "Ines", sign_off(&start, "season", done));
    }
    for week in 0..12 {
        let at = day(f64::from(week) * 7.0 + 2.2);
        if day(80.2) < at {
            break;
        }
        let (zero, float) = (season.vary(), season.vary());
        season.add(at, "Pat", check("refractometer", CheckedIn::Water, 0.0, 0.2 * (zero - 0.45), 20.0));
        let shown = 1.1775 + 0.0012 * (float - 0.5) + 0.000_05 * f64::from(week);
        season.add(
            at + 0.2,
            "Pat",
            check("hydrometer", CheckedIn::Brine, 1.1775, (1e4 * shown).round() / 1e4, 15.6),
        );
        let strength = 22.9 + 0.7 * season.vary();
        let (one, other) = (season.vary() - 0.5, season.vary() - 0.5);
        let first = season.add(at + 0.5, "Pat", sampled("hydrometer", strength + 0.25 * one, 0.28, None));
        let second = sampled("refractometer", strength + 0.1 + 0.25 * other, 0.35, Some(first));
        season.add(at + 0.55, "Pat", second);
    }
    season.add(day(80.15), "Lou", check("refractometer", CheckedIn::Water, 0.0, 0.1, 19.0));
    let known = "it pulls the other way, known from last winter";
    let looks = [
        (0.0, 1.04, 22.61, None),
        (42.0, 1.02, 22.94, Some((1.04, 1.045, Some(known.to_string())))),
        (85.0, 1.0, 23.26, Some((1.02, 1.0, None))),
    ];
    for (minutes, number, bench, set) in looks {
        let at = day(80.05) + minutes / 60.0;
        if let Some((from_number, advised, reason)) = set {
            let set = TrimSet { from_number, to_number: number, advised_number: Some(advised), reason };
            season.add(at - 38.0 / 60.0, "Pat", Body::TrimSet(set));
        }
        let read = season.add(at - 0.05, "Pat", sampled("hydrometer", bench, 0.29, None));
        let look = PanelCheck {
            trim_number: number,
            panel_pct: 23.3,
            bench_pct: bench,
            uncertainty_pct: 0.29,
            instrument: Some("hydrometer".into()),
            reading: Some(read.to_string()),
        };
        season.add(at, "Pat", Body::PanelCheck(look));
    }
}

pub(super) fn check(instrument: &str, against: CheckedIn, expected: f64, shown: f64, temp_c: f64) -> Body {
    Body::InstrumentCheck(InstrumentCheck {
        instrument: instrument.into(),
        against,
        expected_reading: expected,
        shown_reading: (1e4 * shown).round() / 1e4,
        temp_c: Some(temp_c),
        adjusted: Adjusted::No,
    })
}

pub(super) fn sampled(instrument: &str, strength: f64, within: f64, sample: Option<EventId>) -> Body {
    Body::Reading(Reading {
        tank: None,
        strength_pct: (100.0 * strength).round() / 100.0,
        uncertainty_pct: Some(within),
        temp_c: Some(6.0),
        instrument: Some(instrument.into()),
        level: Some(SamplePoint::PlantTap),
        occasion: Some(Occasion::Usual),
        shown: None,
        scale: None,
        doubt: None,
        sample: sample.map(|id| id.to_string()),
    })
}
