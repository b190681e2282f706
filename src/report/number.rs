//! How is a value written?
//!
//! Every number that a person reads, in a report or on a screen, is written here: SI and radians in, the printed unit
//! out.
//!
//! # Law
//! A lower end is rounded down, an upper end up, so that a printed bracket still holds the value; a margin is rounded
//! down. A value that lies within 1e-9 of a printed digit counts as that digit: that is the rounding of f64, not the
//! value. Zero has no sign.

use crate::check::Unit;
use crate::model::Bound;
use crate::space::Point;

/// To which side a value is rounded.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Rounding {
    Nearest,
    Down,
    Up,
}

/// A value with a fixed number of decimals; what is not finite is spelt out.
pub fn fixed(value: f64, decimals: usize, rounding: Rounding) -> String {
    if !value.is_finite() {
        return value.to_string();
    }
    let scale = (0..decimals).fold(1.0, |scale, _| scale * 10.0);
    let scaled = value * scale;
    let nearest = scaled.round();
    let whole = match rounding {
        _ if (scaled - nearest).abs() <= 1e-9 + 4.0 * f64::EPSILON * scaled.abs() => nearest,
        Rounding::Nearest => nearest,
        Rounding::Down => scaled.floor(),
        Rounding::Up => scaled.ceil(),
    };
    // Adding zero takes the sign from a negative zero.
    format!("{:.decimals$}", whole / scale + 0.0)
}

/// A value with as many decimals as it needs, at most `decimals`.
pub fn shortest(value: f64, decimals: usize) -> String {
    let written = fixed(value, decimals, Rounding::Nearest);
    if written.contains('.') { written.trim_end_matches('0').trim_end_matches('.').to_owned() } else { written }
}

/// A value of a finding in the unit in which machines read it.
pub fn printed(value: f64, unit: Unit) -> f64 {
    match unit {
        Unit::Radian | Unit::RadianPerSecond => value.to_degrees(),
        Unit::Metre | Unit::Share | Unit::Second | Unit::MetrePerSecond => value,
    }
}

/// The same as people read it: a share in hundredths.
fn shown(value: f64, unit: Unit) -> f64 {
    if unit == Unit::Share { value * 100.0 } else { printed(value, unit) }
}

/// The sign of the unit that people read, with the space that it wants before it.
pub const fn sign(unit: Unit) -> &'static str {
    match unit {
        Unit::Metre => " m",
        Unit::Radian => "°",
        Unit::Share => " %",
        Unit::Second => " s",
        Unit::MetrePerSecond => " m/s",
        Unit::RadianPerSecond => "°/s",
    }
}

/// How many decimals a unit is printed with: millimetres, hundredths of a degree, tenths of a second or of a hundredth.
pub const fn decimals(unit: Unit) -> usize {
    match unit {
        Unit::Metre | Unit::MetrePerSecond => 3,
        Unit::Radian | Unit::RadianPerSecond => 2,
        Unit::Second | Unit::Share => 1,
    }
}

/// A value in its printed unit, without the sign of the unit.
pub fn bare(value: f64, unit: Unit, rounding: Rounding) -> String {
    fixed(shown(value, unit), decimals(unit), rounding)
}

/// A value in its printed unit.
pub fn value(value: f64, unit: Unit, rounding: Rounding) -> String {
    bare(value, unit, rounding) + sign(unit)
}

/// A bracket in its printed unit.
pub fn bracket(bound: Bound, unit: Unit) -> String {
    let lower = bare(bound.lower, unit, Rounding::Down);
    let upper = bare(bound.upper, unit, Rounding::Up);
    format!("[{lower}, {upper}]{}", sign(unit))
}

/// A limit in its printed unit, with more decimals where it was stated with more.
pub fn limit(value: f64, unit: Unit) -> String {
    let exact = shortest(shown(value, unit), 6);
    let least = bare(value, unit, Rounding::Nearest);
    let written = if exact.len() > least.len() { exact } else { least };
    written + sign(unit)
}

