//! Quantities whose units differ by a factor only.

use super::{Quantity, QuantityError, Unit};

/// What numbers a kind of quantity allows.
#[derive(Clone, Copy)]
enum Allowed {
    /// Zero and above.
    NotNegative,
    /// Above zero.
    Positive,
    /// Zero up to this much of the stored unit.
    UpTo(f64),
}

impl Allowed {
    /// Checks `given` in a unit of which one is worth `factor` of the stored unit.
    fn check(
        self,
        quantity: &'static str,
        given: f64,
        unit: &'static str,
        factor: f64,
    ) -> Result<(), QuantityError> {
        if !given.is_finite() || !(given * factor).is_finite() {
            return Err(QuantityError::NotFinite { quantity });
        }
        match self {
            Self::NotNegative if given < 0.0 => Err(QuantityError::Negative { quantity, given, unit }),
            Self::Positive if given <= 0.0 => Err(QuantityError::NotPositive { quantity, given, unit }),
            Self::UpTo(high) if !(0.0..=high).contains(&(given * factor)) => {
                Err(QuantityError::OutOfRange { quantity, given, unit, low: 0.0, high: high / factor })
            }
            _ => Ok(()),
        }
    }
}

/// Declares a quantity and its units. The first unit is the stored one; the factor says how much of it one of each
/// unit is worth.
macro_rules! linear_quantity {
    (
        $(#[$about:meta])*
        $name:ident ($called:literal, $allowed:expr) in $unit:ident {
            $( $(#[$about_unit:meta])* $variant:ident = $code:literal worth $factor:expr ),+ $(,)?
        }
    ) => {
        #[doc = concat!("Units in which a ", $called, " may be given.")]
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
        pub enum $unit {
            $( $(#[$about_unit])* $variant ),+
        }

        impl $unit {
            const fn factor(self) -> f64 {
                match self {
                    $(Self::$variant => $factor),+
                }
            }
        }

        impl Unit for $unit {
            const ALL: &'static [Self] = &[$(Self::$variant),+];

            fn code(self) -> &'static str {
                match self {
                    $(Self::$variant => $code),+
                }
            }
        }

        $(#[$about])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
        pub struct $name(f64);

        impl Quantity for $name {
            type Unit = $unit;
            const NAME: &'static str = $called;

            fn new(value: f64, unit: $unit) -> Result<Self, QuantityError> {
                $allowed.check(Self::NAME, value, unit.code(), unit.factor())?;
                Ok(Self(value * unit.factor()))
            }

            fn value_in(self, unit: $unit) -> f64 {
                self.0 / unit.factor()
            }
        }
    };
}

linear_quantity! {
    /// A welding speed; above zero.
    Speed ("speed", Allowed::Positive) in SpeedUnit {
        /// Metres a minute, UCUM `m/min`.
        MetrePerMinute = "m/min" worth 1.0,
        /// Feet a minute, UCUM `[ft_i]/min`.
        FootPerMinute = "[ft_i]/min" worth 0.3048,
    }
}

linear_quantity! {
    /// A length or width; zero or above.
    Length ("length", Allowed::NotNegative) in LengthUnit {
        /// Millimetres, UCUM `mm`.
        Millimetre = "mm" worth 1.0,
        /// Centimetres, UCUM `cm`.
        Centimetre = "cm" worth 10.0,
        /// Metres, UCUM `m`.
        Metre = "m" worth 1000.0,
        /// International inches, UCUM `[in_i]`.
        Inch = "[in_i]" worth 25.4,
        /// International feet, UCUM `[ft_i]`.
        Foot = "[ft_i]" worth 304.8,
    }
}

linear_quantity! {
    /// A wind speed; zero or above.
    WindSpeed ("wind speed", Allowed::NotNegative) in WindSpeedUnit {
        /// Metres a second, UCUM `m/s`.
        MetrePerSecond = "m/s" worth 1.0,
        /// Kilometres an hour, UCUM `km/h`.
        KilometrePerHour = "km/h" worth 1.0 / 3.6,
        /// International miles an hour, UCUM `[mi_i]/h`.
        MilePerHour = "[mi_i]/h" worth 0.44704,
    }
}

linear_quantity! {
    /// A peel force; zero or above.
    Force ("force", Allowed::NotNegative) in ForceUnit {
        /// Newtons, UCUM `N`.
        Newton = "N" worth 1.0,
        /// Pounds-force, UCUM `[lbf_av]`.
        PoundForce = "[lbf_av]" worth 4.448_221_615_260_5,
    }
}

linear_quantity! {
    /// A peel force over the width of the strip; zero or above.
    ForcePerWidth ("force per width", Allowed::NotNegative) in ForcePerWidthUnit {
        /// Newtons a millimetre, UCUM `N/mm`.
        NewtonPerMillimetre = "N/mm" worth 1.0,
        /// Newtons a centimetre, UCUM `N/cm`.
        NewtonPerCentimetre = "N/cm" worth 0.1,
        /// Newtons on a strip 50 mm wide, as European sheet standards print it (from memory). UCUM takes whole numbers as factors and
        /// parentheses around a term, hence `N/(50.mm)`; `N/50.mm` would be read from the left as newtons times
        /// millimetres over 50.
        NewtonPerFiftyMillimetres = "N/(50.mm)" worth 0.02,
        /// Kilonewtons a metre, UCUM `kN/m`.
        KilonewtonPerMetre = "kN/m" worth 1.0,
        /// Pounds-force an inch, UCUM `[lbf_av]/[in_i]`.
        PoundForcePerInch = "[lbf_av]/[in_i]" worth 4.448_221_615_260_5 / 25.4,
    }
}

linear_quantity! {
    /// A supply voltage; zero or above.
    Voltage ("voltage", Allowed::NotNegative) in VoltageUnit {
        /// Volts, UCUM `V`.
        Volt = "V" worth 1.0,
    }
}

linear_quantity! {
    /// A heater's power; zero or above.
    Power ("power", Allowed::NotNegative) in PowerUnit {
        /// Watts, UCUM `W`.
        Watt = "W" worth 1.0,
        /// Kilowatts, UCUM `kW`.
        Kilowatt = "kW" worth 1000.0,
    }
}

linear_quantity! {
    /// An electric current; zero or above.
    Current ("current", Allowed::NotNegative) in CurrentUnit {
        /// Amperes, UCUM `A`.
        Ampere = "A" worth 1.0,
    }
}

linear_quantity! {
    /// An electrical resistance; zero or above.
    Resistance ("resistance", Allowed::NotNegative) in ResistanceUnit {
        /// Ohms, UCUM `Ohm`.
        Ohm = "Ohm" worth 1.0,
        /// Milliohms, UCUM `mOhm`.
        Milliohm = "mOhm" worth 0.001,
    }
}

linear_quantity! {
    /// The electrical resistance of a length of conductor; zero or above.
    ResistancePerLength ("resistance per length", Allowed::NotNegative) in ResistancePerLengthUnit {
        /// Ohms a kilometre, UCUM `Ohm/km`.
        OhmPerKilometre = "Ohm/km" worth 1.0,
        /// Milliohms a foot, UCUM `mOhm/[ft_i]`: the same number as in ohms per thousand feet.
        MilliohmPerFoot = "mOhm/[ft_i]" worth 1.0 / 0.3048,
    }
}

linear_quantity! {
    /// A mass, such as the weight added to a roller; zero or above.
    Mass ("mass", Allowed::NotNegative) in MassUnit {
        /// Kilograms, UCUM `kg`.
        Kilogram = "kg" worth 1.0,
        /// Pounds, UCUM `[lb_av]`.
        Pound = "[lb_av]" worth 0.453_592_37,
    }
}

linear_quantity! {
    /// A share of a whole: humidity, an airflow setting; 0 to 100 %.
    Percent ("percentage", Allowed::UpTo(100.0)) in PercentUnit {
        /// Per cent, UCUM `%`.
        Percent = "%" worth 1.0,
    }
}

impl SpeedUnit {
    /// How people write it: `m/min` or `ft/min`.
    #[must_use]
    pub const fn symbol(self) -> &'static str {
        match self {
            Self::MetrePerMinute => "m/min",
            Self::FootPerMinute => "ft/min",
        }
    }

    /// How many of the steps in which a speed is advised go into one of this unit: steps of 0.1 m/min or 0.5 ft/min
    /// (common practice, no source).
    pub(crate) const fn notches(self) -> f64 {
        match self {
            Self::MetrePerMinute => 10.0,
            Self::FootPerMinute => 2.0,
        }
    }
}

impl Percent {
    /// The share as a ratio from 0 to 1.
    #[must_use]
    pub fn ratio(self) -> f64 {
        self.0 / 100.0
    }

    /// A percentage known to be in range.
    pub(crate) const fn constant(percent: f64) -> Self {
        assert!(percent >= 0.0 && percent <= 100.0);
        Self(percent)
    }
}

/// Declares what makes a quantity of a number in its stored unit that is known to be in range: a constant, or the
/// result of a calculation.
macro_rules! known_quantities {
    ($( $name:ident :: $maker:ident ),+ $(,)?) => {
        $(
            impl $name {
                /// A quantity known to be in range.
                pub(crate) const fn $maker(value: f64) -> Self {
                    assert!(value >= 0.0 && value.is_finite());
                    Self(value)
                }
            }
        )+
    };
}

known_quantities! {
    Length::millimetres,
    WindSpeed::metres_per_second,
    Voltage::volts,
    Current::amperes,
    Resistance::ohms,
    ResistancePerLength::ohms_per_kilometre,
}

linear_quantity! {
    /// A span of time in minutes; zero or above.
    Minutes ("time", Allowed::NotNegative) in MinutesUnit {
        /// Minutes, UCUM `min`.
        Minute = "min" worth 1.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::parse;

    fn assert_near(computed: f64, exact: f64) {
        assert!((computed / exact - 1.0).abs() < 1e-15, "{computed} against {exact}");
    }

    /// Exact by definition: the international yard and pound agreement of 1959 and standard gravity.
    #[test]
    fn exact_factors() {
        let inch: Length = parse(1.0, "[in_i]").unwrap();
        assert_near(inch.value_in(LengthUnit::Millimetre), 25.4);
        let speed: Speed = parse(1.0, "[ft_i]/min").unwrap();
        assert_near(speed.value_in(SpeedUnit::MetrePerMinute), 0.3048);
        let force: Force = parse(1.0, "[lbf_av]").unwrap();
        assert_near(force.value_in(ForceUnit::Newton), 4.448_221_615_260_5);
        let peel: ForcePerWidth = parse(1.0, "[lbf_av]/[in_i]").unwrap();
        assert_near(peel.value_in(ForcePerWidthUnit::NewtonPerMillimetre), 0.175_126_835_246_476_38);
        assert_near(peel.value_in(ForcePerWidthUnit::NewtonPerFiftyMillimetres), 8.756_341_762_323_819);
        assert_near(peel.value_in(ForcePerWidthUnit::NewtonPerCentimetre), 1.751_268_352_464_763_8);
        assert_near(peel.value_in(ForcePerWidthUnit::KilonewtonPerMetre), 0.175_126_835_246_476_38);
        let fifty: ForcePerWidth = parse(150.0, "N/(50.mm)").unwrap();
        assert_near(fifty.value_in(ForcePerWidthUnit::NewtonPerMillimetre), 3.0);
        let mile: WindSpeed = parse(1.0, "[mi_i]/h").unwrap();
        assert_near(mile.value_in(WindSpeedUnit::KilometrePerHour), 1.609_344);
        let wire: ResistancePerLength = parse(0.3048, "mOhm/[ft_i]").unwrap();
        assert_near(wire.value_in(ResistancePerLengthUnit::OhmPerKilometre), 1.0);
        let contact: Resistance = parse(250.0, "mOhm").unwrap();
        assert_near(contact.value_in(ResistanceUnit::Ohm), 0.25);
    }

    #[test]
    fn refusals_name_the_trouble() {
        assert_eq!(parse::<Length>(-1.0, "mm").unwrap_err().code(), "negative");
        assert_eq!(parse::<Speed>(0.0, "m/min").unwrap_err().code(), "not_positive");
        assert_eq!(parse::<Percent>(101.0, "%").unwrap_err().code(), "out_of_range");
        assert_eq!(parse::<Current>(-1.0, "A").unwrap_err().code(), "negative");
        assert_eq!(parse::<Mass>(f64::INFINITY, "kg").unwrap_err().code(), "not_finite");
        assert_eq!(parse::<Length>(f64::MAX, "m").unwrap_err().code(), "not_finite");
        let unknown = parse::<WindSpeed>(3.0, "knot").unwrap_err();
        assert_eq!(
            unknown.to_string(),
            "\"knot\" is not a unit of wind speed; give the number in m/s, km/h or [mi_i]/h (UCUM codes)"
        );
    }
}
