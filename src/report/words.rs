//! How is a thing said in words?

use crate::check::{Bar, Finding, Kind, Place, Situation, Unit, Value};
use crate::model::{ClassPair, Deed, Hands, Who};
use crate::space::Vector;

use super::Report;
use super::number::{self, Rounding};

/// A component of a direction is named where it is at least this: sin 22.5°, halfway between an axis and a diagonal.
const NAMED: f64 = 0.382_683_432_365_089_8;

/// A direction in the structure's frame: "right and down", the greater component first.
pub fn direction(along: &Vector) -> String {
    let Some(unit) = along.try_normalize(0.0) else {
        return "nowhere".to_owned();
    };
    let names = [["forward", "back"], ["left", "right"], ["up", "down"]];
    let mut named: Vec<(f64, &str)> = (unit.iter().zip(names))
        .filter(|(component, _)| component.abs() >= NAMED)
        .map(|(component, [positive, negative])| (component.abs(), if *component < 0.0 { negative } else { positive }))
        .collect();
    named.sort_by(|a, b| b.0.total_cmp(&a.0));
    named.into_iter().map(|(_, name)| name).collect::<Vec<_>>().join(" and ")
}

/// A crewmember.
pub const fn who(who: Who) -> &'static str {
    match who {
        Who::Rider => "rider",
        Who::SecondCrew => "second crew",
    }
}

/// What a step does, as the plan's files say it.
pub const fn deed(deed: Deed) -> &'static str {
    match deed {
        Deed::Ingress => "ingress",
        Deed::Egress => "egress",
        Deed::Transit => "transit",
        Deed::Work => "work",
        Deed::Take => "take",
        Deed::Place => "place",
        Deed::MoveBase => "move-base",
    }
}

/// Which hands do it.
pub const fn hands(hands: Hands) -> &'static str {
    match hands {
        Hands::Left => "left",
        Hands::Right => "right",
        Hands::Either => "either",
        Hands::Both => "both",
    }
}

/// A pair of classes, as in "payload to structure".
pub fn classes(pair: ClassPair) -> String {
    let (first, second) = pair.classes();
    format!("{} to {}", first.word(), second.word()).replace('_', " ")
}

/// Where a finding belongs.
pub fn place(place: &Place) -> String {
    match place {
        Place::Worksite { worksite, step } => format!("worksite {worksite}, {step}"),
        Place::Motion { motion } => format!("motion {motion}"),
        Place::Step { step } => format!("step {step}"),
    }
}

/// What a finding is about; of a clearance the two bodies, where they are known.
pub fn subject(finding: &Finding) -> String {
    match &finding.pair {
        Some(pair) => match &pair.bodies {
            Some([a, b]) => format!("{a} to {b}"),
            None => classes(pair.classes),
        },
        None => finding.key.subject.clone(),
    }
}

/// The name of a check, in the trade's words.
pub fn check(name: &str) -> &str {
    if name == "envelope" { "work envelope" } else { name }
}

/// Under which limit of its classes a pair is held.
pub const fn situation(situation: Situation) -> &'static str {
    match situation {
        Situation::Moving => "moving",
        Situation::NearWorksite => "near worksite",
        Situation::OnePiece => "one piece",
        Situation::Contact(_) => "contact",
        Situation::OnTarget => "at work on it",
    }
}

/// A finding's value with what it is a value of.
pub fn said(report: &Report, finding: &Finding) -> String {
    let value = value(finding);
    if matches!(finding.value, Value::None) {
        return value;
    }
    match finding.key.check {
        "reach" => format!("{value} beyond the target"),
        "sight" => value.replacen("% sampled", "% of the disc, sampled", 1),
        "posture" => format!("{value} to the nearest joint limit"),
        "joint-limits" => format!("{value} to the end of its range"),
        "envelope" => format!("{value} inside"),
        "singularity" => {
            let scale = report.project.plan.limits.singularity_length_m;
            format!("{value} least singular value, at a length scale of {}", number::limit(scale, Unit::Metre))
        }
        _ => value,
    }
}

/// A finding's value as it is known, its bad side rounded towards the limit; tolerances left out.
pub fn value(finding: &Finding) -> String {
    let unit = finding.unit;
    match finding.value {
        Value::Exact(exact) => number::value(exact, unit, towards(finding.limit)),
        Value::Bounded { nominal, .. } => number::bracket(nominal, unit),
        Value::Above(cap) => format!("> {}", number::value(cap, unit, Rounding::Down)),
        Value::Sampled(sampled) => format!("{} sampled", number::value(sampled, unit, towards(finding.limit))),
        Value::None => "none".to_owned(),
    }
}

/// The worst case, with tolerances or overrun, where they make one.
pub fn worst(finding: &Finding) -> Option<String> {
    let Value::Bounded { nominal, worst } = finding.value else {
        return None;
    };
    let end = if matches!(finding.limit, Some(Bar::AtMost(_))) { nominal.upper } else { nominal.lower };
    (worst != end).then(|| number::value(worst, finding.unit, towards(finding.limit)))
}

/// The limit and its good side.
pub fn limit(bar: Bar, unit: Unit) -> String {
    match bar {
        Bar::AtLeast(least) => format!("at least {}", number::limit(least, unit)),
        Bar::AtMost(most) => format!("at most {}", number::limit(most, unit)),
    }
}

/// The limit and its good side, in a table.
pub fn short_limit(bar: Bar, unit: Unit) -> String {
    match bar {
        Bar::AtLeast(least) => format!("≥ {}", number::limit(least, unit)),
        Bar::AtMost(most) => format!("≤ {}", number::limit(most, unit)),
    }
}

/// What kind of no it is, in a sentence's part.
pub const fn kind(kind: Kind) -> &'static str {
    match kind {
        Kind::Nominal => "violated as the plan stands, without tolerances",
        Kind::WithTolerances => "violated only in the worst case, with tolerances or overrun",
        Kind::Proven => "proven: no solution exists",
        Kind::NotFound => "no solution was found, which is no proof",
        Kind::NotTold => "the bracket could not be told from the limit",
    }
}

/// Rounding that never makes a value look better than it is.
fn towards(limit: Option<Bar>) -> Rounding {
    match limit {
        Some(Bar::AtLeast(_)) => Rounding::Down,
        Some(Bar::AtMost(_)) => Rounding::Up,
        None => Rounding::Nearest,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_direction_names_the_axes_that_it_leans_to() {
        let words = |x, y, z| direction(&Vector::new(x, y, z));
        assert_eq!(words(0.0, -2.0, 0.0), "right");
        assert_eq!(words(0.1, 0.0, 1.0), "up");
        assert_eq!(words(-0.6, 0.0, -0.8), "down and back");
        assert_eq!(words(1.0, 1.0, 1.0), "forward and left and up");
        assert_eq!(words(0.0, 0.0, 0.0), "nowhere");
    }
}
