//! A trace: its readings put in order, its zero, its load and its peaks.

use super::curve::{self, Point};
use super::forces::{self, Forces};
use super::{PeelError, extent};
use crate::coded::coded_enum;
use crate::quantity::{Force, ForceUnit, Length, LengthUnit, Quantity};

/// Play of a machine: a displacement may go back by so much, mm (our choice).
const PLAY_MM: f64 = 0.5;
/// No peel test measures anything beyond this, in mm or N; sums of such numbers stay finite.
const LARGEST: f64 = 1e9;

/// Where the zero of the load cell comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Zero {
    /// The median force before the load begins, which is found: the force rises there without a pause until it has
    /// come a twentieth of the way from its first to its greatest value. The usual choice. A trace that begins under
    /// load has nothing to take a zero from; its first reading is taken then, and [`Remark::NothingBeforeLoad`] says
    /// so.
    Found,
    /// The median force up to this displacement from the first reading, over which the strip was slack; the load
    /// begins there.
    Before(Length),
    /// The load cell was set to zero before the test: nothing is subtracted. Where the load begins is found as above.
    Tared,
}

coded_enum! {
    /// What was repaired in a trace, or limits what it says.
    pub enum Remark {
        /// Small steps back were put in order.
        Reordered = "reordered",
        /// Readings at one place became one.
        Merged = "merged",
        /// No stretch before the load.
        NothingBeforeLoad = "nothing_before_load",
        /// What was recorded after the strip had let go does not count.
        EndLeftOut = "end_left_out",
        /// Noise below zero was answered as zero.
        BelowZero = "below_zero",
        /// The weld is too narrow for the length of the region.
        WeldTooNarrow = "weld_too_narrow",
    }
}

impl Remark {
    /// The remark as one plain sentence.
    #[must_use]
    pub const fn sentence(self) -> &'static str {
        match self {
            Self::Reordered => "Small steps back of the displacement were put in order.",
            Self::Merged => "Readings at one displacement became one with the median of their forces.",
            Self::NothingBeforeLoad => {
                "Nothing was recorded before the load, so that the zero rests on the first reading."
            }
            Self::EndLeftOut => "What was recorded after the strip had let go does not count.",
            Self::BelowZero => {
                "Some forces were below the zero of the load cell and are given as zero; the mean is that of the trace as it is."
            }
            Self::WeldTooNarrow => {
                "The weld is too narrow for this length: it opens one millimetre for two that the grips part."
            }
        }
    }
}

/// A peak of the force.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Peak {
    /// Displacement from the first reading.
    pub at: Length,
    /// Force above the zero of the load cell.
    pub force: Force,
}

/// A force–displacement trace of one strip, ready to be read.
#[derive(Debug, Clone, PartialEq)]
pub struct Trace {
    /// mm from the first reading and N above zero.
    line: Vec<Point>,
    offset_n: f64,
    start_mm: f64,
    end_mm: f64,
    peaks: Vec<Point>,
    remarks: Vec<Remark>,
}

