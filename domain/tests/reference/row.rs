//! The rows of `edges.csv`: one edge of one trial each.

use lapwatch_domain::edges::{Edge, EdgeClass, EdgeEvidence, EdgePrior, Observation, stand_alone};
use lapwatch_domain::quantity::{
    Quantity, Temperature, TemperatureDifference, TemperatureDifferenceUnit, TemperatureUnit,
};

/// One edge of a trial and what the other program found.
pub(crate) struct Row {
    pub(crate) trial: String,
    pub(crate) unit_maximum_c: f64,
    pub(crate) prior: EdgePrior,
    pub(crate) observations: Vec<Observation>,
    pub(crate) edge: Edge,
    pub(crate) class: EdgeClass,
    /// Mean and standard deviation on the same grid.
    pub(crate) mean_c: f64,
    pub(crate) sd_k: f64,
    /// The 2.5, 50 and 97.5 % points.
    pub(crate) quantiles_c: [f64; 3],
    pub(crate) bound_c: Option<f64>,
}

impl Row {
    fn parse(line: &str) -> Self {
        let fields: Vec<&str> = line.split(',').collect();
        let [trial, unit_maximum, sigma_median, ln_sigma_sd, rho, coupons, edge, class, numbers @ ..] =
            &fields[..]
        else {
            panic!("a row is too short: {line}");
        };
        let numbers: Vec<Option<f64>> = numbers.iter().map(|text| text.parse().ok()).collect();
        let number = |index: usize| numbers[index].unwrap_or_else(|| panic!("{line}: number {index}"));
        Self {
            trial: (*trial).to_owned(),
            unit_maximum_c: parse(unit_maximum),
            prior: EdgePrior {
                sigma_median: kelvin(parse(sigma_median)),
                ln_sigma_sd: parse(ln_sigma_sd),
                correlation: parse(rho),
            },
            observations: coupons.split(' ').map(observation).collect(),
            edge: Edge::from_code(edge).expect("an edge"),
            class: EdgeClass::from_code(class).expect("a class"),
            mean_c: number(0),
            sd_k: number(1),
            quantiles_c: [number(2), number(3), number(4)],
            bound_c: numbers[5],
        }
    }

    /// What this crate says of the edge.
    pub(crate) fn evidence(&self) -> EdgeEvidence {
        stand_alone(&self.observations, celsius(self.unit_maximum_c), &self.prior).of(self.edge).clone()
    }

    /// Temperature, strips beyond the edge and strips short of it of the coupons that say something about it.
    pub(crate) fn tallies(&self) -> Vec<(f64, i32, i32)> {
        let tally = |seen: &Observation| {
            let (beyond, short) = match self.edge {
                Edge::Lower => (seen.sound + seen.hot, seen.cold),
                Edge::Upper => (seen.hot, seen.sound),
            };
            (seen.temperature.value_in(TemperatureUnit::Celsius), beyond as i32, short as i32)
        };
        self.observations.iter().map(tally).filter(|(_, beyond, short)| beyond + short > 0).collect()
    }

    /// The highest temperature at which the edge is sought.
    pub(crate) fn top_c(&self) -> f64 {
        self.unit_maximum_c + if self.edge == Edge::Upper { 50.0 } else { 0.0 }
    }
}

/// All rows of the table.
pub(crate) fn rows() -> Vec<Row> {
    include_str!("edges.csv").lines().skip(1).map(Row::parse).collect()
}

pub(crate) fn celsius(value: f64) -> Temperature {
    Temperature::new(value, TemperatureUnit::Celsius).expect("above absolute zero")
}

fn kelvin(value: f64) -> TemperatureDifference {
    TemperatureDifference::new(value, TemperatureDifferenceUnit::Kelvin).expect("finite")
}

fn parse(text: &str) -> f64 {
    text.parse().unwrap_or_else(|_| panic!("{text} is no number"))
}

/// A coupon written as `temperature:cold/sound/hot`.
fn observation(text: &str) -> Observation {
    let (temperature, counts) = text.split_once(':').expect("a temperature and counts");
    let counts: Vec<usize> = counts.split('/').map(|count| count.parse().expect("a count")).collect();
    let [cold, sound, hot] = counts[..] else { panic!("{text}: three counts") };
    Observation { temperature: celsius(parse(temperature)), cold, sound, hot }
}
