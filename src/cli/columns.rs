//! Tables for a terminal: columns as wide as what stands in them.

/// One column.
#[derive(Debug, Clone)]
pub(super) struct Column {
    pub(super) title: String,
    /// Whether numbers stand in it, one below the other.
    pub(super) right: bool,
    pub(super) cells: Vec<String>,
}

impl Column {
    /// A column of these cells.
    pub(super) fn new(title: impl Into<String>, right: bool, cells: Vec<String>) -> Self {
        Self {
            title: title.into(),
            right,
            cells,
        }
    }

    fn width(&self) -> usize {
        let cells = self.cells.iter().chain([&self.title]);
        cells.map(|cell| cell.chars().count()).max().unwrap_or(0)
    }

    /// What stands in line `at`, the title being the first.
    fn cell(&self, at: usize) -> &str {
        match at.checked_sub(1) {
            None => &self.title,
            Some(row) => self.cells.get(row).map_or("", String::as_str),
        }
    }
}

/// Of a line with all of them.
pub(super) fn width(columns: &[Column]) -> usize {
    columns.iter().map(|column| column.width() + 2).sum()
}

/// The line of the titles, then one for each row; each is indented by two.
pub(super) fn lines(columns: &[Column]) -> Vec<String> {
    let rows = columns.iter().map(|column| column.cells.len()).max();
    let widths: Vec<usize> = columns.iter().map(Column::width).collect();
    let line = |at: usize| {
        let cells = columns.iter().zip(&widths).map(|(column, &width)| {
            let cell = column.cell(at);
            let space = " ".repeat(width.saturating_sub(cell.chars().count()));
            if column.right {
                format!("{space}{cell}")
            } else {
                format!("{cell}{space}")
            }
        });
        let cells: Vec<String> = cells.collect();
        format!("  {}", cells.join("  ")).trim_end().to_owned()
    };
    (0..=rows.unwrap_or(0)).map(line).collect()
}
