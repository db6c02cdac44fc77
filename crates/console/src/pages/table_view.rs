//! Tables as a page shows them.

use crate::page_frame::Visitor;

/// A table as a page shows it.
pub(crate) struct TableView {
    pub(crate) key: &'static str,
    pub(crate) title: String,
    pub(crate) heads: Vec<CellView>,
    pub(crate) rows: Vec<RowView>,
    pub(crate) notes: Vec<String>,
}

/// A row of it.
pub(crate) struct RowView {
    pub(crate) cells: Vec<CellView>,
    pub(crate) is_total: bool,
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
    let row = |row: &report::table::Row| RowView {
        is_total: row.is_total,
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
        key: table.key,
        title: table.title.clone(),
        heads: heads.map(|(column, text)| CellView { text, is_number: is_number(column) }).collect(),
        rows: table.rows.iter().map(row).collect(),
        notes: table.notes.clone(),
    }
}
