//! Acceptance criteria, and where others hold.

use chrono::{DateTime, Utc};
use lapwatch_domain::membrane::WeldMethod;
use lapwatch_domain::quantity::{Length, LengthUnit, Quantity as _, Temperature};
use uuid::Uuid;

use super::Version;

/// Acceptance criteria and advice limits of an organization.
#[derive(Debug, Clone, PartialEq)]
pub struct CriteriaSet {
    /// Bonded width that an automatic weld must show.
    pub bond_width_automatic: Length,
    /// Bonded width that a hand weld must show.
    pub bond_width_hand: Length,
    /// Strips that a coupon needs for full evidence.
    pub minimum_strips: u8,
    /// Largest predicted share of cold, and of hot, strips inside the band.
    pub share_limit: f64,
    /// Weight of the cold share in choosing the set point.
    pub cold_weight: f64,
    /// Weight of the hot share in choosing the set point.
    pub hot_weight: f64,
    /// Highest set temperature that the organization allows, if any.
    pub ceiling: Option<Temperature>,
}

impl Default for CriteriaSet {
    /// Common practice, no source: 38 mm automatic, 50 mm hand, three strips, 10 %, equal weights, no ceiling.
    fn default() -> Self {
        let mm = |value| Length::new(value, LengthUnit::Millimetre).expect("a positive length");
        Self {
            bond_width_automatic: mm(38.0),
            bond_width_hand: mm(50.0),
            minimum_strips: 3,
            share_limit: 0.10,
            cold_weight: 1.0,
            hot_weight: 1.0,
            ceiling: None,
        }
    }
}

/// Where other criteria hold than the organization's. What is `None` among the conditions does not matter; what is
/// `None` among the criteria stays as it is.
#[derive(Debug, Clone, PartialEq)]
pub struct CriteriaException {
    /// Name that people use.
    pub name: String,
    /// On this site.
    pub site_id: Option<Uuid>,
    /// With this membrane as either sheet.
    pub membrane_id: Option<Uuid>,
    /// Welded in this way.
    pub weld_method: Option<WeldMethod>,
    /// Bonded width that a weld must show.
    pub bond_width: Option<Length>,
    /// Strips that a coupon needs for full evidence.
    pub minimum_strips: Option<u8>,
    /// Largest predicted share of cold, and of hot, strips inside the band.
    pub share_limit: Option<f64>,
    /// Weight of the cold share in choosing the set point.
    pub cold_weight: Option<f64>,
    /// Weight of the hot share in choosing the set point.
    pub hot_weight: Option<f64>,
    /// Highest set temperature.
    pub ceiling: Option<Temperature>,
}

/// What is welded where, as far as criteria depend on it.
#[derive(Debug, Clone, Copy)]
pub struct Weld {
    /// The site, if it is known.
    pub site_id: Option<Uuid>,
    /// Both sheets' membranes.
    pub membrane_ids: [Uuid; 2],
    /// How the tool is moved.
    pub method: WeldMethod,
    /// When.
    pub at: DateTime<Utc>,
}

impl CriteriaException {
    /// Whether it holds for that weld.
    fn holds_for(&self, weld: &Weld) -> bool {
        self.site_id.is_none_or(|site| weld.site_id == Some(site))
            && self.membrane_id.is_none_or(|membrane| weld.membrane_ids.contains(&membrane))
            && self.weld_method.is_none_or(|method| weld.method == method)
    }

    /// Orders exceptions from the general to the particular: one with more conditions goes before one with fewer; among
    /// equals the site's (its specification) goes before the membrane's, and that before the way of welding.
    fn particular(&self) -> (usize, bool, bool) {
        let conditions = [self.site_id.is_some(), self.membrane_id.is_some(), self.weld_method.is_some()];
        let count = conditions.iter().filter(|named| **named).count();
        (count, self.site_id.is_some(), self.membrane_id.is_some())
    }
}

impl CriteriaSet {
    /// The criteria for that weld: the organization's, changed by each exception that is in force and holds, the more
    /// particular one last; between two equally particular ones the later.
    #[must_use]
    pub fn for_weld(&self, exceptions: &[Version<CriteriaException>], weld: &Weld) -> Self {
        let mut holding: Vec<&Version<CriteriaException>> = exceptions
            .iter()
            .filter(|version| !version.retired && version.effective_from <= weld.at)
            .filter(|version| version.value.holds_for(weld))
            .collect();
        holding.sort_by_key(|version| (version.value.particular(), version.effective_from, version.id));
        holding.iter().fold(self.clone(), |criteria, version| criteria.changed_by(&version.value))
    }

