//! Documents that are made from the code, so that they cannot disagree with it.

mod cold_reading;

use std::fmt::Write;
use std::path::PathBuf;

use quantity::in_fahrenheit;
use road::rates::{Amount, EventKind, Mark, Pass, RateRow, Use};

/// The documents: where they lie, and what they must say.
fn documents() -> Result<Vec<(PathBuf, String)>, String> {
    let docs = crate::workspace::root().join("docs");
    Ok(vec![
        (docs.join("yard-file.md"), site::yard_file::yard_file_reference()),
        (docs.join("rates.md"), rates_page()?),
        (docs.join("entries.md"), entries_page()),
        (docs.join("figures").join("cold-reading.svg"), cold_reading::figure()),
    ])
}

const ENTRIES_HEAD: &str = "\
# Every kind of entry

Made by `cargo xtask docs` from the one description of fields that pages, commands and tables share. Enter a kind with
`brinewright ledger add --author NAME KIND field=value …`, many with `brinewright ledger import KIND table.csv`; the
same fields stand on the pages. A field's name ends with its unit; any of the names given may be used, once.
**Bold** fields are needed; those marked *worked out* may be left out where the yard knows them: a volume from a weight,
the bill from the price agreed.

";

/// Every kind of entry with its fields.
fn entries_page() -> String {
    let mut page = ENTRIES_HEAD.to_string();
    for kind in event::KINDS {
        let _ = writeln!(page, "## `{}`\n\n{}\n", kind.name, kind.meaning.trim());
        page.push_str("| field | what it says | what it takes |\n| --- | --- | --- |\n");
        for field in kind.fields.iter().chain(kind.helpers) {
            let names: Vec<String> = field.names().into_iter().map(|(name, _)| format!("`{name}`")).collect();
            let names = names.join(", ");
            let names = if field.is_needed { format!("**{names}**") } else { names };
            let mark = if field.spec.is_worked_out { " *worked out*" } else { "" };
            let meaning = without_links(field.meaning.trim());
            let _ = writeln!(page, "| {names}{mark} | {meaning} | {} |", takes(field));
        }
        page.push('\n');
    }
    page
}

/// A text of the code's own documentation, without its links.
fn without_links(text: &str) -> String {
    text.replace("[`", "`").replace("`]", "`")
}

fn takes(field: &event::Field) -> String {
    use event::{Holds, Named, Quantity};
    match field.spec.holds {
        Holds::Figure(figure) => {
            let is_own = (figure.low, figure.high) != figure.quantity.limits();
            match (figure.is_above_low, is_own) {
                (true, true) => format!("above 0, to {}", figure.high),
                (true, false) => "above 0".into(),
                (false, true) => format!("{} to {}", figure.low, figure.high),
                (false, false) if figure.quantity == Quantity::Percent => "0 to 100".into(),
                (false, false) if figure.quantity == Quantity::Depth => {
                    "a figure, or with its unit: 4 ft 7 in".into()
                }
                (false, false) => "a figure".into(),
            }
        }
        Holds::Figures(_) => "figures with blanks between".into(),
        Holds::OneOf(words, _) => words.iter().map(|word| format!("`{word}`")).collect::<Vec<_>>().join(", "),
        Holds::Name(Named::Agency | Named::Liquid) => "a name, of the yard file or another".into(),
        Holds::Name(Named::Scale) => "a scale of an instrument".into(),
        Holds::Name(_) => "a name of the yard file".into(),
        Holds::Event => "the id of an entry".into(),
        Holds::Time => "a time, such as 2027-01-14T22:00:00Z".into(),
        Holds::Month => "a month, such as 2027-01".into(),
        Holds::Text | Holds::Lines => "text".into(),
    }
}

const RATES_HEAD: &str = "\
# Published rates

Made by `cargo xtask docs` from `crates/road/data/rates.csv`. Rows are tried from the top; the first that is on and
covers the event, the pass and the pavement is used. *On*: the figure was read in its source. *Off*: remembered,
confirm before use; switch it on in the yard file (`[policy] rates_on = [\"id\"]`), where it then comes first. Agency
policy comes first of all.

