//! A table of short texts, and its forms: aligned text, Markdown, CSV rows, HTML.

/// Columns and rows. All rows have one cell a column.
#[derive(Clone, Debug, Default)]
pub struct Grid {
    #[allow(missing_docs)]
    pub columns: Vec<Column>,
    #[allow(missing_docs)]
    pub rows: Vec<Vec<String>>,
}

/// A column.
#[derive(Clone, Debug)]
pub struct Column {
    #[allow(missing_docs)]
    pub title: String,
    /// Figures are set with their decimal points below each other.
    pub figures: bool,
    /// It names the row, and is repeated where a wide table is broken.
    pub key: bool,
}

impl Column {
    /// A column that names the row.
    pub fn key(title: impl Into<String>) -> Self {
        Self { title: title.into(), figures: false, key: true }
    }
    /// A column of words.
    pub fn words(title: impl Into<String>) -> Self {
        Self { title: title.into(), figures: false, key: false }
    }
    /// A column of figures.
    pub fn figures(title: impl Into<String>) -> Self {
        Self { title: title.into(), figures: true, key: false }
    }
}

/// How wide a text is on a terminal, as near as counting characters comes.
pub(crate) fn width(text: &str) -> usize {
    text.chars().count()
}

/// Where the decimal point of a cell stands: characters before it. `None` if it is no figure.
fn point_place(cell: &str) -> Option<usize> {
    let start = cell.strip_prefix('-').unwrap_or(cell);
    if !start.starts_with(|c: char| c.is_ascii_digit()) {
        return None;
    }
    let whole = start.bytes().take_while(u8::is_ascii_digit).count();
    Some(whole + cell.len() - start.len())
}

impl Grid {
    /// The columns' cells, padded to one width each; the first of each is the title.
    fn padded(&self) -> Vec<Vec<String>> {
        let mut columns = Vec::with_capacity(self.columns.len());
        for (index, column) in self.columns.iter().enumerate() {
            let cells: Vec<&str> =
                self.rows.iter().map(|row| row.get(index).map_or("", String::as_str)).collect();
            let before = if column.figures {
                cells.iter().filter_map(|cell| point_place(cell)).max().unwrap_or(0)
            } else {
                0
            };
            let mut lines = vec![column.title.clone()];
            for cell in cells {
                let indent = if column.figures {
                    point_place(cell).map_or(0, |place| before.saturating_sub(place))
                } else {
                    0
                };
                lines.push(format!("{}{cell}", " ".repeat(indent)));
            }
            let wide = lines.iter().map(|line| width(line)).max().unwrap_or(0);
            for line in &mut lines {
                let fill = wide - width(line);
                line.push_str(&" ".repeat(fill));
            }
            columns.push(lines);
        }
        columns
    }

    /// Aligned text. A table wider than `limit` is broken into several below each other, the key columns repeated.
    pub fn text(&self, limit: usize) -> String {
        let columns = self.padded();
        let wide = |index: usize| columns.get(index).and_then(|c| c.first()).map_or(0, |t| width(t));
        let keys: Vec<usize> = (0..columns.len()).filter(|&i| self.columns[i].key).collect();
        let values: Vec<usize> = (0..columns.len()).filter(|&i| !self.columns[i].key).collect();
        let key_width: usize = keys.iter().map(|&i| wide(i) + 2).sum();
        let mut blocks: Vec<Vec<usize>> = Vec::new();
        let mut used = usize::MAX;
        for index in values {
            let need = wide(index) + 2;
            if used == usize::MAX || used + need > limit + 2 {
                blocks.push(Vec::new());
                used = key_width + 2;
            }
            used += need;
            if let Some(block) = blocks.last_mut() {
                block.push(index);
            }
        }
        if blocks.is_empty() {
            blocks.push(Vec::new());
        }
        let mut out = String::new();
        for (number, block) in blocks.iter().enumerate() {
            if number > 0 {
                out.push('\n');
            }
            for line in 0..=self.rows.len() {
                let cell =
                    |&index: &usize| columns.get(index).and_then(|c| c.get(line)).map_or("", String::as_str);
                let left: Vec<&str> = keys.iter().map(cell).collect();
                let right: Vec<&str> = block.iter().map(cell).collect();
                let mut text = left.join("  ");
                if !left.is_empty() && !right.is_empty() {
                    text.push_str(" | ");
                }
                text.push_str(&right.join("  "));
                out.push_str(text.trim_end());
                out.push('\n');
                if line == 0 {
                    let bar = |cells: &[&str]| cells.iter().map(|c| "-".repeat(width(c))).collect::<Vec<_>>();
                    let mut rule = bar(&left).join("--");
                    if !left.is_empty() && !right.is_empty() {
                        rule.push_str("-+-");
                    }
                    rule.push_str(&bar(&right).join("--"));
                    out.push_str(&rule);
                    out.push('\n');
                }
            }
        }
        out
    }