/// A time as minutes and seconds; `decimals` of the seconds.
pub fn minutes(seconds: f64, decimals: usize, rounding: Rounding) -> String {
    let Ok(rounded) = fixed(seconds, decimals, rounding).parse::<f64>() else {
        return seconds.to_string();
    };
    let whole = (rounded / 60.0).floor();
    let width = if decimals == 0 { 2 } else { decimals + 3 };
    format!("{whole}:{:0>width$}", fixed(rounded - 60.0 * whole, decimals, Rounding::Nearest))
}

/// The value of a joint of an arm or restraint as one would key it in.
pub fn joint(value: f64, turns: bool) -> String {
    if turns { shortest(value.to_degrees(), 3) + "°" } else { shortest(value, 4) + " m" }
}

/// The value of a joint rounded as machines read it: 0.001°, 1 µm.
pub fn keyed(value: f64, turns: bool) -> f64 {
    let (printed, steps) = if turns { (value.to_degrees(), 1e3) } else { (value, 1e6) };
    (printed * steps).round() / steps + 0.0
}

/// A place in the structure's frame.
pub fn point(at: &Point) -> String {
    let [x, y, z] = [at.x, at.y, at.z].map(|along| fixed(along, 3, Rounding::Nearest));
    format!("({x}, {y}, {z})")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lower_ends_go_down_and_upper_ends_up() {
        let bound = Bound { lower: 0.12349, upper: 0.12351 };
        assert_eq!(bracket(bound, Unit::Metre), "[0.123, 0.124] m");
        assert_eq!(bracket(Bound { lower: -0.00001, upper: 0.00001 }, Unit::Metre), "[-0.001, 0.001] m");
    }

    #[test]
    fn what_stands_on_a_digit_stays_there() {
        for thousandth in -2000..2000 {
            let value = f64::from(thousandth) / 1000.0;
            let down = fixed(value, 3, Rounding::Down);
            assert_eq!(down, fixed(value, 3, Rounding::Up));
            assert_eq!(down.parse::<f64>().map(f64::to_bits), Ok((value + 0.0).to_bits()), "{value}");
        }
        assert_eq!(value(30f64.to_radians(), Unit::Radian, Rounding::Down), "30.00°");
        assert_eq!(fixed(0.1 + 0.2, 3, Rounding::Up), "0.300");
    }

    #[test]
    fn zero_has_no_sign() {
        for rounding in [Rounding::Nearest, Rounding::Up] {
            assert_eq!(fixed(-0.0004, 3, rounding), "0.000");
            assert_eq!(fixed(-0.0, 3, rounding), "0.000");
        }
        assert_eq!(shortest(-0.0001, 3), "0");
        assert_eq!(keyed(-1e-9, true).to_bits(), 0);
    }

    #[test]
    fn a_printed_bracket_holds_the_value() {
        let mut value = 0.000_001_7;
        while value < 1e6 {
            for value in [value, -value] {
                let read = |rounding| fixed(value, 3, rounding).parse::<f64>().expect("a number");
                assert!(read(Rounding::Down) <= value + 1e-12 * (1.0 + value.abs()), "{value}");
                assert!(read(Rounding::Up) >= value - 1e-12 * (1.0 + value.abs()), "{value}");
                assert!(read(Rounding::Up) - read(Rounding::Down) < 0.001 + 1e-9, "{value}");
            }
            value *= 1.37;
        }
    }

    #[test]
    fn a_limit_keeps_the_decimals_it_was_stated_with() {
        assert_eq!(limit(0.3, Unit::Metre), "0.300 m");
        assert_eq!(limit(0.0254, Unit::Metre), "0.0254 m");
        assert_eq!(limit(5f64.to_radians(), Unit::Radian), "5.00°");
        assert_eq!(limit(720.0, Unit::Second), "720.0 s");
        assert_eq!(limit(0.5, Unit::Share), "50.0 %");
    }

    #[test]
    fn minutes_carry_over() {
        assert_eq!(minutes(133.0, 0, Rounding::Up), "2:13");
        assert_eq!(minutes(119.2, 0, Rounding::Up), "2:00");
        assert_eq!(minutes(5.04, 1, Rounding::Down), "0:05.0");
        assert_eq!(minutes(3725.5, 1, Rounding::Nearest), "62:05.5");
    }
}
