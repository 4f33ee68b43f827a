//! Cords: their sizes, and the resistance of their conductors.

use super::SupplyError;
use crate::coded::coded_enum;
use crate::quantity::{
    Length, LengthUnit, Quantity, Resistance, ResistancePerLength, ResistancePerLengthUnit, Temperature,
};

/// Temperature coefficient of copper's resistance at 20 °C, per kelvin: 0.00393 (quoted by many public sources for
/// annealed copper).
pub const COPPER_COEFFICIENT_PER_K: f64 = 0.00393;

/// The temperature of a cord's conductor when nothing is known of it: 75 °C (167 °F), for which NEC chapter 9 table 8
/// is printed. A cord that carries a welder's current over a sunlit roof is warm, and this errs on the side of more
/// drop: 22 % more than at 20 °C. (The choice is ours.)
pub const USUAL_CONDUCTOR_TEMPERATURE: Temperature = Temperature::from_celsius(75.0);

/// The longest cord that is calculated: 10 km, far beyond any.
pub const LONGEST_CORD: Length = Length::millimetres(1e7);

coded_enum! {
    /// A system of conductor sizes.
    pub enum SizeSystem {
        /// American wire gauge.
        Awg = "awg",
        /// Cross-section in mm².
        SquareMillimetre = "mm2",
    }
}

coded_enum! {
    /// The size of a cord's conductors, in either system the thinnest first.
    pub enum CordSize {
        /// 16 AWG.
        Awg16 = "awg_16",
        /// 14 AWG.
        Awg14 = "awg_14",
        /// 12 AWG.
        Awg12 = "awg_12",
        /// 10 AWG.
        Awg10 = "awg_10",
        /// 8 AWG.
        Awg8 = "awg_8",
        /// 6 AWG.
        Awg6 = "awg_6",
        /// 1.5 mm².
        SquareMm1_5 = "mm2_1_5",
        /// 2.5 mm².
        SquareMm2_5 = "mm2_2_5",
        /// 4 mm².
        SquareMm4 = "mm2_4",
        /// 6 mm².
        SquareMm6 = "mm2_6",
        /// 10 mm².
        SquareMm10 = "mm2_10",
    }
}

impl CordSize {
    /// The system it belongs to.
    #[must_use]
    pub const fn system(self) -> SizeSystem {
        match self {
            Self::Awg16 | Self::Awg14 | Self::Awg12 | Self::Awg10 | Self::Awg8 | Self::Awg6 => {
                SizeSystem::Awg
            }
            Self::SquareMm1_5 | Self::SquareMm2_5 | Self::SquareMm4 | Self::SquareMm6 | Self::SquareMm10 => {
                SizeSystem::SquareMillimetre
            }
        }
    }

