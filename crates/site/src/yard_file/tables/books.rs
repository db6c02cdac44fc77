//! What the books and the load-out need: axles, meters, waters, agencies, contacts, chores, salt receiving, accounts.

use super::known::{Known, each, strength};
use crate::rules::ALERT_KINDS;
use crate::yard_file::problem::names;
use crate::yard_file::reader::{Context, Section, closest, complaint};
use crate::{
    Accounts, Agency, Alerts, Axle, ChoreChange, Contact, Mail, MailSecurity, Meter, Metered, Receiving,
    Truck, Watershed,
};
use message::message;
use quantity::{cubic_metres, hours, in_metres, kilograms, metres};

/// Puts the axles on their trucks.
pub(super) fn axles(
    context: &mut Context<'_>,
    sections: &[Section<'_>],
    known: &Known,
    trucks: &mut [Truck],
) {
    for section in sections {
        let id = section.text(context, "truck");
        if let Some(id) = &id {
            known.check(context, section, "truck", "truck", id);
        }
        let at = section.number(context, "at").map(metres);
        let empty = section.number(context, "empty").map(kilograms);
        let limit = section.number(context, "limit").map(kilograms);
        let truck = id.and_then(|id| trucks.iter_mut().find(|truck| truck.id == id));
        let (Some(truck), Some(at), Some(empty)) = (truck, at, empty) else { continue };
        match truck.axles.last() {
            None if in_metres(at).abs() > 1e-9 => {
                section.blame(context, "at", complaint("site.axle.first").accepted(names("0")));
            }
            Some(before) if in_metres(at) <= in_metres(before.at) + 0.3 => {
                let wrong = complaint("site.axle.order").accepted("site.axle.in_order");
                section.blame(context, "at", wrong);
            }
            _ => {}
        }
        if truck.liquid_at.is_none() {
            let what = message!("site.axle.liquid_at", truck = &truck.id);
            section.blame(context, "truck", complaint(what));
        }
        truck.axles.push(Axle { at, empty, limit });
    }
    for truck in trucks.iter().filter(|truck| truck.axles.len() == 1) {
        let of = |section: &&Section<'_>| {
            section.text(&mut Context::new("", ""), "truck").as_deref() == Some(truck.id.as_str())
        };
        if let Some(section) = sections.iter().find(of) {
            section.blame(context, "truck", complaint("site.axle.one"));
        }
    }
}

pub(super) fn meters(context: &mut Context<'_>, sections: &[Section<'_>], known: &Known) -> Vec<Meter> {
    each(context, sections, known, |context, section, id| {
        let name = section.text(context, "name").unwrap_or_else(|| id.clone());
        let on = section.text(context, "on");
        let rolls_over_at = section.number(context, "rolls_over").map(cubic_metres);
        let factor = section.number(context, "factor");
        let uncertainty = section.number(context, "factor_uncertainty_pct");
        let on = match on?.as_str() {
            "loading" => Metered::Loading,
            "water" => Metered::Water,
            _ => Metered::Making,
        };
        let factor_uncertainty = uncertainty? / 100.0;
        Some(Meter { id, name, on, rolls_over_at, factor: factor?, factor_uncertainty })
    })
}

pub(super) fn watersheds(
    context: &mut Context<'_>,
    sections: &[Section<'_>],
    known: &Known,
) -> Vec<Watershed> {
    each(context, sections, known, |context, section, id| {
        let name = section.text(context, "name").unwrap_or_else(|| id.clone());
        let area = section.number(context, "area");
        let depth = section.number(context, "runoff");
        for (one, other, why) in
            [("area", "runoff", "site.why.area_alone"), ("runoff", "area", "site.why.runoff_alone")]
        {
            if section.has(one) && !section.has(other) {
                section.missing(context, other, why);
            }
        }
        let background_mg_l = section.number(context, "background_mg_l");
        let runoff = area.zip(depth).map(|(area, depth)| cubic_metres(area * depth));
        Some(Watershed { id, name, runoff, background_mg_l: background_mg_l? })
    })
}

pub(super) fn agencies(context: &mut Context<'_>, sections: &[Section<'_>]) -> Vec<Agency> {
    let mut found: Vec<Agency> = Vec::new();
    for section in sections {
        let name = section.text(context, "name");
        let price = section.number(context, "usd_per");
        let bill_to = section.text(context, "bill_to");
        let (Some(name), Some(usd_per_m3)) = (name, price) else { continue };
        if found.iter().any(|agency| agency.name == name) {
            section.blame(context, "name", complaint("site.file.name_twice"));
        }
        found.push(Agency { name, usd_per_m3, bill_to });
    }
    found
}

pub(super) fn contacts(context: &mut Context<'_>, sections: &[Section<'_>]) -> Vec<Contact> {
    let mut found = Vec::new();
    for section in sections {
        let name = section.text(context, "name");
        let phone = section.text(context, "phone");
        let why = section.text(context, "why");
        if let (Some(name), Some(phone), Some(why)) = (name, phone, why) {
            found.push(Contact { name, phone, why });
        }
    }
    found
}