| id | for | pavement | rate | liquid | shipped | source |
| --- | --- | --- | --- | --- | --- | --- |
";

fn rates_page() -> Result<String, String> {
    let table = road::RateTable::published().map_err(|e| e.to_string())?;
    let mut page = RATES_HEAD.to_string();
    for row in table.rows() {
        let _ = writeln!(
            page,
            "| `{}` | {} | {} | {} | {} | {} | {}{} |",
            row.id,
            what_for(row),
            band(row),
            amount(row),
            liquids(row),
            if row.mark == Mark::Seen { "on" } else { "off: remembered, confirm before use" },
            row.source,
            if row.note.is_empty() { String::new() } else { format!(". {}", row.note) }
        );
    }
    Ok(page)
}

fn what_for(row: &RateRow) -> String {
    let use_for = match row.use_for {
        Use::AntiIcing => "spraying ahead",
        Use::PrewetSalt => "pre-wetted salt",
        Use::NoChemical => "no chemical",
    };
    let event = |event: &EventKind| match event {
        EventKind::Snow => "snow",
        EventKind::Mixed => "snow and rain",
        EventKind::FreezingRain => "freezing rain",
        EventKind::Frost => "frost",
    };
    let events: Vec<&str> = row.events.iter().map(event).collect();
    let pass = match row.pass {
        Some(Pass::First) => ", first pass",
        Some(Pass::Later) => ", later passes",
        None => "",
    };
    format!("{use_for}: {}{pass}", events.join(", "))
}

fn band(row: &RateRow) -> String {
    let f = |t| format!("{:.0}", in_fahrenheit(t));
    let band = match (row.pavement_from.map(f), row.pavement_below.map(f)) {
        (Some(low), Some(high)) => format!("{low} to {high} °F"),
        (Some(low), None) => format!("{low} °F and above"),
        (None, Some(high)) => format!("below {high} °F"),
        (None, None) => "any".to_string(),
    };
    match row.trend {
        road::rates::RowTrend::Any => band,
        road::rates::RowTrend::SteadyOrRising => format!("{band}, steady or rising"),
        road::rates::RowTrend::SteadyOrFalling => format!("{band}, steady or falling"),
    }
}

fn amount(row: &RateRow) -> String {
    match row.amount {
        Amount::None => "no chemical".to_string(),
        Amount::Liquid { low, high } => {
            format!(
                "{:.0} to {:.0} gal a lane-mile",
                low.gallons_per_lane_mile(),
                high.gallons_per_lane_mile()
            )
        }
        Amount::LiquidAsDrySalt { low, high } => {
            format!(
                "{:.0} to {:.0} lb dry salt a lane-mile",
                low.pounds_per_lane_mile(),
                high.pounds_per_lane_mile()
            )
        }
        Amount::Salt { low, high, prewet } => format!(
            "{:.0} to {:.0} lb a lane-mile, {:.0} gal a ton",
            low.pounds_per_lane_mile(),
            high.pounds_per_lane_mile(),
            prewet.gallons_per_short_ton()
        ),
    }
}

fn liquids(row: &RateRow) -> String {
    let name = |liquid: &road::rates::LiquidClass| match liquid {
        road::rates::LiquidClass::SaltBrine => "salt brine",
        road::rates::LiquidClass::MagnesiumOrCalcium => "magnesium or calcium chloride",
    };
    row.liquids.iter().map(name).collect::<Vec<_>>().join(", or ")
}

/// Writes every document that is made from tables of the program.
pub fn write() -> Result<(), String> {
    for (path, text) in documents()? {
        std::fs::write(&path, text).map_err(|e| format!("{}: {e}", path.display()))?;
        println!("wrote {}", path.display());
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    #[test]
    fn made_documents_are_what_the_code_says() {
        for (path, text) in super::documents().unwrap() {
            let kept = std::fs::read_to_string(&path).unwrap();
            assert!(kept == text, "{} is not current; run `cargo xtask docs`", path.display());
        }
    }
}
