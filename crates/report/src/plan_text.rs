//! A plan as plain text, for a terminal, a printer or a message.

use std::fmt::Write;

use chemistry::quantity::in_cubic_metres;
use planner::Plan;
use planner::outlook::Case;
use planner::storm::StormKind;
use weather::WeatherFile;

use crate::plan_words::Teller;

/// Writes a whole plan.
pub fn plan_text(plan: &Plan, weather: &WeatherFile, teller: &Teller<'_>) -> String {
    let (d, w) = (teller.display, teller.words);
    let mut out = String::new();
    let mut line = |text: &str| {
        let _ = writeln!(out, "{text}");
    };
    line(&w.fill(
        "text.title",
        &[("yard", &teller.yard.name), ("from", &d.time(plan.window[0])), ("to", &d.time(plan.window[1]))],
    ));
    line(&w.fill(
        "text.forecast",
        &[
            ("format", weather.format.name()),
            ("station", weather.station.as_deref().unwrap_or("-")),
            ("issued", &d.time(plan.issued)),
            ("zone", d.zone.iana_name().unwrap_or("UTC")),
        ],
    ));
    line(&precipitation_line(plan, teller));
    line("");
    let next = teller.next_act(plan);
    line(&next.act);
    next.why.iter().for_each(|why| line(&format!("  {why}")));
    line("");
    storms(&mut line, plan, teller);
    routes(&mut line, plan, teller);
    production(&mut line, plan, teller);
    line("");
    line(w.say("text.watch"));
    plan.shortages.iter().for_each(|s| line(&format!("  ! {}", teller.shortage(s))));
    plan.cautions.iter().for_each(|c| line(&format!("  - {}", teller.caution(c))));
    plan.notices.iter().for_each(|notice| line(&format!("  - {}", teller.notice(notice))));
    if let Some(suspect) = &plan.suspect {
        line(&format!("  - {}", suspect_line(suspect, teller)));
    }
    line(&format!("  {}", w.say("care.policy-first")));
    out
}

/// What fell in the window by the file, or that it gives no amounts.
pub fn precipitation_line(plan: &Plan, teller: &Teller<'_>) -> String {
    if !plan.amounts_given {
        return teller.words.say("caution.no-amounts").to_string();
    }
    let millimetres = chemistry::quantity::in_millimetres(plan.precipitation);
    let both = format!("{} ({millimetres:.3} mm)", teller.display.water(plan.precipitation));
    teller.words.fill("text.precipitation", &[("water", &both)])
}

/// The plan with and without suspect water, in a sentence.
pub fn suspect_line(suspect: &planner::SuspectWater, teller: &Teller<'_>) -> String {
    let d = teller.display;
    teller.words.fill(
        "plan.suspect",
        &[
            ("water", &d.water(suspect.liquid)),
            ("mid", &d.volume(suspect.brine.mid)),
            ("range", &d.volume_range(suspect.brine)),
        ],
    )
}

fn storms(line: &mut impl FnMut(&str), plan: &Plan, teller: &Teller<'_>) {
    let (d, w) = (teller.display, teller.words);
    if plan.storms.is_empty() {
        line(w.say("plan.no-storm"));
    }
    for (place, (storm, treatment)) in plan.storms.iter().enumerate() {
        line(&teller.storm_line(storm));
        if let Some(first) = teller.first_useful(treatment).filter(|_| storm.kind != StormKind::Frost) {
            line(&format!("  {first}"));
        }
        if let Some(pre_spray) = &treatment.pre_spray {
            line(&format!("  {}", teller.verdict(treatment, pre_spray)));
            for reason in &pre_spray.reasons {
                line(&format!("    {}", teller.reason(reason)));
                line(&format!("      {}", w.fill("text.source", &[("source", reason.source())])));
            }
            let rate = w.fill(
                "text.rate",
                &[
                    ("rate", &d.liquid_rate_range(pre_spray.liquid.low, pre_spray.liquid.high)),
                    ("source", &pre_spray.rate.source),
                ],
            );
            line(&format!("    {rate}"));
        }
        if let Some((_, loading)) = plan.loadings.iter().find(|(storm, _)| *storm == place) {
            let text = w.fill(
                "text.loading",
                &[
                    ("begin", &d.time(loading.begin)),
                    ("first", &loading.loads.first().map_or_else(String::new, |l| d.time(l.leaves))),
                    ("end", &d.time(loading.end)),
                    ("loads", &loading.loads.len().to_string()),
                ],
            );
            line(&format!("  {text}"));
        }
        for (text, source) in pass_lines(treatment, teller) {
            line(&format!("  {text}"));
            line(&format!("    {}", w.fill("text.source", &[("source", &source)])));
        }
    }
}

