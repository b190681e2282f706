//! How is one value of a TOML text changed so that everything else stays, byte for byte?
//!
//! A value that is there is replaced at its own bytes. What is new is put in by `toml_edit`, which keeps the rest as it
//! is. What goes is cut out line by line; no comment goes with it.

use std::ops::Range;

use toml_edit::{Array, ArrayOfTables, Document, DocumentMut, InlineTable, Item, RawString, Table, TomlError, Value};

/// Numbers are written to this many parts of one, in whatever unit.
const PARTS: f64 = 1e6;

/// One part of the way to a value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Seg<'a> {
    Key(&'a str),
    At(usize),
}

/// A TOML text under change.
#[derive(Debug)]
pub(super) struct TomlText(String);

impl TomlText {
    /// A text without syntax errors.
    ///
    /// # Errors
    /// It has one.
    pub fn new(text: &str) -> Result<Self, TomlError> {
        Document::parse(text).map(|_| Self(text.to_owned()))
    }

    /// The text as it is now.
    pub fn into_string(self) -> String {
        self.0
    }

    /// Asks something of the value at a path; the answer for none where there is none.
    pub fn look<R>(&self, path: &[Seg<'_>], ask: impl FnOnce(Option<&Item>) -> R) -> R {
        match self.document() {
            Ok(document) => ask(find(document.as_item(), path)),
            Err(_) => ask(None),
        }
    }

    fn document(&self) -> Result<Document<&str>, TomlError> {
        Document::parse(self.0.as_str())
    }

    /// Makes the value at a path this one; where there is none, it and the tables around it are put in. Numbers that
    /// are the same as written, and what holds the same text, stay as they are.
    ///
    /// # Errors
    /// What was written is no TOML: a mistake of ours.
    pub fn set(&mut self, path: &[Seg<'_>], new: &toml::Value) -> Result<(), TomlError> {
        let changes = self.look(path, |old| old.and_then(Item::as_value).map(|old| replaced(old, new)));
        match changes {
            Some(mut changes) => {
                changes.sort_by_key(|(bytes, _)| std::cmp::Reverse(bytes.start));
                for (bytes, text) in changes {
                    self.0.replace_range(bytes, &text);
                }
                Ok(())
            }
            None => self.put_in(|root| insert(root, path, new)),
        }
    }

    /// Gives a value of a table another key, and makes it this one; both stand where the old ones stood.
    ///
    /// # Errors
    /// As [`TomlText::set`].
    pub fn set_in_place_of(
        &mut self,
        table: &[Seg<'_>],
        (old_key, key): (&str, &str),
        new: &toml::Value,
    ) -> Result<(), TomlError> {
        // A value that is spread over several keys, or has a header of its own, has no one place.
        let bytes = self.look(table, |table| {
            let (key, value) = table?.as_table_like()?.get_key_value(old_key)?;
            let value =
                value.as_value().filter(|value| !value.as_inline_table().is_some_and(InlineTable::is_dotted))?;
            Some(key.span()?.start..value.span()?.end)
        });
        if let Some(bytes) = bytes {
            self.0.replace_range(bytes, &format!("{key} = {}", bare(&written(new, false))));
            return Ok(());
        }
        self.set(&[table, &[Seg::Key(key)]].concat(), new)?;
        self.remove(&[table, &[Seg::Key(old_key)]].concat())
    }

    /// Puts a table into a list of tables, before the one of that number or at the end. Where there is no list yet, it
    /// is made as the table around it is written.
    ///
    /// # Errors
    /// As [`TomlText::set`].
    pub fn insert_table(
        &mut self,
        (around, list): (&[Seg<'_>], &str),
        index: usize,
        table: &toml::Table,
    ) -> Result<(), TomlError> {
        self.put_in(|root| {
            let around = find_mut(root, around)?;
            let exists = around.get(list).is_some();
            if !exists {
                let new = match around {
                    Item::Table(table) if !table.is_dotted() => Item::ArrayOfTables(ArrayOfTables::new()),
                    _ => Item::Value(Value::Array(Array::new())),
                };
                put(around, list, new);
            }
            match around.get_mut(list)? {
                Item::ArrayOfTables(tables) => {
                    let mut new = Table::new();
                    for (key, value) in table {
                        new.insert(key, Item::Value(written(value, true)));
                    }
                    tables.insert(index.min(tables.len()), new);
                }
                Item::Value(Value::Array(tables)) => {
                    insert_inline(tables, index, written(&toml::Value::Table(table.clone()), true));
                }
                _ => return None,
            }
            Some(())
        })
    }

    /// Takes out what is at a path; its comments stay.
    ///
    /// # Errors
    /// As [`TomlText::set`].
    pub fn remove(&mut self, path: &[Seg<'_>]) -> Result<(), TomlError> {
        let Some((last, around)) = path.split_last() else { return Ok(()) };
        if self.look(around, |around| around.is_some_and(Item::is_value)) {
            return self.put_in(|root| remove_inline(find_mut(root, around)?, *last));
        }
        let mut bytes = Vec::new();
        self.look(path, |item| item.into_iter().for_each(|item| gather_bytes(item, &mut bytes)));
        self.cut(&bytes);
        Ok(())
    }

    /// Changes the text through `toml_edit`; line ends stay those of the text.
    fn put_in(&mut self, change: impl FnOnce(&mut Item) -> Option<()>) -> Result<(), TomlError> {
        let mut document: DocumentMut = self.0.parse()?;
        if change(document.as_item_mut()).is_some() {
            let text = document.to_string();
            let is_crlf = self.0.contains("\r\n") && !self.0.replace("\r\n", "").contains('\n');
            self.0 = if is_crlf { text.replace('\n', "\r\n") } else { text };
        }
        Ok(())
    }

    /// Cuts out the lines that hold some bytes, all but their comments. What is cut holds no text with a `#` in it.
    fn cut(&mut self, bytes: &[Range<usize>]) {
        let mut kept: Vec<&str> = Vec::new();
        let mut start = 0;
        let mut after_cut = false;
        for line in self.0.split_inclusive('\n') {
            let end = start + line.len();
            let is_cut = bytes.iter().any(|range| range.start < end && range.end > start);
            let is_blank = line.trim().is_empty();
            if is_cut {
                kept.extend(line.find('#').and_then(|at| line.get(at..)));
            } else if !(after_cut && is_blank && kept.last().is_none_or(|before| before.trim().is_empty())) {
                kept.push(line);
            }
            after_cut = is_cut || (after_cut && is_blank);
            start = end;
        }
        if after_cut && kept.last().is_some_and(|line| line.trim().is_empty()) {
            kept.pop();
        }
        self.0 = kept.concat();
    }
}

fn find<'i>(root: &'i Item, path: &[Seg<'_>]) -> Option<&'i Item> {
    path.iter().try_fold(root, |item, seg| match *seg {
        Seg::Key(key) => item.get(key),
        Seg::At(index) => item.get(index),
    })
}

fn find_mut<'i>(root: &'i mut Item, path: &[Seg<'_>]) -> Option<&'i mut Item> {
    find(root, path)?;
    path.iter().try_fold(root, |item, seg| match *seg {
        Seg::Key(key) => item.get_mut(key),
        Seg::At(index) => item.get_mut(index),
    })
}

/// The bytes of all that belongs to an item: its headers and its values.
fn gather_bytes(item: &Item, bytes: &mut Vec<Range<usize>>) {
    match item {
        Item::Table(table) => {
            if !table.is_implicit() && !table.is_dotted() {
                bytes.extend(table.span());
            }
            table.iter().for_each(|(_, item)| gather_bytes(item, bytes));
        }
        Item::ArrayOfTables(tables) => {
            for table in tables {
                bytes.extend(table.span());
                table.iter().for_each(|(_, item)| gather_bytes(item, bytes));
            }
        }
        Item::Value(value) => bytes.extend(value.span()),
        Item::None => {}
    }
}

/// What has to change, and where, for a value to become another.
fn replaced(old: &Value, new: &toml::Value) -> Vec<(Range<usize>, String)> {
    if let (Value::Array(old), toml::Value::Array(new)) = (old, new)
        && old.len() == new.len()
    {
        let is_pointed = old.iter().any(|old| old.as_float().is_some_and(|number| number.fract() == 0.0));
        return old.iter().zip(new).flat_map(|(old, new)| replaced_one(old, new, is_pointed)).collect();
    }
    replaced_one(old, new, !matches!(old, Value::Integer(_) | Value::Array(_))).into_iter().collect()
}

fn replaced_one(old: &Value, new: &toml::Value, is_pointed: bool) -> Option<(Range<usize>, String)> {
    let is_same = match (number(old), new.as_float()) {
        (Some(old), Some(new)) => rounded(old) == rounded(new),
        _ => old.as_str().is_some() && old.as_str() == new.as_str(),
    };
    if is_same { None } else { Some((old.span()?, bare(&written(new, is_pointed)))) }
}

fn number(value: &Value) -> Option<f64> {
    value.as_float().or_else(|| value.as_integer().map(|whole| whole as f64))
}

/// A number as it is written; never the negative nought.
fn rounded(number: f64) -> f64 {
    (number * PARTS).round() / PARTS + 0.0
}

/// A value as `toml_edit` has it; whole numbers with a point only where the file writes them so. In lists they have
/// none.
fn written(new: &toml::Value, is_pointed: bool) -> Value {
    const LARGEST_WHOLE: f64 = 1e15;
    match new {
        toml::Value::Float(number) => {
            let number = rounded(*number);
            let is_whole = number.fract() == 0.0 && number.abs() < LARGEST_WHOLE;
            if is_whole && !is_pointed { Value::from(number as i64) } else { Value::from(number) }
        }
        toml::Value::Integer(number) => Value::from(*number),
        toml::Value::Boolean(truth) => Value::from(*truth),
        toml::Value::String(text) => Value::from(text.as_str()),
        toml::Value::Datetime(time) => Value::from(*time),
        toml::Value::Array(list) => Value::Array(list.iter().map(|item| written(item, false)).collect()),
        toml::Value::Table(table) => {
            Value::InlineTable(table.iter().map(|(key, value)| (key.as_str(), written(value, false))).collect())
        }
    }
}

/// A value without the space around it.
fn bare(value: &Value) -> String {
    value.to_string().trim().to_owned()
}

/// Puts a value in at a path, and the tables around it that are missing.
fn insert(root: &mut Item, path: &[Seg<'_>], new: &toml::Value) -> Option<()> {
    let (last, around) = path.split_last()?;
    let Seg::Key(last) = *last else { return None };
    let mut item = root;
    for (index, seg) in around.iter().enumerate() {
        if let Seg::Key(key) = *seg
            && item.get(key).is_none()
        {
            let new = match item {
                Item::Table(outer) => {
                    let mut table = Table::new();
                    // Of several new tables the innermost alone needs a header.
                    table.set_implicit(index + 1 < around.len());
                    table.set_dotted(outer.is_dotted());
                    Item::Table(table)
                }
                _ => Item::Value(Value::InlineTable(InlineTable::new())),
            };
            put(item, key, new);
        }
        item = match *seg {
            Seg::Key(key) => item.get_mut(key)?,
            Seg::At(index) => item.get_mut(index)?,
        };
    }
    put(item, last, Item::Value(written(new, !new.is_array())));
    Some(())
}

/// Puts something new at the end of a table; within braces the space before the closing one stays there.
fn put(around: &mut Item, key: &str, new: Item) {
    match around {
        Item::Table(table) => {
            table.insert(key, new);
        }
        Item::Value(Value::InlineTable(table)) => {
            let Ok(mut new) = new.into_value() else { return };
            if let Some((_, last)) = table.iter_mut().last() {
                let space = last.decor().suffix().cloned();
                last.decor_mut().set_suffix("");
                new.decor_mut().set_prefix(" ");
                space.into_iter().for_each(|space| new.decor_mut().set_suffix(space));
            }
            table.insert(key, new);
        }
        _ => {}
    }
}

/// Puts a table into a list in brackets, on a line of its own where the others are.
fn insert_inline(list: &mut Array, index: usize, mut new: Value) {
    let index = index.min(list.len());
    let space = |value: Option<&Value>| {
        let prefix = value?.decor().prefix()?.as_str()?;
        let line = prefix.rfind('\n').and_then(|at| prefix.get(at..));
        Some(line.unwrap_or(if prefix.trim().is_empty() { prefix } else { " " }).to_owned())
    };
    let of_first = space(list.get(0)).unwrap_or_default();
    let of_others = if of_first.contains('\n') { of_first.clone() } else { " ".to_owned() };
    new.decor_mut().set_prefix(if index == 0 { of_first } else { of_others.clone() });
    if index == 0
        && let Some(first) = list.get_mut(0)
        && first.decor().prefix().and_then(|prefix| prefix.as_str()).is_none_or(|prefix| prefix.trim().is_empty())
    {
        first.decor_mut().set_prefix(of_others.as_str());
    } else if index > 0
        && index == list.len()
        && !list.trailing_comma()
        && let Some(last) = list.get_mut(index - 1)
    {
        // What stands behind the last one is space before the bracket, or a comment on the last one.
        let behind = decor_text(last.decor().suffix());
        last.decor_mut().set_suffix("");
        match behind.rfind('\n').filter(|_| behind.contains('#')) {
            Some(line) => {
                let (comment, space) = behind.split_at(line);
                let indent = if of_others.contains('\n') { of_others.as_str() } else { "\n" };
                new.decor_mut().set_prefix(format!("{comment}{indent}"));
                new.decor_mut().set_suffix(space);
            }
            None => new.decor_mut().set_suffix(behind),
        }
    }
    list.insert_formatted(index, new);
}

/// Takes something out of a list in brackets or a table in braces; comments before and behind it stay where it was.
fn remove_inline(around: &mut Item, what: Seg<'_>) -> Option<()> {
    match (around.as_value_mut()?, what) {
        (Value::InlineTable(table), Seg::Key(key)) => {
            let was_last = table.iter().last().is_some_and(|(last, _)| last == key);
            let removed = table.remove(key)?;
            if was_last && let Some((_, last)) = table.iter_mut().last() {
                let space = removed.decor().suffix().cloned();
                space.into_iter().for_each(|space| last.decor_mut().set_suffix(space));
            }
        }
        (Value::Array(list), Seg::At(index)) => {
            list.get(index)?;
            let was_last = index + 1 == list.len();
            let removed = list.remove(index);
            let before = decor_text(removed.decor().prefix());
            let behind = decor_text(removed.decor().suffix());
            let has_comment = before.contains('#') || behind.contains('#');
            if let Some(next) = list.get_mut(index) {
                let own = decor_text(next.decor().prefix());
                let prefix = match (has_comment, index) {
                    (true, _) => format!("{before}{behind}{own}"),
                    (false, 0) if !own.contains('#') => before,
                    _ => own,
                };
                next.decor_mut().set_prefix(prefix);
            } else if has_comment {
                let behind = format!("{behind}{}", decor_text(Some(list.trailing())));
                let is_full_line = behind.trim_start_matches([' ', '\t']).starts_with(['\n', '\r']);
                let before = if is_full_line { before.trim_end() } else { before.as_str() };
                list.set_trailing(format!("{before}{behind}"));
            } else if was_last
                && index > 0
                && !list.trailing_comma()
                && let Some(last) = list.get_mut(index - 1)
            {
                last.decor_mut().set_suffix(behind);
            }
        }
        _ => return None,
    }
    Some(())
}

fn decor_text(decor: Option<&RawString>) -> String {
    decor.and_then(RawString::as_str).unwrap_or_default().to_owned()
}

#[cfg(test)]
mod tests {
    use super::Seg::{At, Key};
    use super::*;

    fn text(text: &str) -> TomlText {
        TomlText::new(text).expect("it is TOML")
    }

    fn set(before: &str, path: &[Seg<'_>], new: impl Into<toml::Value>) -> String {
        let mut text = text(before);
        text.set(path, &new.into()).expect("it stays TOML");
        text.into_string()
    }

    fn removed(before: &str, path: &[Seg<'_>]) -> String {
        let mut text = text(before);
        text.remove(path).expect("it stays TOML");
        text.into_string()
    }

    #[test]
    fn a_value_changes_and_nothing_else_whatever_the_lines_end_with() {
        let before = "# a\r\n  a=  0.30   # why\n'b' = { c = 1 , d=[ 1, # one\n 2.5 ] }";
        let after = set(before, &[Key("a")], 0.25);
        assert_eq!(after, before.replace("0.30", "0.25"));
        let after = set(&after, &[Key("b"), Key("d")], vec![1.0, 3.000_000_4]);
        assert_eq!(after, before.replace("0.30", "0.25").replace("2.5", "3"));
    }

    #[test]
    fn numbers_are_short_and_those_that_are_the_same_stay_as_written() {
        assert_eq!(set("a = [30.0, -1.50, 2]\n", &[Key("a")], vec![30.0, -1.5, 1.2 - 1.0]), "a = [30.0, -1.50, 0.2]\n");
        assert_eq!(set("a = [1, 2]\n", &[Key("a")], vec![-0.0, -1e-9]), "a = [0, 0]\n");
        assert_eq!(set("a = 0.5\n", &[Key("a")], 1.0), "a = 1.0\n");
        assert_eq!(set("a = [1]\n", &[Key("a")], vec![0.1 + 0.2, 4.0]), "a = [0.3, 4]\n");
    }

    #[test]
    fn what_is_missing_is_put_in_with_the_tables_around_it() {
        let path = [Key("limits"), Key("moving"), Key("default")];
        assert_eq!(set("a = 1\n", &path, 0.2), "a = 1\n\n[limits.moving]\ndefault = 0.2\n");
        assert_eq!(
            set("limits = { line_m = 1 }\r\n", &path, 0.2),
            "limits = { line_m = 1, moving = { default = 0.2 } }\r\n"
        );
        assert_eq!(set("limits.line_m = 1\n", &path, 0.2), "limits.line_m = 1\nlimits.moving.default = 0.2\n");
        let headed = "[limits] # a\nline_m = 1 # b\n# c\n[[step]]\n";
        let path = [Key("limits"), Key("stop_reaction_s")];
        assert_eq!(set(headed, &path, 0.2), headed.replace("# b\n", "# b\nstop_reaction_s = 0.2\n"));
    }

    #[test]
    fn what_goes_leaves_its_comments() {
        let before = "[[a]] # one\nb = 1 # two\n\n# three\n[[a]] # four\nb = [\n  2, # five\n] # six\n\n[c]\nd = 1\n";
        assert_eq!(
            removed(before, &[Key("a"), At(1)]),
            "[[a]] # one\nb = 1 # two\n\n# three\n# four\n# five\n# six\n\n[c]\nd = 1\n"
        );
        assert_eq!(removed("[[a]]\nb = 1\n\n[[a]]\nb = 2\n", &[Key("a"), At(1)]), "[[a]]\nb = 1\n");
        assert_eq!(removed("[[a]]\nb = 1\n\n[[a]]\nb = 2\n\n[c]\n", &[Key("a"), At(1)]), "[[a]]\nb = 1\n\n[c]\n");
    }

    #[test]
    fn a_list_in_brackets_gets_and_loses_tables_with_its_comments_kept() {
        let table = toml::Table::from_iter([("b".to_owned(), toml::Value::Float(3.0))]);
        let lists = [
            "a = []\n",
            "a = [{ b = 1.0 }]\n",
            "a = [ { b = 1.0 }, { b = 2.0 } ]\n",
            "a = [\n  { b = 1.0 }, # one\n  { b = 2.0 }, # two\n]\n",
            "a = [ # none\n  { b = 1.0 } # one\n  , # two\n  { b = 2.0 } # three\n]\n",
        ];
        for before in lists {
            let count = text(before).look(&[Key("a")], |list| list.and_then(Item::as_array).map_or(0, Array::len));
            for index in 0..=count {
                let mut more = text(before);
                more.insert_table((&[], "a"), index, &table).expect("it stays TOML");
                assert_eq!(comments(&more.0), comments(before), "{}", more.0);
                assert!(more.look(&[Key("a"), At(index), Key("b")], |b| b.and_then(Item::as_integer)) == Some(3));
                let mut less = text(&more.0);
                less.remove(&[Key("a"), At(index)]).expect("it stays TOML");
                assert_eq!(less.0, before, "put in and taken out at {index}: {}", more.0);
            }
            for index in 0..count {
                let less = removed(before, &[Key("a"), At(index)]);
                assert_eq!(comments(&less), comments(before), "{less}");
                assert_eq!(
                    text(&less).look(&[Key("a")], |a| a.and_then(Item::as_array).map(Array::len)),
                    Some(count - 1)
                );
            }
        }
    }

    fn comments(text: &str) -> Vec<&str> {
        text.lines().filter_map(|line| Some(line.get(line.find('#')?..)?.trim())).collect()
    }

    #[test]
    fn a_value_under_another_key_stands_where_the_old_one_stood() {
        let joints = toml::Value::from(vec![1.0, 2.5]);
        let changed = |before: &str| {
            let mut text = text(before);
            text.set_in_place_of(&[Key("w"), At(0)], ("tip", "joints"), &joints).expect("it stays TOML");
            text.into_string()
        };
        assert_eq!(changed("[[w]]\ntip = { x = 1 } # a\nd = 1\n"), "[[w]]\njoints = [1, 2.5] # a\nd = 1\n");
        assert_eq!(changed("w = [{ tip = {}, d = 1 }]\n"), "w = [{ joints = [1, 2.5], d = 1 }]\n");
        assert_eq!(changed("w = [{ d = 1, tip.x = 1 }]\n"), "w = [{ d = 1, joints = [1, 2.5] }]\n");
        assert_eq!(changed("[[w]]\nd = 1\n[w.tip] # a\nx = 1\n"), "[[w]]\nd = 1\njoints = [1, 2.5]\n# a\n");
        assert_eq!(changed("[[w]]\ntip.x = 1 # a\ntip.y = 2\n"), "[[w]]\n# a\njoints = [1, 2.5]\n");
        assert_eq!(changed("[[w]]\njoints = [1, 2] # a\n"), "[[w]]\njoints = [1, 2.5] # a\n");
    }
}
