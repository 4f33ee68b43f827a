//! The line through the readings of a trace.
//!
//! Everything here depends on the line alone: another reading on the straight part between two others changes nothing.

/// A place in mm and the force there in N. Places rise strictly along a line.
pub(super) type Point = (f64, f64);

/// The force at a place; that of the nearer end outside the line.
fn force_at(line: &[Point], place: f64) -> f64 {
    let after = line.partition_point(|point| point.0 < place);
    match (after.checked_sub(1).and_then(|before| line.get(before)), line.get(after)) {
        (Some(before), Some(after)) => between(*before, *after, place),
        (Some(only), None) | (None, Some(only)) => only.1,
        (None, None) => f64::NAN,
    }
}

/// Interpolation that is exact at both ends and on a level line.
fn between(before: Point, after: Point, place: f64) -> f64 {
    let share = (place - before.0) / (after.0 - before.0);
    if share >= 1.0 { after.1 } else { before.1 + share * (after.1 - before.1) }
}

/// The part of a line from one place to another, with interpolated ends.
pub(super) fn cut(line: &[Point], from: f64, to: f64) -> Vec<Point> {
    let inside = line.iter().copied().filter(|point| point.0 > from && point.0 < to);
    let mut part = vec![(from, force_at(line, from))];
    part.extend(inside);
    if to > from {
        part.push((to, force_at(line, to)));
    }
    part
}

fn length(line: &[Point]) -> f64 {
    line[line.len() - 1].0 - line[0].0
}

/// ∫ F dx ÷ length by trapezoids; the force itself on a line without length.
pub(super) fn mean(line: &[Point]) -> f64 {
    if line.len() < 2 {
        return line[0].1;
    }
    let areas = line.windows(2).map(|pair| 0.5 * (pair[0].1 + pair[1].1) * (pair[1].0 - pair[0].0));
    areas.sum::<f64>() / length(line)
}

/// The force below which the line runs over half of its length; the force itself on a line without length.
///
/// The length below a force rises with the force, linearly between the forces of two neighbouring readings in order of
/// force, and by a jump where the line is level. So it is enough to find the two readings between which it passes one
/// half.
pub(super) fn median(line: &[Point]) -> f64 {
    let mut forces: Vec<f64> = line.iter().map(|point| point.1).collect();
    forces.sort_by(f64::total_cmp);
    forces.dedup();
    let half = 0.5 * length(line);
    let upper = forces.partition_point(|force| below(line, *force, true) < half);
    // Rounding may keep the whole length a little under itself.
    let upper = upper.min(forces.len() - 1);
    let Some(lower) = upper.checked_sub(1) else { return forces[0] };
    let (at_lower, at_upper) = (below(line, forces[lower], true), below(line, forces[upper], false));
    // Otherwise the line is level at the upper force over the middle of its length.
    let share = if at_upper > half { (half - at_lower) / (at_upper - at_lower) } else { 1.0 };
    forces[lower] + share * (forces[upper] - forces[lower])
}

/// Over which length the line runs below a force, level parts at that very force counted or not.
fn below(line: &[Point], force: f64, level_counts: bool) -> f64 {
    let part = |pair: &[Point]| {
        let ((start, a), (end, b)) = (pair[0], pair[1]);
        let (low, high) = (a.min(b), a.max(b));
        let share = if high < force || (level_counts && high <= force) {
            1.0
        } else if low >= force {
            0.0
        } else {
            (force - low) / (high - low)
        };
        share * (end - start)
    };
    line.windows(2).map(part).sum()
}

/// The least and the greatest force.
pub(super) fn range(line: &[Point]) -> (f64, f64) {
    let forces = line.iter().map(|point| point.1);
    forces.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), force| (low.min(force), high.max(force)))
}

/// The last place at which the force is at least this much.
pub(super) fn last_at_least(line: &[Point], force: f64) -> Option<f64> {
    let index = line.iter().rposition(|point| point.1 >= force)?;
    let here = line[index];
    let Some(next) = line.get(index + 1) else { return Some(here.0) };
    let share = (here.1 - force) / (here.1 - next.1);
    Some(here.0 + share * (next.0 - here.0))
}

/// The median of some numbers; NaN of none.
pub(super) fn median_of(mut numbers: Vec<f64>) -> f64 {
    numbers.sort_by(f64::total_cmp);
    let count = numbers.len();
    match count {
        0 => f64::NAN,
        _ if count % 2 == 1 => numbers[count / 2],
        _ => 0.5 * (numbers[count / 2 - 1] + numbers[count / 2]),
    }
}
