//! All shifts together: each from what is left when the others are taken off, again and again until they stand.

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::contrast::Contrast;
use super::effect::Said;
use super::noise::TrialNoise;
use super::{Ordinary, Shared, SharedBy, SharedEvidence, SharedKind, SharedShift, Shift, Shifts};
use crate::fleet::FEWEST_UNITS;
use crate::membrane::MaterialClass;
use crate::quantity::TemperatureDifference;

/// Sweeps over all shifts. They settle within a few: each is drawn to zero.
const SWEEPS: usize = 12;

/// One trial's word on one edge.
struct Row {
    unit: usize,
    /// The unit's segment, numbered through the fleet.
    segment: usize,
    weight: f64,
    /// What is left of the edge (°C) when all shifts are taken off.
    rest: f64,
    /// Places in [`Problem::groups`].
    groups: [Option<usize>; 3],
}

/// Weight, and weighted sum of what is left.
type Sums = (f64, f64);

/// One edge on one class.
struct Problem {
    rows: Vec<Row>,
    segments: Vec<Sums>,
    groups: Vec<Group>,
}

struct Group {
    by: SharedBy,
    /// Its trials, unit by unit, segment by segment.
    rows: Vec<usize>,
    said: Option<Said>,
    /// What is taken off, K.
    shift: f64,
}

pub(super) fn solve(evidence: &[SharedEvidence]) -> Shared {
    let noise = TrialNoise::of(evidence);
    let noise_variance = noise.mean.kelvin().powi(2);
    let mut problems: Vec<(MaterialClass, [Problem; 2])> = MaterialClass::ALL
        .iter()
        .map(|class| (*class, [0, 1].map(|edge| Problem::new(evidence, *class, edge, noise_variance))))
        .collect();
    let mut ordinary = SharedKind::ALL.iter().map(|kind| kind.usual()).collect::<Vec<f64>>();
    for _ in 0..SWEEPS {
        for (place, kind) in SharedKind::ALL.iter().enumerate() {
            for problem in problems.iter_mut().flat_map(|(_, edges)| edges) {
                problem.sweep(*kind, ordinary[place]);
                problem.centre(*kind, ordinary[place]);
            }
            ordinary[place] = kind.ordinary(&said(&problems, *kind));
        }
    }
    // What is said last is said of shifts that were centred.
    for (place, kind) in SharedKind::ALL.iter().enumerate() {
        for problem in problems.iter_mut().flat_map(|(_, edges)| edges) {
            problem.sweep(*kind, ordinary[place]);
        }
    }
    Shared {
        noise,
        ordinary: SharedKind::ALL
            .iter()
            .zip(&ordinary)
            .map(|(kind, sd)| Ordinary {
                kind: *kind,
                informed: said(&problems, *kind).len(),
                sd: TemperatureDifference::from_kelvin(*sd),
            })
            .collect(),
        shifts: problems
            .iter()
            .flat_map(|(class, edges)| shifts(evidence, *class, edges, &ordinary))
            .collect(),
    }
}

/// What is said of the shifts of one kind that enough units inform.
fn said(problems: &[(MaterialClass, [Problem; 2])], kind: SharedKind) -> Vec<Said> {
    let groups = problems.iter().flat_map(|(_, edges)| edges).flat_map(|problem| &problem.groups);
    groups.filter(|group| group.by.kind() == kind).filter_map(|group| group.said).collect()
}