/// Passes of the middle case, told by rate row: how many, first and last, how much; with the source of each.
pub fn pass_lines(treatment: &planner::treatment::Treatment, teller: &Teller<'_>) -> Vec<(String, String)> {
    let (d, w) = (teller.display, teller.words);
    let passes = &treatment.passes[Case::Mid as usize];
    let mut seen: Vec<&str> = Vec::new();
    let mut lines = Vec::new();
    for rate in passes.iter().filter_map(|pass| pass.rate.as_ref()) {
        if seen.contains(&rate.id.as_str()) {
            continue;
        }
        seen.push(&rate.id);
        let same = passes.iter().filter(|pass| pass.rate.as_ref().is_some_and(|r| r.id == rate.id));
        let times: Vec<_> = same.map(|pass| pass.at).collect();
        let [low, _, high] = rate.salt();
        let amount = if rate.liquids.is_empty() {
            w.say("text.no-chemical").to_string()
        } else {
            w.fill(
                "text.salt-rate",
                &[("rate", &d.salt_rate_range(low, high)), ("liquid", w.say(liquid_key(rate)))],
            )
        };
        let said = |at: Option<&jiff::Timestamp>| at.map_or_else(String::new, |at| d.time(*at));
        let (from, to) = (said(times.iter().min()), said(times.iter().max()));
        let when = if from == to { from } else { w.fill("text.from-to", &[("from", &from), ("to", &to)]) };
        let text = w.fill(
            "text.passes",
            &[("count", &times.len().to_string()), ("when", &when), ("amount", &amount)],
        );
        lines.push((text, rate.source.clone()));
    }
    lines
}

/// Message key of the liquid a row pre-wets with.
pub fn liquid_key(rate: &road::RateRow) -> &'static str {
    match rate.liquids.first() {
        Some(road::rates::LiquidClass::SaltBrine) => "liquid.brine",
        Some(road::rates::LiquidClass::MagnesiumOrCalcium) => "liquid.other",
        None => "liquid.none",
    }
}

fn routes(line: &mut impl FnMut(&str), plan: &Plan, teller: &Teller<'_>) {
    let (d, w) = (teller.display, teller.words);
    if in_cubic_metres(plan.brine.high) <= 0.0 && in_cubic_metres(plan.other.high) <= 0.0 {
        return;
    }
    line("");
    line(w.say("text.routes-head"));
    for need in &plan.routes {
        let route = &teller.yard.routes[need.route];
        let name = format!("{} {}", route.id, route.name);
        line(&format!(
            "  {name:<30} {:>12} {:>22} {:>22} {:>6}",
            d.volume(need.brine.mid),
            d.volume_range(need.brine),
            d.volume_range(need.other),
            need.loads
        ));
    }
    line(&w.fill(
        "text.total",
        &[
            ("waste", &crate::display::number(plan.waste_share * 100.0, 0)),
            ("mid", &d.volume(plan.brine.mid)),
            ("range", &d.volume_range(plan.brine)),
            ("other", &d.volume_range(plan.other)),
        ],
    ));
    line(&w.fill(
        "text.salt-cost",
        &[
            ("salt", &d.mass(plan.salt.mid)),
            ("salt_high", &d.mass(plan.salt.high)),
            ("usd", &d.dollars(plan.costs.mid.total_usd())),
            ("usd_high", &d.dollars(plan.costs.high.total_usd())),
            ("chloride", &d.mass(plan.chloride.mid)),
            ("chloride_high", &d.mass(plan.chloride.high)),
        ],
    ));
}

fn production(line: &mut impl FnMut(&str), plan: &Plan, teller: &Teller<'_>) {
    let (d, w) = (teller.display, teller.words);
    line("");
    line(&teller.cover(plan));
    for (run, uses) in plan.schedule.runs.iter().zip(&plan.tank_uses) {
        let tanks: Vec<String> = uses
            .iter()
            .map(|part| w.fill("text.into-tank", &[("volume", &d.volume(part.volume)), ("tank", &part.tank)]))
            .collect();
        line(&format!(
            "  {}",
            w.fill(
                "text.run",
                &[
                    ("start", &d.time(run.latest_start)),
                    ("from", &d.time(run.making_from)),
                    ("to", &d.time(run.making_to)),
                    ("ready", &d.time(run.ready)),
                    ("volume", &d.volume(run.volume)),
                    ("tanks", &tanks.join(", ")),
                ]
            )
        ));
    }
    if !plan.schedule.runs.is_empty() {
        line(&format!(
            "  {}",
            w.fill(
                "text.batch",
                &[
                    ("salt", &d.mass(plan.batch.rock_salt)),
                    ("on_hand", &d.mass(plan.rock_salt)),
                    ("water", &d.volume(water_volume(plan))),
                    ("sludge", &d.mass(plan.batch.insolubles)),
                ]
            )
        ));
    }
}

/// Water of the plan's runs as a volume at 60 °F.
pub fn water_volume(plan: &Plan) -> chemistry::quantity::Volume {
    let density = chemistry::density::water_density(chemistry::recipe::reference_temperature())
        .unwrap_or(chemistry::quantity::kg_per_m3(999.0));
    plan.batch.water / density
}
