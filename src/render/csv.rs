//! Draws a table as CSV by RFC 4180: a line of headings, lines that end in CR LF, and quotes around cells that need
//! them. Hidden characters are left out.

use crate::{clean::visible, pages::Table};

/// Draws the table.
pub fn render(table: &Table) -> String {
    let headings = table.columns.iter().map(|column| column.title.clone()).collect();
    let rows = table.rows.iter().map(|row| row.iter().map(|cell| visible(&cell.plain())).collect());
    std::iter::once(headings).chain(rows).map(|cells: Vec<String>| line(&cells)).collect()
}

fn line(cells: &[String]) -> String {
    let cells: Vec<String> = cells.iter().map(|cell| quoted(cell)).collect();
    cells.join(",") + "\r\n"
}

fn quoted(cell: &str) -> String {
    if cell.contains([',', '"', '\r', '\n']) {
        format!("\"{}\"", cell.replace('"', "\"\""))
    } else {
        cell.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The examples follow RFC 4180, section 2, rules 5 to 7.
    #[test]
    fn cells_are_quoted_where_they_must_be() {
        let cells = ["aaa", "b \r\nbb", "b\"bb", "c,cc"].map(str::to_owned);
        assert_eq!(line(&cells), "aaa,\"b \r\nbb\",\"b\"\"bb\",\"c,cc\"\r\n");
    }
}
