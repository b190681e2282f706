//! How does a value become a finding?

use crate::model::{Bound, Limit, Who};

use super::finding::{Bar, Finding, Key, Kind, Moment, Place, Status, Unit, Value};

/// A limit as the checks compare with it, in the finding's unit (SI, radians).
#[derive(Clone, Debug, PartialEq)]
pub struct Measure {
    pub unit: Unit,
    pub bar: Bar,
    /// Width of the tight band.
    pub band: f64,
    pub source: Option<String>,
}

impl Measure {
    /// A value must lie on the good side of a limit.
    pub fn of<V: Copy + Into<f64>, const UPPER: bool>(limit: &Limit<V, UPPER>, unit: Unit) -> Self {
        let value = limit.value.into();
        let band = limit.tight.map_or_else(|| (0.1 * value.abs()).max(unit.least_tight_band()), Into::into);
        let bar = if UPPER { Bar::AtMost(value) } else { Bar::AtLeast(value) };
        Self { unit, bar, band, source: limit.source.clone() }
    }

    /// The same with another tight band where the limit states none.
    pub fn with_default_band<V, const UPPER: bool>(self, limit: &Limit<V, UPPER>, band: f64) -> Self {
        if limit.tight.is_some() { self } else { Self { band, ..self } }
    }
}

/// What a finding is about.
pub fn key(check: &'static str, place: Place, who: Option<Who>, subject: impl Into<String>) -> Key {
    Key { check, place, who, subject: subject.into() }
}

impl Finding {
    /// An exact value against a limit.
    pub fn exact(key: Key, value: f64, measure: &Measure) -> Self {
        let margin = measure.bar.margin(value);
        let status = Status::of_margin(margin, measure.band, Kind::Nominal);
        Self::new(key, Value::Exact(value), measure, Some(margin), status)
    }

    /// A sampled value against a limit.
    pub fn sampled(key: Key, value: f64, measure: &Measure) -> Self {
        let exact = Self::exact(key, value, measure);
        Self { value: Value::Sampled(value), ..exact }
    }

    /// A bracket against a limit: the worse end counts, and the better end tells whether a violation is certain.
    /// `no` is the kind of a violation that only the worse end shows.
    pub fn bounded(key: Key, bound: Bound, measure: &Measure, (certain, no): (Kind, Kind)) -> Self {
        let ends = [bound.lower, bound.upper].map(|end| measure.bar.margin(end));
        let (worse, better) = (ends[0].min(ends[1]), ends[0].max(ends[1]));
        let kind = if better < 0.0 { certain } else { no };
        let status = Status::of_margin(worse, measure.band, kind);
        let worst = match measure.bar {
            Bar::AtLeast(_) => bound.lower,
            Bar::AtMost(_) => bound.upper,
        };
        Self::new(key, Value::Bounded { nominal: bound, worst }, measure, Some(worse), status)
    }

    /// A value that nothing limits.
    pub fn told(key: Key, value: Value, unit: Unit) -> Self {
        Self {
            key,
            pair: None,
            value,
            limit: None,
            margin: None,
            unit,
            at: None,
            status: Status::Ok,
            note: None,
            help: None,
            source: None,
        }
    }

    /// A violation without a value.
    pub fn failed(key: Key, measure: &Measure, kind: Kind, note: String) -> Self {
        let finding = Self::new(key, Value::None, measure, None, Status::Violation(kind));
        finding.noted(note)
    }

    /// Not checked, because …
    pub fn not_checked(key: Key, unit: Unit, reason: impl Into<String>) -> Self {
        let told = Self::told(key, Value::None, unit);
        Self { status: Status::NotChecked(reason.into()), ..told }
    }

    pub(super) fn new(key: Key, value: Value, measure: &Measure, margin: Option<f64>, status: Status) -> Self {
        Self {
            key,
            pair: None,
            value,
            limit: Some(measure.bar),
            margin,
            unit: measure.unit,
            at: None,
            status,
            note: None,
            help: None,
            source: measure.source.clone(),
        }
    }

    /// With what else must be known.
    pub fn noted(self, note: impl Into<String>) -> Self {
        Self { note: Some(note.into()), ..self }
    }

    /// With what would help.
    pub fn helped(self, help: Option<String>) -> Self {
        Self { help, ..self }
    }

    /// With when and where it was seen.
    pub fn seen(self, at: Moment) -> Self {
        Self { at: Some(at), ..self }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{AtLeast, AtMost};

    fn measure() -> Measure {
        Measure::of(&AtLeast::new(0.3), Unit::Metre)
    }

    fn of(lower: f64, upper: f64) -> Status {
        let key = key("clearance", Place::Step { step: "a".to_owned() }, None, "pair");
        let bound = Bound { lower, upper };
        Finding::bounded(key, bound, &measure(), (Kind::Nominal, Kind::NotTold)).status
    }

    #[test]
    fn the_worse_end_of_a_bracket_decides() {
        assert_eq!(of(0.4, 0.401), Status::Ok);
        assert_eq!(of(0.31, 0.6), Status::Tight);
        assert_eq!(of(0.2999, 0.3001), Status::Violation(Kind::NotTold));
        assert_eq!(of(0.1, 0.2), Status::Violation(Kind::Nominal));
    }

    #[test]
    fn the_tight_band_is_a_tenth_of_the_limit_and_at_least_20_mm() {
        assert_eq!(measure().band, 0.03);
        assert_eq!(Measure::of(&AtLeast::new(0.0), Unit::Metre).band, 0.02);
    }

    #[test]
    fn an_upper_limit_is_kept_from_below() {
        let measure = Measure::of(&AtMost::new(0.5), Unit::Metre);
        let key = key("line", Place::Step { step: "a".to_owned() }, None, "tip");
        assert_eq!(Finding::exact(key, 0.6, &measure).margin.map(|m| m < 0.0), Some(true));
    }
}