impl Trace {
    /// A trace from readings, each a displacement of the grips and a force, in the order in which they were taken. The
    /// spacing need not be even; displacements count from the first reading, and either number may be negative.
    ///
    /// The [module](super) tells what is refused and what is repaired.
    ///
    /// ```
    /// use lapwatch_domain::peel::{PeelError, Trace, Zero};
    /// use lapwatch_domain::quantity::{ForceUnit, LengthUnit, Quantity};
    /// // A load cell that shows 0.4 N without load; slack for 5 mm; a peak; peeling at about 60 N.
    /// let readings = [(0.0, 0.4), (5.0, 0.4), (9.0, 90.4), (11.0, 60.4), (40.0, 61.4), (80.0, 60.4)];
    /// let trace = Trace::new(&readings, LengthUnit::Millimetre, ForceUnit::Newton, Zero::Found)?;
    /// assert!((trace.offset_in(ForceUnit::Newton) - 0.4).abs() < 1e-12);
    /// let peak = trace.initial_peak().unwrap();
    /// assert!((peak.force.value_in(ForceUnit::Newton) - 90.0).abs() < 1e-12);
    /// assert_eq!(peak.at.value_in(LengthUnit::Millimetre), 9.0);
    /// let back = [(0.0, 0.0), (5.0, 20.0), (3.0, 20.0)];
    /// let refused = Trace::new(&back, LengthUnit::Millimetre, ForceUnit::Newton, Zero::Found);
    /// assert_eq!(refused.unwrap_err(), PeelError::GoesBack { reading: 2 });
    /// # Ok::<(), PeelError>(())
    /// ```
    ///
    /// # Errors
    /// [`PeelError::NotFinite`] for a number that is not finite or beyond 10⁹ mm or N; [`PeelError::GoesBack`] when the
    /// displacement goes back by more than 0.5 mm; [`PeelError::TooFewReadings`] when fewer than two displacements are
    /// left; [`PeelError::OutsideTrace`] when the slack given by [`Zero::Before`] reaches the end of the trace;
    /// [`PeelError::NoLoad`] when the force never rises above its first value or above its zero.
    pub fn new(
        readings: &[(f64, f64)],
        displacement: LengthUnit,
        force: ForceUnit,
        zero: Zero,
    ) -> Result<Self, PeelError> {
        let mut remarks = Vec::new();
        let readings = in_base_units(readings, displacement, force)?;
        let ordered = in_order(readings, &mut remarks)?;
        let mut line = one_force_a_place(&ordered, &mut remarks);
        if line.len() < 2 {
            return Err(PeelError::TooFewReadings);
        }
        let start_mm = match zero {
            Zero::Before(slack) => slack.value_in(LengthUnit::Millimetre),
            Zero::Found => line[extent::load_begins(&line).ok_or(PeelError::NoLoad)?].0,
            // Under load from the first reading on, which is where a recording may begin when the zero is known.
            Zero::Tared => line[extent::load_begins(&line).unwrap_or(0)].0,
        };
        if start_mm >= line[line.len() - 1].0 {
            return Err(PeelError::OutsideTrace);
        }
        let offset_n = match zero {
            Zero::Tared => 0.0,
            Zero::Found | Zero::Before(_) => curve::median(&curve::cut(&line, 0.0, start_mm)),
        };
        // Several readings with the grips at rest are a stretch in time, if not in displacement.
        let at_rest = ordered.iter().take_while(|point| point.0 == 0.0).count();
        if start_mm == 0.0 && at_rest == 1 && zero == Zero::Found {
            remarks.push(Remark::NothingBeforeLoad);
        }
        line.iter_mut().for_each(|point| point.1 -= offset_n);
        let last = line[line.len() - 1].0;
        let (_, greatest) = curve::range(&curve::cut(&line, start_mm, last));
        if greatest <= 0.0 {
            return Err(PeelError::NoLoad);
        }
        let end_mm = extent::load_ends(&line, greatest);
        if end_mm < last {
            remarks.push(Remark::EndLeftOut);
        }
        let peaks = extent::peaks(&line, start_mm, greatest);
        Ok(Self { line, offset_n, start_mm, end_mm, peaks, remarks })
    }

    /// The zero that was subtracted from every force, as a number in `unit`; of either sign.
    #[must_use]
    pub fn offset_in(&self, unit: ForceUnit) -> f64 {
        self.offset_n * forces::newtons(1.0).value_in(unit)
    }

    /// Where the load begins, from the first reading.
    #[must_use]
    pub fn load_begins(&self) -> Length {
        Length::millimetres(self.start_mm)
    }

    /// Where the strip had let go, or else the last reading, from the first one.
    #[must_use]
    pub fn load_ends(&self) -> Length {
        Length::millimetres(self.end_mm)
    }

