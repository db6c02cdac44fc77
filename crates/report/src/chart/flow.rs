//! A table that draws itself: what was there, what came in, what went out, what is left, each row with its bar.

use crate::table::{Cell, Table};

/// What a bar stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Flow {
    /// A stock, at the begin or the end.
    Stands,
    /// It came in.
    In,
    /// It went out.
    Out,
}

/// A row's bar, as shares of the drawing's width, 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlowBar {
    /// Where it begins at the left.
    pub from: f64,
    /// Where it ends at the right.
    pub to: f64,
    /// What it stands for.
    pub flow: Flow,
}

/// Bars of a table whose rows are steps between stocks, a row each; none for other tables.
///
/// A step begins where the one before it ended; a stock begins at nought.
pub fn flow_bars(table: &Table) -> Option<Vec<FlowBar>> {
    table.rows.iter().find(|row| row.step.is_some())?;
    let first = |cells: &[Cell]| {
        cells.iter().find_map(|cell| if let Cell::Number(value) = cell { Some(*value) } else { None })
    };
    let mut at = 0.0;
    let mut bars = Vec::new();
    for row in &table.rows {
        let (from, to, flow) = match row.step {
            Some(step) => (at, at + step, if step < 0.0 { Flow::Out } else { Flow::In }),
            None => (0.0, first(&row.cells)?, Flow::Stands),
        };
        at = to;
        bars.push(FlowBar { from: f64::min(from, to), to: f64::max(from, to), flow });
    }
    let least = bars.iter().map(|bar| bar.from).fold(0.0, f64::min);
    let most = bars.iter().map(|bar| bar.to).fold(least + 1e-9, f64::max);
    let share = |value: f64| (value - least) / (most - least);
    Some(
        bars.iter().map(|bar| FlowBar { from: share(bar.from), to: share(bar.to), flow: bar.flow }).collect(),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::table::Kind;

    #[test]
    fn each_step_begins_where_the_last_one_ended() {
        let mut table = Table::new("t", "T", &[("what", Kind::Text), ("kg", Kind::Mass)]);
        assert!(flow_bars(&table).is_none(), "nothing moves in it");
        table.total(vec!["start".into(), 40.0.into()]);
        table.step(vec!["in".into(), 60.0.into()], 60.0);
        table.step(vec!["out".into(), 75.0.into()], -75.0);
        table.total(vec!["end".into(), 25.0.into()]);
        let bars: Vec<(f64, f64, Flow)> =
            flow_bars(&table).unwrap_or_default().iter().map(|bar| (bar.from, bar.to, bar.flow)).collect();
        let wanted = [
            (0.0, 0.4, Flow::Stands),
            (0.4, 1.0, Flow::In),
            (0.25, 1.0, Flow::Out),
            (0.0, 0.25, Flow::Stands),
        ];
        assert_eq!(bars, wanted);
    }
}
