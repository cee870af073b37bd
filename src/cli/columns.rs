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

/// A text in lines of no more than `most` characters where words allow it; all but the first line
/// are indented by `indent`.
pub(super) fn wrapped(text: &str, most: usize, indent: usize) -> String {
    let mut told = String::new();
    let mut used = 0;
    for (at, word) in text.split(' ').enumerate() {
        let length = word.chars().count();
        if at > 0 && used + 1 + length > most {
            told.push('\n');
            told.push_str(&" ".repeat(indent));
            used = indent;
        } else if at > 0 {
            told.push(' ');
            used += 1;
        }
        told.push_str(word);
        used += length;
    }
    told
}

/// The same table in as many parts as it takes so that no line is wider than `most`; the first
/// column stands in each.
pub(super) fn parts(columns: &[Column], most: usize) -> Vec<Vec<Column>> {
    let Some((first, rest)) = columns.split_first() else {
        return Vec::new();
    };
    let mut parts = vec![vec![first.clone()]];
    for column in rest {
        let part = parts.last().map_or(0, |part| width(part));
        let alone = parts.last().is_none_or(|part| part.len() == 1);
        if !alone && part + 2 + column.width() > most {
            parts.push(vec![first.clone()]);
        }
        if let Some(part) = parts.last_mut() {
            part.push(column.clone());
        }
    }
    parts
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_wrapped_and_none_is_lost() {
        assert_eq!(wrapped("one two three", 7, 2), "one two\n  three");
        assert_eq!(wrapped("  one", 20, 0), "  one");
        let text = "a long text of words that stand in lines of twenty characters at most";
        let told = wrapped(text, 20, 4);
        assert!(
            told.lines().all(|line| line.chars().count() <= 20),
            "{told}"
        );
        let words: Vec<&str> = told.split_whitespace().collect();
        assert_eq!(words.join(" "), text);
    }

    #[test]
    fn a_wide_table_comes_in_parts_with_its_first_column() {
        let column = |title: &str| Column::new(title, true, vec!["12345678".to_owned()]);
        let columns = ["name", "b", "c", "d", "e"].map(column);
        let parts = parts(&columns, 32);
        assert_eq!(parts.len(), 2);
        for part in &parts {
            assert_eq!(part[0].title, "name");
            assert!(lines(part).iter().all(|line| line.chars().count() <= 32));
        }
        let told: usize = parts.iter().map(|part| part.len() - 1).sum();
        assert_eq!(told, 4);
    }
}
