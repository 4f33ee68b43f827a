//! Where the load begins and ends, and the peaks between.

use super::curve::{self, Point};

/// Maxima below this share of the greatest force are noise, or a clamp that slips.
const PEAK_SHARE: f64 = 0.1;
/// The strip bears load from the first to the last place with this share of the greatest force.
const LOADED_SHARE: f64 = 0.05;
/// A maximum is a peak when the force then falls to this share of it.
const FALLEN_TO: f64 = 0.9;

/// Where the load begins, as the index of a reading: where the rise begins that takes the force through a twentieth of
/// the way from its first to its greatest value. `None` when it never rises above its first value.
pub(super) fn load_begins(line: &[Point]) -> Option<usize> {
    let (first, (_, greatest)) = (line[0].1, curve::range(line));
    if greatest <= first {
        return None;
    }
    let loaded = first + LOADED_SHARE * (greatest - first);
    let mut index = line.iter().position(|point| point.1 >= loaded)?;
    while index > 0 && line[index - 1].1 < line[index].1 {
        index -= 1;
    }
    Some(index)
}

/// Where the pull ends: the last place with a force that counts.
pub(super) fn load_ends(line: &[Point], greatest: f64) -> f64 {
    curve::last_at_least(line, LOADED_SHARE * greatest).unwrap_or(line[0].0)
}

/// The peaks from `start` on: local maxima followed by a fall of at least 10 %. After one, the force must have risen
/// again from its lowest so far, which is then at most 90 % of it, before another is looked for.
pub(super) fn peaks(line: &[Point], start: f64, greatest: f64) -> Vec<Point> {
    let counts = |point: &Point| point.0 >= start && point.1 >= PEAK_SHARE * greatest;
    let mut found = Vec::new();
    let Some(first) = line.iter().position(counts) else { return found };
    let mut top = line[first];
    let mut lowest = None;
    for point in &line[first..] {
        match lowest {
            None if point.1 > top.1 => top = *point,
            None if point.1 <= FALLEN_TO * top.1 => {
                found.push(top);
                lowest = Some(point.1);
            }
            None => {}
            Some(low) if counts(point) && low <= FALLEN_TO * point.1 => {
                top = *point;
                lowest = None;
            }
            Some(low) => lowest = Some(low.min(point.1)),
        }
    }
    found
}
