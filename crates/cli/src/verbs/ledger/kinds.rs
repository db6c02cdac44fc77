//! `ledger kinds`: the kinds of event and what their fields take.

use event::{Field, Holds, KINDS, Kind, kind_named};

use crate::errors::did_you_mean;
use crate::outcome::{Done, Failure, Outcome, print};

/// Every kind with its fields, or one with what each of its fields takes.
pub(super) fn kinds(named: Option<&str>) -> Outcome {
    let text = match named {
        None => {
            let fields = |kind: &Kind| {
                let mark =
                    |field: &Field| format!("{}{}", field.name, if field.is_needed { "*" } else { "" });
                kind.fields.iter().map(mark).collect::<Vec<_>>().join(" ")
            };
            let lines: Vec<String> =
                KINDS.iter().map(|kind| format!("{:<16} {}", kind.name, fields(kind))).collect();
            format!("{}\n\n* needed. `ledger kinds KIND` says what each field takes.", lines.join("\n"))
        }
        Some(name) => {
            let kind = kind_named(&name.replace('-', "_")).ok_or_else(|| {
                let names = || KINDS.iter().map(|kind| kind.name);
                let hint = did_you_mean(name, names());
                let accepted = names().collect::<Vec<_>>().join(", ");
                Failure::Input(format!("{name}: no such event{hint}; accepted: {accepted}"))
            })?;
            let lines: Vec<String> = kind.fields.iter().chain(kind.helpers).map(field_help).collect();
            format!("{}: {}\n\n{}", kind.name, kind.meaning.trim(), lines.join("\n"))
        }
    };
    print(&text)?;
    Ok(Done::Yes)
}

/// A field with its meaning and what it takes.
fn field_help(field: &Field) -> String {
    let needed = match (field.is_needed, field.spec.is_worked_out) {
        (true, true) => " (needed, or worked out)",
        (true, false) => " (needed)",
        _ => "",
    };
    let names: Vec<String> = field.names().into_iter().map(|(name, _)| name).collect();
    let takes = match field.spec.holds {
        Holds::OneOf(words, _) => format!("; one of {}", words.join(", ")),
        Holds::Event => "; the id of an event".to_owned(),
        _ => String::new(),
    };
    format!("  {}{needed}{takes}\n      {}", names.join(", "), field.meaning.trim())
}