    /// How it is written on a cord, e.g. `12 AWG` or `2.5 mm²`.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Awg16 => "16 AWG",
            Self::Awg14 => "14 AWG",
            Self::Awg12 => "12 AWG",
            Self::Awg10 => "10 AWG",
            Self::Awg8 => "8 AWG",
            Self::Awg6 => "6 AWG",
            Self::SquareMm1_5 => "1.5 mm²",
            Self::SquareMm2_5 => "2.5 mm²",
            Self::SquareMm4 => "4 mm²",
            Self::SquareMm6 => "6 mm²",
            Self::SquareMm10 => "10 mm²",
        }
    }

    /// The resistance of one conductor of this size at `conductor`.
    ///
    /// American sizes: NEC chapter 9 table 8, uncoated stranded copper at 75 °C, in ohms per thousand feet. Metric
    /// sizes: the largest that IEC 60228 allows a plain class 5 (flexible) conductor at 20 °C, in ohms per kilometre;
    /// a real one is somewhat below. Neither document could be opened here; the figures are those that several public
    /// tables agree on. To another temperature: r(t) = r(t₀)·(1 + α·(t − 20))/(1 + α·(t₀ − 20)), α =
    /// [`COPPER_COEFFICIENT_PER_K`], linear as usual.
    ///
    /// # Errors
    /// [`SupplyError::ConductorTemperature`] outside −60 to 250 °C.
    ///
    /// ```
    /// use lapwatch_domain::quantity::{Quantity, ResistancePerLengthUnit, parse};
    /// use lapwatch_domain::supply::{CordSize, SupplyError};
    /// let hot = CordSize::Awg12.resistance(parse(75.0, "Cel")?)?;
    /// assert!((hot.value_in(ResistancePerLengthUnit::MilliohmPerFoot) - 1.98).abs() < 1e-12);
    /// assert_eq!(CordSize::Awg12.resistance(parse(800.0, "Cel")?), Err(SupplyError::ConductorTemperature));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn resistance(self, conductor: Temperature) -> Result<ResistancePerLength, SupplyError> {
        if !(-60.0..=250.0).contains(&conductor.celsius()) {
            return Err(SupplyError::ConductorTemperature);
        }
        let (printed, printed_at, unit) = self.printed();
        let relative = |celsius: f64| 1.0 + COPPER_COEFFICIENT_PER_K * (celsius - 20.0);
        let warmed = printed * relative(conductor.celsius()) / relative(printed_at);
        let ohms_per_kilometre = match unit {
            ResistancePerLengthUnit::OhmPerKilometre => warmed,
            ResistancePerLengthUnit::MilliohmPerFoot => warmed / 0.3048,
        };
        Ok(ResistancePerLength::ohms_per_kilometre(ohms_per_kilometre))
    }

    /// The table's figure, the temperature in °C it is printed for, and its unit.
    #[expect(clippy::approx_constant, reason = "3.14 is what the table prints for 14 AWG")]
    const fn printed(self) -> (f64, f64, ResistancePerLengthUnit) {
        let figure = match self {
            Self::Awg16 => 4.99,
            Self::Awg14 => 3.14,
            Self::Awg12 => 1.98,
            Self::Awg10 => 1.24,
            Self::Awg8 => 0.778,
            Self::Awg6 => 0.491,
            Self::SquareMm1_5 => 13.3,
            Self::SquareMm2_5 => 7.98,
            Self::SquareMm4 => 4.95,
            Self::SquareMm6 => 3.30,
            Self::SquareMm10 => 1.91,
        };
        match self.system() {
            SizeSystem::Awg => (figure, 75.0, ResistancePerLengthUnit::MilliohmPerFoot),
            SizeSystem::SquareMillimetre => (figure, 20.0, ResistancePerLengthUnit::OhmPerKilometre),
        }
    }
}

/// A cord, or several of one size joined end to end, between the source and the machine.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cord {
    size: CordSize,
    length: Length,
    conductor: Temperature,
}

impl Cord {
    /// A cord of that size and length from plug to machine (the way back is added by the calculation), its conductors
    /// at [`USUAL_CONDUCTOR_TEMPERATURE`]. Zero length is a machine plugged in directly.
    ///
    /// # Errors
    /// [`SupplyError::CordLength`] beyond [`LONGEST_CORD`].
    pub fn new(size: CordSize, length: Length) -> Result<Self, SupplyError> {
        if length > LONGEST_CORD {
            return Err(SupplyError::CordLength);
        }
        Ok(Self { size, length, conductor: USUAL_CONDUCTOR_TEMPERATURE })
    }

    /// The same cord with its conductors at another temperature.
    ///
    /// # Errors
    /// [`SupplyError::ConductorTemperature`] outside −60 to 250 °C.
    pub fn at(self, conductor: Temperature) -> Result<Self, SupplyError> {
        self.size.resistance(conductor).map(|_| Self { conductor, ..self })
    }

    /// The size of its conductors.
    #[must_use]
    pub const fn size(self) -> CordSize {
        self.size
    }

    /// Its length, one way.
    #[must_use]
    pub const fn length(self) -> Length {
        self.length
    }

    /// The temperature of its conductors.
    #[must_use]
    pub const fn conductor(self) -> Temperature {
        self.conductor
    }

    /// Its resistance out and back: 2·L·r.
    ///
    /// # Errors
    /// As [`CordSize::resistance`]; not for a cord that [`Cord::new`] and [`Cord::at`] have let through.
    pub fn resistance(self) -> Result<Resistance, SupplyError> {
        let per_kilometre =
            self.size.resistance(self.conductor)?.value_in(ResistancePerLengthUnit::OhmPerKilometre);
        let kilometres = self.length.value_in(LengthUnit::Metre) / 1000.0;
        Ok(Resistance::ohms(2.0 * kilometres * per_kilometre))
    }
}