    /// The first local maximum that is followed by a fall of at least 10 %; the first reading of it when it is level.
    #[must_use]
    pub fn initial_peak(&self) -> Option<Peak> {
        self.peaks().next()
    }

    /// Every local maximum that is followed by a fall of at least 10 %, in order. Between two of them the force fell
    /// to at most 90 % of either.
    pub fn peaks(&self) -> impl Iterator<Item = Peak> + '_ {
        self.peaks
            .iter()
            .map(|(at, force)| Peak { at: Length::millimetres(*at), force: forces::newtons(*force) })
    }

    /// What was repaired, and what limits the trace as a whole.
    #[must_use]
    pub fn remarks(&self) -> &[Remark] {
        &self.remarks
    }

    /// The forces between two displacements from the first reading, whatever lies there.
    ///
    /// # Errors
    /// [`PeelError::OutsideTrace`] when `to` is not beyond `from` or lies behind the last reading.
    pub fn between(&self, from: Length, to: Length) -> Result<Forces, PeelError> {
        let [from, to] = [from, to].map(|place| place.value_in(LengthUnit::Millimetre));
        // Rounding of a conversion from inches must not put the last reading out of reach.
        let last = self.line[self.line.len() - 1].0;
        if from >= to || to > last * (1.0 + 1e-12) {
            return Err(PeelError::OutsideTrace);
        }
        Ok(Forces::over(&self.part(from, to.min(last))))
    }

    pub(super) fn part(&self, from_mm: f64, to_mm: f64) -> Vec<Point> {
        curve::cut(&self.line, from_mm, to_mm)
    }

    /// Start and end of the pull, mm from the first reading.
    pub(super) fn pull_mm(&self) -> (f64, f64) {
        (self.start_mm, self.end_mm)
    }
}

/// Readings in mm and N, all finite.
fn in_base_units(
    readings: &[(f64, f64)],
    displacement: LengthUnit,
    force: ForceUnit,
) -> Result<Vec<Point>, PeelError> {
    let factor_mm = Length::new(1.0, displacement).map_or(1.0, |one| one.value_in(LengthUnit::Millimetre));
    let factor_n = Force::new(1.0, force).map_or(1.0, |one| one.value_in(ForceUnit::Newton));
    let converted = readings.iter().enumerate().map(|(reading, (place, force))| {
        let point = (place * factor_mm, force * factor_n);
        // NaN is not within anything.
        let sensible = point.0.abs() <= LARGEST && point.1.abs() <= LARGEST;
        if sensible { Ok(point) } else { Err(PeelError::NotFinite { reading }) }
    });
    converted.collect()
}

/// Readings in order of displacement, counted from the first.
fn in_order(mut readings: Vec<Point>, remarks: &mut Vec<Remark>) -> Result<Vec<Point>, PeelError> {
    let mut furthest = f64::NEG_INFINITY;
    for (reading, (place, _)) in readings.iter().enumerate() {
        if *place < furthest - PLAY_MM {
            return Err(PeelError::GoesBack { reading });
        }
        if *place < furthest && !remarks.contains(&Remark::Reordered) {
            remarks.push(Remark::Reordered);
        }
        furthest = furthest.max(*place);
    }
    // A stable sort: readings at one place stay in the order in which they were taken.
    readings.sort_by(|a, b| a.0.total_cmp(&b.0));
    let first = readings.first().map_or(0.0, |point| point.0);
    readings.iter_mut().for_each(|point| point.0 -= first);
    Ok(readings)
}

/// Readings at one place become one.
fn one_force_a_place(readings: &[Point], remarks: &mut Vec<Remark>) -> Vec<Point> {
    let places = readings.chunk_by(|a, b| a.0 == b.0);
    let line: Vec<Point> = places
        .map(|same| (same[0].0, curve::median_of(same.iter().map(|point| point.1).collect())))
        .collect();
    if line.len() < readings.len() {
        remarks.push(Remark::Merged);
    }
    line
}
