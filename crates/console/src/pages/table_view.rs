//! Tables as a page shows them.

use report::chart::{Flow, flow_bars};

use crate::page_frame::Visitor;

/// A table as a page shows it.
pub(crate) struct TableView {
    pub(crate) key: String,
    pub(crate) title: String,
    pub(crate) heads: Vec<CellView>,
    pub(crate) rows: Vec<RowView>,
    pub(crate) notes: Vec<String>,
    /// Its rows have bars.
    pub(crate) is_flow: bool,
}

/// A row of it.
pub(crate) struct RowView {
    pub(crate) cells: Vec<CellView>,
    pub(crate) is_total: bool,
    /// Where its bar begins and how wide it is, per cent, and what it stands for.
    pub(crate) bar: Option<(String, String, &'static str)>,
}

/// A cell of it.
pub(crate) struct CellView {
    pub(crate) text: String,
    pub(crate) is_number: bool,
}

/// A table as the visitor reads it.
pub(crate) fn table_view(visitor: &Visitor, table: &report::table::Table) -> TableView {
    let units = visitor.display.units;
    let is_number = |column: usize| {
        table.columns.get(column).is_some_and(|column| column.kind != report::table::Kind::Text)
    };
    let heads = table.heads_in(units, &visitor.words).into_iter().enumerate();
    let bars = flow_bars(table);
    let bar = |place: usize| {
        let bar = bars.as_ref()?.get(place)?;
        let class = match bar.flow {
            Flow::Stands => "stands",
            Flow::In => "in",
            Flow::Out => "out",
        };
        let percent = |share: f64| format!("{:.1}", 100.0 * share);
        Some((percent(bar.from), percent(bar.to - bar.from), class))
    };
    let row = |(place, row): (usize, &report::table::Row)| RowView {
        is_total: row.is_total,
        bar: bar(place),
        cells: row
            .cells
            .iter()
            .enumerate()
            .map(|(column, cell)| CellView {
                text: table.shown(column, cell, units),
                is_number: is_number(column),
            })
            .collect(),
    };
    TableView {
        key: table.key.to_owned(),
        title: table.title.clone(),
        heads: heads.map(|(column, text)| CellView { text, is_number: is_number(column) }).collect(),
        rows: table.rows.iter().enumerate().map(row).collect(),
        is_flow: bars.is_some(),
        notes: table.notes.clone(),
    }
}
