//! The fields that concern time: `M:`, `L:` and `Q:`.

use crate::time::{Beats, Meter};

/// Reads a fraction such as `3/8`, or a whole number, at the beginning of a text; also returns the remaining text.
pub(super) fn fraction(text: &str) -> Option<((i64, i64), &str)> {
    let (numerator, rest) = number(text.trim_start())?;
    match rest.trim_start().strip_prefix('/').and_then(|rest| number(rest.trim_start())) {
        Some((denominator, rest)) => Some(((numerator, denominator.max(1)), rest)),
        None => Some(((numerator, 1), rest)),
    }
}

/// Reads a whole number at the beginning of a text; a number above a million becomes a million.
pub(super) fn number(text: &str) -> Option<(i64, &str)> {
    let digits = text.bytes().take_while(u8::is_ascii_digit).count();
    let number = text[..digits].parse().unwrap_or(i64::MAX).min(1_000_000);
    (digits > 0).then_some((number, &text[digits..]))
}

/// Reads a metre (§3.1.6); `Some(None)` means no metre. A sum such as `2/4+3/8` is counted in its smallest unit.
pub(super) fn meter(text: &str) -> Option<Option<Meter>> {
    let text = text.trim();
    match text {
        "" | "none" => return Some(None),
        "C" | "c" => return Some(Some(Meter::COMMON)),
        "C|" | "c|" => return Some(Some(Meter { beats: 2, unit: 2 })),
        _ => {}
    }
    let plain: String = text.chars().filter(|c| !matches!(c, '(' | ')')).collect();
    let (mut parts, mut waiting) = (Vec::new(), 0);
    let mut rest = plain.as_str();
    loop {
        let (beats, after) = number(rest.trim_start())?;
        waiting += beats;
        rest = after.trim_start();
        if let Some(after) = rest.strip_prefix('/') {
            let (unit, after) = number(after.trim_start())?;
            parts.push((std::mem::take(&mut waiting), unit));
            rest = after.trim_start();
        }
        match rest.strip_prefix('+') {
            Some(after) if parts.len() < 16 => rest = after,
            _ => break,
        }
    }
    let unit = parts.iter().map(|part| part.1).max()?;
    if waiting > 0 || parts.iter().any(|part| !(1..=128).contains(&part.1) || !part.1.count_ones().eq(&1)) {
        return None;
    }
    let sum: i64 = parts.iter().map(|(beats, each)| beats * (unit / each)).sum();
    let beats = u16::try_from(sum).ok().filter(|beats| (1..=256).contains(beats))?;
    Some(Some(Meter { beats, unit: unit as u16 }))
}

/// Reads a unit note length (§3.1.7).
pub(super) fn unit(text: &str) -> Option<Beats> {
    let ((numerator, denominator), _) = fraction(text)?;
    let unit = Beats::new(4 * numerator, denominator);
    (unit > Beats::ZERO && numerator <= 64 && denominator <= 1024).then_some(unit)
}

/// Returns the unit note length of a tune that has no `L:` (§3.1.7).
pub(super) fn usual_unit(meter: Option<Meter>) -> Beats {
    let is_short = meter.is_some_and(|meter| 4 * meter.beats < 3 * meter.unit);
    if is_short { Beats::new(1, 4) } else { Beats::new(1, 2) }
}

/// Returns the words of a tempo field: each text between quotation marks.
pub(super) fn tempo_words(text: &str) -> impl Iterator<Item = String> {
    text.split('"').skip(1).step_by(2).map(super::text::plain)
}

/// Reads a tempo (§3.1.8, 10.1) in microseconds per quarter; `Some(None)` if the field has only text.
pub(super) fn tempo(text: &str, unit: Beats) -> Option<Option<u32>> {
    // Leaves out each text between quotation marks.
    let plain: String = text.split('"').step_by(2).collect::<Vec<_>>().join(" ");
    let plain = plain.trim();
    if plain.is_empty() {
        return Some(None);
    }
    let (beat, rate) = match plain.split_once('=') {
        Some((beat, rate)) => (beats(beat, unit)?, rate),
        None => (unit, plain),
    };
    let rate = &rate[rate.find(|c: char| c.is_ascii_digit())?..];
    let (whole, rest) = number(rate)?;
    let decimals = rest
        .strip_prefix('.')
        .map_or("", |rest| &rest[..rest.bytes().take(6).take_while(u8::is_ascii_digit).count()]);
    let scale = 10_i64.pow(decimals.len() as u32);
    let rate = whole * scale + decimals.parse::<i64>().unwrap_or(0);
    let (over, under) = beat.fraction();
    let micros = (60_000_000 * i128::from(scale) * i128::from(under))
        .checked_div(i128::from(rate) * i128::from(over))?;
    u32::try_from(micros).ok().filter(|&micros| micros > 0).map(Some)
}

/// Reads the length before the equals sign of a tempo: `1/4`, `1/4 3/8`, or the old `C` and `C3`, which count unit
/// lengths.
fn beats(text: &str, unit: Beats) -> Option<Beats> {
    let text = text.trim();
    if let Some(count) = text.strip_prefix(['C', 'c']) {
        let ((over, under), _) = fraction(count).unwrap_or(((1, 1), ""));
        return Some(unit.times(over, under)).filter(|beat| *beat > Beats::ZERO);
    }
    let (mut sum, mut rest) = (Beats::ZERO, text);
    while let Some(((over, under), after)) = fraction(rest) {
        sum += Beats::new(4 * over, under);
        rest = after;
    }
    (sum > Beats::ZERO).then_some(sum)
}