pub(super) fn chores(context: &mut Context<'_>, sections: &[Section<'_>], known: &Known) -> Vec<ChoreChange> {
    each(context, sections, known, |context, section, id| {
        let off = section.has("off") && section.switch(context, "off") == Some(true);
        let task = section.text(context, "task");
        let who = section.text(context, "who");
        let every = section.number(context, "every").map(hours);
        let every_making = section.number(context, "every_making").map(hours);
        let every_made = section.number(context, "every_made").map(cubic_metres);
        let is_new = !crate::chores::ships(&id);
        if is_new && task.is_none() {
            section.missing(context, "task", "site.why.new_chore");
        }
        if is_new && every.is_none() && every_making.is_none() && every_made.is_none() {
            section.missing(context, "every", "site.why.rhythm");
        }
        Some(ChoreChange { id, off, task, who, every, every_making, every_made })
    })
}

pub(super) fn receiving(context: &mut Context<'_>, section: &Section<'_>) -> Option<Receiving> {
    let accept = section.number(context, "accept_to_pct");
    let deduction = section.number(context, "deduction_pct");
    let more = section.number(context, "more_from_pct");
    let tenth = section.number(context, "more_per_tenth_pct");
    let reject = section.number(context, "reject_above_pct");
    let sample = section.number(context, "sample_each");
    let increments = section.number(context, "increments");
    let bounds = [("accept_to_pct", accept), ("more_from_pct", more), ("reject_above_pct", reject)];
    for pair in bounds.windows(2) {
        if let [(low, Some(a)), (high, Some(b))] = pair
            && a > b
        {
            let stem = if section.has(low) { low } else { high };
            section.blame(context, stem, complaint(message!("site.file.order", low = *low, high = *high)));
        }
    }
    Some(Receiving {
        accept_to: strength(accept)?,
        deduction: deduction? / 100.0,
        more_from: strength(more)?,
        more_per_tenth: tenth? / 100.0,
        reject_above: strength(reject)?,
        sample_each: kilograms(sample?),
        increments: increments?,
    })
}

pub(super) fn accounts(context: &mut Context<'_>, section: &Section<'_>) -> Option<Accounts> {
    let baseline_kg_per_m = section.number(context, "baseline");
    let baseline_source = section.text(context, "baseline_source");
    if section.has("baseline") && baseline_source.is_none() {
        section.missing(context, "baseline_source", "site.why.baseline");
    }
    let crew = section.number(context, "crew_usd_per_h");
    let truck = section.number(context, "truck_usd_per_h");
    let plant = section.number(context, "plant_usd_per_h");
    let chronic = section.number(context, "chronic_mg_l");
    let acute = section.number(context, "acute_mg_l");
    Some(Accounts {
        baseline_kg_per_m,
        baseline_source,
        crew_usd_per_h: crew?,
        truck_usd_per_h: truck?,
        plant_usd_per_h: plant?,
        chronic_mg_l: chronic?,
        acute_mg_l: acute?,
    })
}

pub(super) fn alerts(context: &mut Context<'_>, section: &Section<'_>) -> Option<Alerts> {
    let to = section.names(context, "mail_to")?;
    let from = section.text(context, "mail_from");
    let host = section.text(context, "smtp_host");
    let port = section.number(context, "smtp_port");
    let security = section.text(context, "smtp_security");
    let user = section.text(context, "smtp_user");
    let password_file = section.text(context, "smtp_password_file");
    let webhook = section.text(context, "webhook");
    let quiet = section.hours(context, "quiet");
    let wake = section.names(context, "wake")?;
    let again = section.number(context, "again_h");
    let late = section.number(context, "backup_late_h");
    for address in to.iter().chain(&from) {
        let is_address = address.split_once('@').is_some_and(|(name, host)| {
            !name.is_empty()
                && !host.is_empty()
                && !address.chars().any(|c| c.is_whitespace() || c.is_control())
        });
        if !is_address {
            let wrong = complaint(message!("site.file.mail", address = address));
            section.blame(context, "mail_to", wrong.accepted("site.accepted.mail"));
        }
    }
    if !to.is_empty() && host.is_none() {
        section.missing(context, "smtp_host", "site.why.server");
    }
    if let Some(address) = &webhook
        && !address.starts_with("https://")
        && !address.starts_with("http://")
    {
        let wrong = complaint(message!("site.file.web", address = address));
        section.blame(context, "webhook", wrong.accepted("site.accepted.web"));
    }
    for kind in wake.iter().filter(|kind| !ALERT_KINDS.contains(&kind.as_str())) {
        let wrong = complaint(message!("site.file.alert", kind = kind));
        let near = closest(kind, ALERT_KINDS);
        section.blame(context, "wake", wrong.accepted(names(ALERT_KINDS.join(", "))).suggest(near));
    }
    let mail = match (to.first().cloned(), host) {
        (Some(first), Some(host)) => Some(Mail {
            from: from.unwrap_or(first),
            to,
            host,
            port: port? as u16,
            security: match security?.as_str() {
                "tls" => MailSecurity::Tls,
                "none" => MailSecurity::None,
                _ => MailSecurity::StartTls,
            },
            user,
            password_file,
        }),
        _ => None,
    };
    let wake = if section.has("wake") { wake } else { vec!["freeze".to_owned(), "cover".to_owned()] };
    Some(Alerts { mail, webhook, quiet, wake, again: hours(again?), backup_late: hours(late?) })
}
