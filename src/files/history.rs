//! What was done to a text, and how does it go back?
//!
//! A step is kept as the one stretch of text that it changed: what stood there before, and what stands there now.

/// A text with all that was done to it.
#[derive(Clone, Debug)]
pub(super) struct History<W> {
    text: String,
    done: Vec<Step<W>>,
    undone: Vec<Step<W>>,
    /// Whether the last step may take in the next one.
    is_open: bool,
}

#[derive(Clone, Debug)]
struct Step<W> {
    what: W,
    at: usize,
    before: String,
    after: String,
}

impl<W: Clone> History<W> {
    /// A text to which nothing was done yet.
    pub fn new(text: String) -> Self {
        Self { text, done: Vec::new(), undone: Vec::new(), is_open: false }
    }

    /// The text as it is now.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// What was done and is not undone, the oldest first.
    pub fn done(&self) -> impl DoubleEndedIterator<Item = &W> {
        self.done.iter().map(|step| &step.what)
    }

    /// What was undone last, and would be done again first.
    pub fn undone(&self) -> Option<&W> {
        self.undone.last().map(|step| &step.what)
    }

    /// What was done last, where it may take in the next step.
    pub fn open(&self) -> Option<&W> {
        self.done.last().map(|step| &step.what).filter(|_| self.is_open)
    }

    /// The text becomes this one; what was undone is forgotten. Where nothing changes nothing is done.
    pub fn push(&mut self, what: W, text: &str) {
        if text != self.text {
            let step = difference(what, &self.text, text);
            text.clone_into(&mut self.text);
            self.done.push(step);
            self.undone.clear();
            self.is_open = true;
        }
    }

    /// As [`History::push`], as one step with the last one.
    pub fn extend(&mut self, what: W, text: &str) {
        if let Some(last) = self.done.pop() {
            put(&mut self.text, last.at, &last.after, &last.before);
        }
        self.is_open = false;
        self.push(what, text);
    }

    /// The next step is one of its own.
    pub fn close(&mut self) {
        self.is_open = false;
    }

    /// Takes back the last step.
    pub fn undo(&mut self) -> Option<W> {
        let step = self.done.pop()?;
        put(&mut self.text, step.at, &step.after, &step.before);
        self.is_open = false;
        let what = step.what.clone();
        self.undone.push(step);
        Some(what)
    }

    /// Does again what was undone last.
    pub fn redo(&mut self) -> Option<W> {
        let step = self.undone.pop()?;
        put(&mut self.text, step.at, &step.before, &step.after);
        self.is_open = false;
        let what = step.what.clone();
        self.done.push(step);
        Some(what)
    }
}

fn put(text: &mut String, at: usize, old: &str, new: &str) {
    text.replace_range(at..at + old.len(), new);
}

/// The stretch in which two texts differ.
fn difference<W>(what: W, before: &str, after: &str) -> Step<W> {
    let same = |a: &mut dyn Iterator<Item = (char, char)>| {
        a.take_while(|(a, b)| a == b).map(|(letter, _)| letter.len_utf8()).sum::<usize>()
    };
    let at = same(&mut before.chars().zip(after.chars()));
    let (before, after) = (&before[at..], &after[at..]);
    let end = same(&mut before.chars().rev().zip(after.chars().rev()));
    Step { what, at, before: before[..before.len() - end].to_owned(), after: after[..after.len() - end].to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_undone_and_redone_is_the_text_as_it_was() {
        let texts = ["", "aé", "aéé", "éa", "a", "", "ab", "bab"];
        let mut history = History::new(texts[0].to_owned());
        for (index, text) in texts.iter().enumerate().skip(1) {
            history.push(index, text);
        }
        for index in (1..texts.len()).rev() {
            assert_eq!((history.undo(), history.text()), (Some(index), texts[index - 1]));
        }
        assert_eq!(history.undo(), None);
        for (index, text) in texts.iter().enumerate().skip(1) {
            assert_eq!((history.redo(), history.text()), (Some(index), *text));
        }
        assert_eq!(history.redo(), None);
    }

    #[test]
    fn steps_taken_as_one_go_back_as_one_and_leave_nothing_where_they_cancel() {
        let mut history = History::new("1".to_owned());
        history.push("a", "2");
        history.extend("b", "3");
        assert_eq!((history.undo(), history.text().to_owned()), (Some("b"), "1".to_owned()));
        history.push("a", "2");
        history.extend("b", "1");
        assert_eq!(history.done().count(), 0);
    }

    #[test]
    fn a_new_step_forgets_what_was_undone() {
        let mut history = History::new("1".to_owned());
        history.push("a", "2");
        assert_eq!(history.undo(), Some("a"));
        history.push("b", "3");
        assert_eq!(history.redo(), None);
    }
}
