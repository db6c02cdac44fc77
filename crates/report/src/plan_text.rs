//! A plan as plain text, for a terminal, a printer or a message.

use std::fmt::Write;

use planner::Plan;
use planner::storm::StormKind;
use quantity::in_cubic_metres;
use weather::WeatherFile;

use crate::Teller;

/// Writes a whole plan.
pub fn plan_text(plan: &Plan, weather: &WeatherFile, teller: &Teller<'_>) -> String {
    let (d, w) = (teller.display, teller.words);
    let mut out = String::new();
    let mut line = |text: &str| {
        let _ = writeln!(out, "{text}");
    };
    let (from, to) = (d.time(plan.window[0]), d.time(plan.window[1]));
    line(&w.fill("text.title", &[("yard", &teller.yard.name), ("from", &from), ("to", &to)]));
    line(&teller.forecast_line(plan, weather));
    line(&teller.precipitation_line(plan));
    line("");
    let next = teller.next_act(plan);
    line(&next.act);
    next.why.iter().for_each(|why| line(&format!("  {why}")));
    line("");
    line(w.say("call.title"));
    teller.call_lines(plan).iter().for_each(|call| line(&format!("  {call}")));
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
        line(&format!("  - {}", teller.suspect_line(suspect)));
    }
    line(&format!("  {}", w.say("care.policy-first")));
    out
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
                line(&format!("      {}", w.fill("text.source", &[("source", &d.tell(&reason.source()))])));
            }
            let rate = d.liquid_rate_range(pre_spray.liquid.low, pre_spray.liquid.high);
            let rate = w.fill("text.rate", &[("rate", &rate), ("source", &pre_spray.rate.source)]);
            line(&format!("    {rate}"));
        }
        if let Some((_, loading)) = plan.loadings.iter().find(|(storm, _)| *storm == place) {
            line(&format!("  {}", teller.loading_line(loading)));
        }
        for (text, source) in teller.pass_lines(treatment) {
            line(&format!("  {text}"));
            line(&format!("    {}", w.fill("text.source", &[("source", &source)])));
        }
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
    line(&teller.total_line(plan));
    line(&teller.cost_line(plan));
}

fn production(line: &mut impl FnMut(&str), plan: &Plan, teller: &Teller<'_>) {
    let (d, w) = (teller.display, teller.words);
    line("");
    line(&teller.cover(plan));
    for (run, uses) in plan.schedule.runs.iter().zip(&plan.tank_uses) {
        let values = [
            ("start", d.time(run.latest_start)),
            ("making", teller.making_line(run)),
            ("ready", d.time(run.ready)),
            ("tanks", teller.into_line(uses)),
        ];
        let values = values.each_ref().map(|(name, value)| (*name, value.as_str()));
        line(&format!("  {}", w.fill("text.run", &values)));
    }
    if !plan.schedule.runs.is_empty() {
        line(&format!("  {}", teller.batch_line(plan)));
    }
}
