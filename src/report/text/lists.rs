//! What was not checked, what may touch, and how many findings were there?

use crate::check::{Exemption, Status};

use super::table::{Paint, Set, Table};
use super::{Ink, count, paragraph, section, verdict};
use crate::report::{CAUTIONS, Counts, Report, words};

/// Up to so many pairs of one reason are listed by name.
const LISTED: usize = 4;

/// Everything that was not checked, with the reason.
pub fn not_checked(report: &Report, ink: Ink, out: &mut String) {
    section("not checked", ink, out);
    let mut table =
        Table::new([("check", Set::Left), ("where", Set::Wrap), ("what", Set::Wrap), ("because", Set::Wrap)]);
    let mut none = true;
    for finding in &report.outcome.findings {
        if let Status::NotChecked(reason) = &finding.status {
            none = false;
            let place = words::place(&finding.key.place);
            table.row([finding.key.check.into(), place.into(), words::subject(finding).into(), reason.as_str().into()]);
        }
    }
    if none {
        out.push_str("nothing was left out of what was asked\n");
    }
    table.write(ink, 0, out);
}

/// Pairs that may touch, by reason; where they are many, by the mechanisms that they belong to.
pub fn exemptions(report: &Report, ink: Ink, out: &mut String) {
    section("may touch", ink, out);
    let mut reasons: Vec<(&str, Vec<&Exemption>)> = Vec::new();
    for exemption in &report.outcome.exemptions {
        match reasons.iter_mut().find(|(reason, _)| *reason == exemption.reason) {
            Some((_, pairs)) => pairs.push(exemption),
            None => reasons.push((&exemption.reason, vec![exemption])),
        }
    }
    if reasons.is_empty() {
        out.push_str("nothing\n");
    }
    let mut shortened = false;
    for (reason, pairs) in reasons {
        let listed = if pairs.len() <= LISTED {
            pairs.iter().map(|pair| format!("{} to {}", pair.a, pair.b)).collect()
        } else {
            shortened = true;
            by_mechanism(&pairs)
        };
        paragraph(&format!("{reason} ({}): {}", pairs.len(), listed.join(", ")), 0, out);
    }
    if shortened {
        out.push_str("each pair by name: --format json\n");
    }
}

/// How many of the pairs lie within or between which mechanisms: `rider (29)`.
fn by_mechanism(pairs: &[&Exemption]) -> Vec<String> {
    let mut counts: Vec<([&str; 2], usize)> = Vec::new();
    for pair in pairs {
        let of = [&pair.a, &pair.b].map(|name| name.split('/').next().unwrap_or(name));
        match counts.iter_mut().find(|(known, _)| *known == of) {
            Some((_, count)) => *count += 1,
            None => counts.push((of, 1)),
        }
    }
    let said = |([a, b], count): ([&str; 2], usize)| match count {
        1 => format!("{a} to {b}"),
        _ if a == b => format!("{a} ({count})"),
        _ => format!("{a} to {b} ({count})"),
    };
    counts.into_iter().map(said).collect()
}

/// The verdict once more, how many findings there are of each status, and the cautions.
pub fn summary(report: &Report, ink: Ink, out: &mut String) {
    section("summary", ink, out);
    verdict::sentence(report, ink, out);
    let Counts { ok, tight, violations, not_checked } = Counts::of(report.outcome);
    let counts = [
        (format!("{ok} ok"), Paint::Good),
        (format!("{tight} tight"), Paint::Near),
        (count(violations, "violation"), Paint::Bad),
        (format!("{not_checked} not checked"), Paint::Unknown),
    ];
    out.push_str(&counts.map(|(text, paint)| ink.paint(&text, paint)).join(", "));
    out.push('\n');
    paragraph(CAUTIONS, 0, out);
}