    fn changed_by(self, exception: &CriteriaException) -> Self {
        Self {
            bond_width_automatic: exception.bond_width.unwrap_or(self.bond_width_automatic),
            bond_width_hand: exception.bond_width.unwrap_or(self.bond_width_hand),
            minimum_strips: exception.minimum_strips.unwrap_or(self.minimum_strips),
            share_limit: exception.share_limit.unwrap_or(self.share_limit),
            cold_weight: exception.cold_weight.unwrap_or(self.cold_weight),
            hot_weight: exception.hot_weight.unwrap_or(self.hot_weight),
            ceiling: exception.ceiling.or(self.ceiling),
        }
    }
}

#[cfg(test)]
mod tests {
    use lapwatch_domain::quantity::TemperatureUnit;

    use super::*;

    const SITE: Uuid = Uuid::from_u128(1);
    const MEMBRANE: Uuid = Uuid::from_u128(2);

    fn time(second: i64) -> DateTime<Utc> {
        DateTime::from_timestamp(second, 0).expect("a time")
    }

    fn exception(strips: u8, conditions: (bool, bool, bool), from: i64) -> Version<CriteriaException> {
        let value = CriteriaException {
            name: "An exception".to_owned(),
            site_id: conditions.0.then_some(SITE),
            membrane_id: conditions.1.then_some(MEMBRANE),
            weld_method: conditions.2.then_some(WeldMethod::Hand),
            bond_width: None,
            minimum_strips: Some(strips),
            share_limit: None,
            cold_weight: None,
            hot_weight: None,
            ceiling: None,
        };
        Version { id: Uuid::from_u128(u128::from(strips)), effective_from: time(from), retired: false, value }
    }

    fn strips(exceptions: &[Version<CriteriaException>], weld: &Weld) -> u8 {
        let mut reversed = exceptions.to_vec();
        reversed.reverse();
        let criteria = CriteriaSet::default().for_weld(exceptions, weld);
        assert_eq!(criteria, CriteriaSet::default().for_weld(&reversed, weld), "their order does not matter");
        criteria.minimum_strips
    }

    #[test]
    fn the_particular_goes_before_the_general() {
        let weld = Weld {
            site_id: Some(SITE),
            membrane_ids: [Uuid::nil(), MEMBRANE],
            method: WeldMethod::Hand,
            at: time(100),
        };
        let by_site = exception(4, (true, false, false), 0);
        let by_membrane = exception(5, (false, true, false), 0);
        let by_method = exception(6, (false, false, true), 0);
        let by_two = exception(7, (false, true, true), 0);
        assert_eq!(strips(&[], &weld), 3);
        assert_eq!(strips(std::slice::from_ref(&by_method), &weld), 6);
        assert_eq!(strips(&[by_method.clone(), by_membrane.clone()], &weld), 5);
        assert_eq!(strips(&[by_method.clone(), by_membrane.clone(), by_site.clone()], &weld), 4);
        assert_eq!(strips(&[by_method, by_membrane, by_site, by_two], &weld), 7);
        // Between equals the later one.
        let later = exception(8, (true, false, false), 50);
        assert_eq!(strips(&[later.clone(), exception(9, (true, false, false), 10)], &weld), 8);
        // Not before it is in force, not when it is retired, not elsewhere.
        assert_eq!(strips(&[exception(9, (true, false, false), 101)], &weld), 3);
        assert_eq!(strips(&[Version { retired: true, ..later.clone() }], &weld), 3);
        assert_eq!(strips(&[later], &Weld { site_id: None, ..weld }), 3);
        let by_machine = Weld { method: WeldMethod::Automatic, ..weld };
        assert_eq!(strips(&[exception(9, (false, true, true), 0)], &by_machine), 3);
    }

    #[test]
    fn what_an_exception_leaves_open_stays() {
        let weld = Weld {
            site_id: Some(SITE),
            membrane_ids: [MEMBRANE, MEMBRANE],
            method: WeldMethod::Automatic,
            at: time(0),
        };
        let ceiling = Temperature::new(550.0, TemperatureUnit::Celsius).ok();
        let organization = CriteriaSet { ceiling, cold_weight: 2.0, ..CriteriaSet::default() };
        let found = organization.for_weld(&[exception(9, (true, false, false), 0)], &weld);
        assert_eq!(found, CriteriaSet { minimum_strips: 9, ..organization });
    }
}
