//! How do columns line up within the width of a page?

use super::Ink;

/// No line is wider than this, in characters.
pub const WIDTH: usize = 120;
/// Columns that may wrap are not made narrower than this.
const NARROWEST: usize = 10;
/// Between two columns.
const GAP: &str = "  ";

/// How a column is set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Set {
    Left,
    Right,
    /// To the left, and wrapped where the page is too narrow.
    Wrap,
}

/// What colour a cell has where there is colour.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Paint {
    #[default]
    None,
    Bold,
    Good,
    Near,
    Bad,
    Unknown,
}

/// One cell.
#[derive(Clone, Debug, Default)]
pub struct Cell {
    text: String,
    paint: Paint,
}

impl Cell {
    /// A cell whose text is painted.
    pub fn painted(text: impl Into<String>, paint: Paint) -> Self {
        Self { text: text.into(), paint }
    }
}

impl<T: Into<String>> From<T> for Cell {
    fn from(text: T) -> Self {
        Self::painted(text, Paint::None)
    }
}

/// Rows of cells under a row of headings.
pub struct Table<const N: usize> {
    columns: [(&'static str, Set); N],
    rows: Vec<[Cell; N]>,
}

impl<const N: usize> Table<N> {
    /// A table without rows.
    pub fn new(columns: [(&'static str, Set); N]) -> Self {
        Self { columns, rows: Vec::new() }
    }

    /// Adds a row.
    pub fn row(&mut self, cells: [Cell; N]) {
        self.rows.push(cells);
    }

    /// Writes the table, `indent` spaces from the left; nothing if it has no rows.
    pub fn write(&self, ink: Ink, indent: usize, out: &mut String) {
        if self.rows.is_empty() {
            return;
        }
        let widths = self.widths(indent);
        if self.columns.iter().any(|(heading, _)| !heading.is_empty()) {
            let headings = self.columns.map(|(heading, _)| Cell::painted(heading, Paint::Bold));
            self.write_row(&headings, &widths, (ink, indent), out);
        }
        for row in &self.rows {
            self.write_row(row, &widths, (ink, indent), out);
        }
    }

    /// The width of each column: what it asks for, the widest wrapping columns narrowed until the page holds all.
    fn widths(&self, indent: usize) -> [usize; N] {
        let mut widths = self.columns.map(|(heading, _)| length(heading));
        for row in &self.rows {
            for (width, cell) in widths.iter_mut().zip(row) {
                *width = (*width).max(length(&cell.text));
            }
        }
        let page = WIDTH.saturating_sub(indent + GAP.len() * N.saturating_sub(1));
        while widths.iter().sum::<usize>() > page {
            let wrapping = widths.iter_mut().zip(&self.columns).filter(|(_, (_, set))| *set == Set::Wrap);
            match wrapping.map(|(width, _)| width).max_by_key(|width| **width) {
                Some(width) if *width > NARROWEST => *width -= 1,
                _ => break,
            }
        }
        widths
    }

    fn write_row(&self, row: &[Cell; N], widths: &[usize; N], (ink, indent): (Ink, usize), out: &mut String) {
        let lines: Vec<Vec<String>> = row.iter().zip(widths).map(|(cell, width)| wrap(&cell.text, *width)).collect();
        let height = lines.iter().map(Vec::len).max().unwrap_or(0);
        for at in 0..height {
            let mut line = " ".repeat(indent);
            // Spaces are held back until something follows them: no line ends in a space.
            let mut pending = String::new();
            for (((cell, lines), width), (_, set)) in row.iter().zip(&lines).zip(widths).zip(&self.columns) {
                let text = lines.get(at).map_or("", String::as_str);
                let fill = " ".repeat(width.saturating_sub(length(text)));
                if text.is_empty() {
                    pending.push_str(&fill);
                } else if *set == Set::Right {
                    line += &pending;
                    line += &fill;
                    line += &ink.paint(text, cell.paint);
                    pending.clear();
                } else {
                    line += &pending;
                    line += &ink.paint(text, cell.paint);
                    pending = fill;
                }
                pending.push_str(GAP);
            }
            out.push_str(line.trim_end());
            out.push('\n');
        }
    }
}

/// Lines of at most `width` characters, broken at spaces, else after `/`, `-` or `_`, else anywhere.
pub fn wrap(text: &str, width: usize) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in text.split(' ').filter(|word| !word.is_empty()) {
        let needed = length(&line) + usize::from(!line.is_empty()) + length(word);
        if needed > width && !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        if !line.is_empty() {
            line.push(' ');
        }
        line.push_str(word);
        while length(&line) > width {
            let rest = line.split_off(breaking_point(&line, width));
            lines.push(std::mem::replace(&mut line, rest));
        }
    }
    if !line.is_empty() || lines.is_empty() {
        lines.push(line);
    }
    lines
}

/// The byte at which the rest of a word that is too long goes to the next line.
fn breaking_point(word: &str, width: usize) -> usize {
    let ends = word.char_indices().take(width.max(1)).map(|(at, letter)| (at + letter.len_utf8(), letter));
    let (mut last, mut nice) = (word.len(), None);
    for (end, letter) in ends {
        last = end;
        if matches!(letter, '/' | '-' | '_') {
            nice = Some(end);
        }
    }
    nice.unwrap_or(last)
}

/// How many columns a text takes.
fn length(text: &str) -> usize {
    text.chars().count()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_line_up_and_no_line_ends_in_a_space() {
        let mut table = Table::new([("name", Set::Left), ("value", Set::Right), ("note", Set::Left)]);
        table.row(["a".into(), "1.5".into(), "".into()]);
        table.row(["longer".into(), "-12.25".into(), "x".into()]);
        let mut out = String::new();
        table.write(Ink::Plain, 2, &mut out);
        assert_eq!(out, "  name     value  note\n  a          1.5\n  longer  -12.25  x\n");
    }

    #[test]
    fn a_table_stays_within_the_page_where_columns_wrap() {
        let mut table = Table::new([("one", Set::Wrap), ("two", Set::Wrap)]);
        let name = |letter: &str| letter.repeat(97) + "/" + &letter.repeat(50);
        table.row([name("a").into(), name("b").into()]);
        let mut out = String::new();
        table.write(Ink::Plain, 4, &mut out);
        assert!(out.lines().all(|line| length(line) <= WIDTH), "{out}");
        let kept = |letter: char| out.chars().filter(|c| *c == letter).count();
        assert_eq!((kept('a'), kept('b'), kept('/')), (147, 147, 2));
    }

    #[test]
    fn colour_leaves_the_text_as_it_is() {
        let mut table = Table::new([("", Set::Left), ("", Set::Right)]);
        table.row([Cell::painted("violation", Paint::Bad), "1".into()]);
        table.row(["ok".into(), "22".into()]);
        let (mut plain, mut coloured) = (String::new(), String::new());
        table.write(Ink::Plain, 0, &mut plain);
        table.write(Ink::Coloured, 0, &mut coloured);
        assert_ne!(plain, coloured);
        assert_eq!(plain, coloured.replace("\x1b[31;1m", "").replace("\x1b[0m", ""));
    }

    #[test]
    fn words_break_after_a_slash_before_they_break_anywhere() {
        assert_eq!(wrap("truss/bay-12 x", 8), ["truss/", "bay-12 x"]);
        assert_eq!(wrap("abcdef", 4), ["abcd", "ef"]);
        assert_eq!(wrap("", 4), [""]);
    }
}