    /// A Markdown table, its columns aligned so that it reads as plain text too.
    pub fn markdown(&self) -> String {
        let escape = escape_markdown;
        let escaped = Self {
            columns: self.columns.iter().map(|c| Column { title: escape(&c.title), ..c.clone() }).collect(),
            rows: self.rows.iter().map(|row| row.iter().map(|cell| escape(cell)).collect()).collect(),
        };
        let columns = escaped.padded();
        let mut out = String::new();
        for line in 0..=self.rows.len() {
            out.push('|');
            for column in &columns {
                out.push(' ');
                out.push_str(column.get(line).map_or("", String::as_str));
                out.push_str(" |");
            }
            out.push('\n');
            if line == 0 {
                out.push('|');
                for column in &columns {
                    out.push_str(&"-".repeat(column.first().map_or(0, |t| width(t)) + 2));
                    out.push('|');
                }
                out.push('\n');
            }
        }
        out
    }

    /// Lines of comma-separated values (RFC 4180, but with plain line feeds), the titles first.
    pub fn csv(&self) -> String {
        let mut out = String::new();
        let titles: Vec<&str> = self.columns.iter().map(|c| c.title.as_str()).collect();
        csv_line(&titles, &mut out);
        for row in &self.rows {
            let cells: Vec<&str> = row.iter().map(String::as_str).collect();
            csv_line(&cells, &mut out);
        }
        out
    }

    /// A `<table>` element; all text is escaped.
    pub fn html(&self) -> String {
        let mut out = String::from("<table>\n<thead><tr>");
        for column in &self.columns {
            out.push_str(&format!("<th scope=\"col\"{}>{}</th>", class(column), escape_html(&column.title)));
        }
        out.push_str("</tr></thead>\n<tbody>\n");
        for row in &self.rows {
            out.push_str("<tr>");
            for (column, cell) in self.columns.iter().zip(row) {
                out.push_str(&format!("<td{}>{}</td>", class(column), escape_html(cell)));
            }
            out.push_str("</tr>\n");
        }
        out.push_str("</tbody>\n</table>\n");
        out
    }
}

fn class(column: &Column) -> &'static str {
    match (column.key, column.figures) {
        (true, _) => " class=\"key\"",
        (_, true) => " class=\"figure\"",
        _ => "",
    }
}

fn csv_line(cells: &[&str], out: &mut String) {
    for (index, cell) in cells.iter().enumerate() {
        if index > 0 {
            out.push(',');
        }
        if cell.contains([',', '"', '\n', '\r']) {
            out.push('"');
            out.push_str(&cell.replace('"', "\"\""));
            out.push('"');
        } else {
            out.push_str(cell);
        }
    }
    out.push('\n');
}

pub use keyon_draw::escape as escape_html;

/// Text that Markdown shows as it is: no emphasis, link, code, table or HTML comes of it.
pub fn escape_markdown(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '\\' | '|' | '*' | '_' | '`' | '[' | ']' | '#' => {
                out.push('\\');
                out.push(c);
            }
            '<' => out.push_str("&lt;"),
            '&' => out.push_str("&amp;"),
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

/// Words broken into lines of at most `limit` characters; lines after the first begin with `indent` blanks.
pub fn wrap(text: &str, limit: usize, indent: usize) -> String {
    let mut out = String::new();
    let mut used = 0;
    for word in text.split(' ').filter(|w| !w.is_empty()) {
        let need = width(word);
        if used > 0 && used + 1 + need > limit {
            out.push('\n');
            out.push_str(&" ".repeat(indent));
            used = indent;
        } else if used > 0 {
            out.push(' ');
            used += 1;
        }
        out.push_str(word);
        used += need;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sample() -> Grid {
        Grid {
            columns: vec![Column::key("key"), Column::words("left_valve"), Column::figures("volts")],
            rows: vec![
                vec!["off".into(), "rests".into(), "floats".into()],
                vec!["run".into(), "operates".into(), "12.59 *".into()],
                vec!["-".into(), "a|b, <c>".into(), "-0.108".into()],
            ],
        }
    }

    #[test]
    fn text_lines_up_at_the_decimal_point() {
        insta::assert_snapshot!(sample().text(80), @r"
        key | left_valve  volts
        ----+--------------------
        off | rests       floats
        run | operates    12.59 *
        -   | a|b, <c>    -0.108
        ");
    }

    #[test]
    fn a_wide_table_is_broken_with_its_keys_repeated() {
        insta::assert_snapshot!(sample().text(20), @r"
        key | left_valve
        ----+-----------
        off | rests
        run | operates
        -   | a|b, <c>

        key | volts
        ----+--------
        off | floats
        run | 12.59 *
        -   | -0.108
        ");
    }

    #[test]
    fn markdown_csv_and_html_escape() {
        insta::assert_snapshot!(sample().markdown());
        insta::assert_snapshot!(sample().csv());
        insta::assert_snapshot!(sample().html());
    }

    #[test]
    fn wrapping_keeps_words_whole() {
        assert_eq!(wrap("aa bb cc dddddddddd e", 6, 2), "aa bb\n  cc\n  dddddddddd\n  e");
    }
}