impl Problem {
    fn new(evidence: &[SharedEvidence], class: MaterialClass, edge: usize, noise_variance: f64) -> Self {
        let mut places: BTreeMap<SharedBy, Vec<usize>> = BTreeMap::new();
        let mut segments: Vec<Sums> = Vec::new();
        let mut rows: Vec<Row> = Vec::new();
        for (unit, told) in evidence.iter().enumerate() {
            let mut last = None;
            for told in told.trials.iter().filter(|told| told.class == class) {
                let Some(site) = told.edges[edge] else { continue };
                if last != Some(told.segment) {
                    last = Some(told.segment);
                    segments.push((0.0, 0.0));
                }
                let weight = (site.precision.recip() + noise_variance).recip();
                let segment = segments.len() - 1;
                segments[segment].0 += weight;
                segments[segment].1 += weight * site.mean;
                for by in told.setting.shared().into_iter().flatten() {
                    places.entry(by).or_default().push(rows.len());
                }
                rows.push(Row { unit, segment, weight, rest: site.mean, groups: [None; 3] });
            }
        }
        let mut problem = Self { rows, segments, groups: Vec::new() };
        for (by, rows) in places {
            let place = problem.groups.len();
            for row in &rows {
                problem.rows[*row].groups[by.kind() as usize] = Some(place);
            }
            problem.groups.push(Group { by, rows, said: None, shift: 0.0 });
        }
        problem
    }

    /// Works out the shifts of one kind anew, one after the other.
    fn sweep(&mut self, kind: SharedKind, ordinary: f64) {
        for place in 0..self.groups.len() {
            if self.groups[place].by.kind() != kind {
                continue;
            }
            let contrasts = self.contrasts(place);
            let informing = contrasts.iter().filter(|contrast| contrast.informs()).count();
            let said = (informing >= FEWEST_UNITS).then(|| Said::by(contrasts.iter()));
            let shift = said.map_or(0.0, |said| said.shift(ordinary).mean.kelvin());
            self.groups[place].said = said;
            self.set(place, shift);
        }
    }

    fn set(&mut self, place: usize, shift: f64) {
        let group = &mut self.groups[place];
        let change = shift - group.shift;
        group.shift = shift;
        for row in &group.rows {
            let row = &mut self.rows[*row];
            row.rest -= change;
            self.segments[row.segment].1 -= row.weight * change;
        }
    }

    /// Brings the ordinary shifts of a kind to a mean of zero: what they have in common is the units' level. Left to
    /// the sweeps, a bad one would press all others down for long, and these then pass for ordinary. Of days there are so
    /// many that they have nothing in common.
    fn centre(&mut self, kind: SharedKind, ordinary: f64) {
        if kind == SharedKind::Day {
            return;
        }
        let places: Vec<usize> = (0..self.groups.len())
            .filter(|place| self.groups[*place].by.kind() == kind && self.groups[*place].said.is_some())
            .collect();
        let groups = places.iter().map(|place| &self.groups[*place]);
        let found: Vec<Said> =
            groups.filter_map(|group| Some(Said { mean: group.shift, ..group.said? })).collect();
        let Some(centre) = centre(&found, ordinary) else { return };
        for place in places {
            self.set(place, self.groups[place].shift - centre);
            if let Some(said) = &mut self.groups[place].said {
                said.mean -= centre;
            }
        }
    }

    /// What each unit that met it says of a shift, that shift being in what is left of its trials again.
    fn contrasts(&self, place: usize) -> Vec<Contrast> {
        let group = &self.groups[place];
        let mut contrasts: Vec<Contrast> = Vec::new();
        let rows = group.rows.iter().map(|row| &self.rows[*row]).collect::<Vec<&Row>>();
        for segment in rows.chunk_by(|one, other| one.segment == other.segment) {
            let (unit, all) = (segment[0].unit, self.segments[segment[0].segment]);
            let weight: f64 = segment.iter().map(|row| row.weight).sum();
            let sum: f64 = segment.iter().map(|row| row.weight * row.rest).sum();
            // What rounding leaves of an empty side is no trial.
            let without =
                if all.0 - weight > 1e-9 * all.0 { (all.0 - weight, all.1 - sum) } else { (0.0, 0.0) };
            let contrast = Contrast::of(unit, (weight, sum + weight * group.shift), without);
            match contrasts.last_mut().filter(|last| last.unit == unit) {
                Some(last) => *last = last.and(contrast),
                None => contrasts.push(contrast),
            }
        }
        contrasts
    }
}

