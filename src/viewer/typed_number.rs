//! Is what was typed into a box a number, and within its range?
//!
//! What is not taken as it stands is told.

use std::cell::RefCell;
use std::ops::RangeInclusive;

use crate::report::number;

/// Reads what is typed into one box.
pub struct TypedNumber {
    range: RangeInclusive<f64>,
    /// With the space before it, if there is one: `°`, ` m`.
    unit: &'static str,
    /// Of the last text: why it was not taken as it stands, if it was not.
    said: RefCell<Option<Option<String>>>,
}

impl TypedNumber {
    pub const fn new(range: RangeInclusive<f64>, unit: &'static str) -> Self {
        Self { range, unit, said: RefCell::new(None) }
    }

    /// The number, with or without its unit; what is none, or beyond the range, is kept to be told.
    pub fn parse(&self, text: &str) -> Option<f64> {
        let bare = text.trim().trim_end_matches(self.unit.trim()).trim().replace('−', "-");
        let number = bare.parse().ok().filter(|number: &f64| number.is_finite());
        let with_unit = |value: f64| format!("{}{}", number::shortest(value, 3), self.unit);
        let (least, most) = (*self.range.start(), *self.range.end());
        let refused = match number {
            None => Some(format!("`{}` is no number: nothing is changed", text.trim())),
            Some(number) if number < least => {
                Some(format!("{} is less than the least, {}", with_unit(number), with_unit(least)))
            }
            Some(number) if number > most => {
                Some(format!("{} is more than the most, {}", with_unit(number), with_unit(most)))
            }
            Some(_) => None,
        };
        *self.said.borrow_mut() = Some(refused);
        number
    }

    /// Of the last text, if there was any: why it was not taken as it stands, if it was not.
    pub fn said(self) -> Option<Option<String>> {
        self.said.into_inner()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> (Option<f64>, Option<String>) {
        let typed = TypedNumber::new(-90.0..=90.0, "°");
        (typed.parse(text), typed.said().expect("a text was read"))
    }

    #[test]
    fn numbers_are_taken_with_or_without_their_unit_and_anything_else_is_told() {
        for (text, number) in [("12.5", 12.5), (" -3 ° ", -3.0), ("−3°", -3.0), ("90", 90.0)] {
            assert_eq!(read(text), (Some(number), None), "{text}");
        }
        for text in ["a", "", "12,5", "1 2", "nan", "inf", "12 m"] {
            let (number, refused) = read(text);
            assert_eq!(number, None, "{text}");
            assert!(refused.is_some_and(|why| why.contains("is no number")), "{text}");
        }
        let (number, refused) = read("95");
        assert_eq!(number, Some(95.0), "the box keeps it within the range");
        assert_eq!(refused.as_deref(), Some("95° is more than the most, 90°"));
    }
}