/// What the ordinary ones among shifts have in common. Which ones are the ordinary ones is not known: one after the other
/// is taken to be at zero, and the likeliest is kept.
fn centre(found: &[Said], ordinary: f64) -> Option<f64> {
    let about = |centre: f64| found.iter().map(move |said| Said { mean: said.mean - centre, ..*said });
    let score = |said: &Said| -> f64 { about(said.mean).map(|said| said.ln_probability(ordinary)).sum() };
    let zero = found.iter().max_by(|one, other| score(one).total_cmp(&score(other)))?;
    let weights = about(zero.mean)
        .map(|said| said.share_of_ordinary(ordinary) / (ordinary * ordinary + said.precision.recip()));
    let (total, sum) = found
        .iter()
        .zip(weights)
        .fold((0.0, 0.0), |(total, sum), (said, weight)| (total + weight, sum + weight * said.mean));
    (total > 0.0).then(|| sum / total)
}

/// The shifts of one class that enough units inform on one of the edges; days only where they stand out.
fn shifts(
    evidence: &[SharedEvidence],
    class: MaterialClass,
    edges: &[Problem; 2],
    ordinary: &[f64],
) -> Vec<SharedShift> {
    let mut places: BTreeMap<SharedBy, [Option<usize>; 2]> = BTreeMap::new();
    for (edge, problem) in edges.iter().enumerate() {
        for (place, group) in problem.groups.iter().enumerate().filter(|(_, group)| group.said.is_some()) {
            places.entry(group.by).or_default()[edge] = Some(place);
        }
    }
    let told = evidence.iter().flat_map(|unit| unit.trials.iter().map(move |told| (unit.unit, told)));
    let mut met: BTreeMap<SharedBy, (Vec<Uuid>, DateTime<Utc>)> = BTreeMap::new();
    for (unit, told) in told.filter(|(_, told)| told.class == class) {
        for by in told.setting.shared().into_iter().flatten().filter(|by| places.contains_key(by)) {
            let (units, latest) = met.entry(by).or_insert_with(|| (Vec::new(), told.at));
            units.push(unit);
            *latest = told.at.max(*latest);
        }
    }
    places
        .into_iter()
        .filter_map(|(by, places)| {
            let sd = ordinary[by.kind() as usize];
            let edges: [Option<(&Problem, usize)>; 2] =
                [0, 1].map(|edge: usize| places[edge].map(|place| (&edges[edge], place)));
            let shift = |edge: Option<(&Problem, usize)>| {
                edge.and_then(|(problem, place)| Some(problem.groups[place].said?.shift(sd)))
            };
            let found = Shifts { lower: shift(edges[0]), upper: shift(edges[1]) };
            let plain = [found.lower, found.upper].iter().flatten().any(Shift::is_plain);
            if by.kind() == SharedKind::Day && !plain {
                return None;
            }
            let contrasts =
                edges.map(|edge| edge.map_or_else(Vec::new, |(problem, place)| problem.contrasts(place)));
            let informing = [0, 1]
                .map(|edge: usize| contrasts[edge].iter().filter(|contrast| contrast.informs()).count());
            let (met, latest) = &met[&by];
            let mut units = met.clone();
            units.dedup();
            let own = units.iter().map(|unit| {
                let without = |edge: usize| {
                    let rest =
                        contrasts[edge].iter().filter(|contrast| evidence[contrast.unit].unit != *unit);
                    let said = Said::by(rest);
                    (edges[edge].is_some() && said.precision > 0.0).then(|| said.shift(sd))
                };
                (*unit, Shifts { lower: without(0), upper: without(1) }.offsets())
            });
            Some(SharedShift {
                class,
                by,
                units: units.len(),
                trials: met.len(),
                latest: *latest,
                informing,
                shifts: found,
                own: own.collect(),
            })
        })
        .collect()
}
