//! What a history makes of a trial that steps the speed: the same as of one that steps the temperature.

use lapwatch_domain::acceptance::Coupon;
use lapwatch_domain::drift::{ChartSettings, HistoryEntry, Offsets, UnitCharts};
use lapwatch_domain::edges::{Edge, Profile};
use lapwatch_domain::heat::{Conditions, HeatShare, equivalent, equivalent_speed};
use lapwatch_domain::membrane::MaterialClass;
use lapwatch_domain::trial::{Purpose, TrialInput, evaluate};

use crate::KNOWN;
use crate::unit::{Day, Unit, celsius, input, number, speed};

/// A day's sweep, and the same coupons as they come out when 480 °C is held and the speed stepped.
fn swept_and_stepped(unit: &mut Unit, day: &Day) -> [TrialInput; 2] {
    let coupons = [380.0, 420.0, 460.0, 500.0, 540.0, 580.0].map(|at| unit.weld(day, at)).to_vec();
    let mut swept = input(Purpose::Sweep, coupons);
    swept.surroundings.sheet = Some(celsius(day.sheet));
    let conditions = Conditions { sheet: celsius(day.sheet), speed: swept.speed };
    let mut stepped = swept.clone();
    for coupon in &mut stepped.coupons {
        let held = celsius(480.0);
        let speed = equivalent_speed(coupon.set_temperature, conditions, held, HeatShare::default());
        *coupon = Coupon { set_temperature: held, speed, specimens: std::mem::take(&mut coupon.specimens) };
    }
    [swept, stepped]
}

#[test]
fn carried_advice_and_history_do_not_see_how_steps_were_made() {
    let off = |one, other| (number(one) - number(other)).abs();
    let mut advised = 0;
    for unit in &KNOWN[..40] {
        let mut unit = unit.clone();
        let day = unit.day();
        let trials = swept_and_stepped(&mut unit, &day);
        let [(swept, after_swept), (stepped, after_stepped)] = trials.map(|input| {
            let evaluation = evaluate(&input);
            let carried = unit.carry(&day, &input, &evaluation);
            let mut after = unit.clone();
            after.remember(&day, &evaluation);
            (carried, after.charts.now(MaterialClass::Pvc, &[]).expect("a history"))
        });
        for edge in Edge::ALL {
            assert!(off(after_swept.level(*edge).mean, after_stepped.level(*edge).mean) < 1e-3);
        }
        assert_eq!(swept.as_ref().err(), stepped.as_ref().err());
        let (Ok(swept), Ok(stepped)) = (swept, stepped) else { continue };
        assert_eq!(swept.expected, stepped.expected);
        assert!((swept.agreement - stepped.agreement).abs() < 1e-6);
        assert_eq!(swept.advice.is_some(), stepped.advice.is_some());
        let (Some(swept), Some(stepped)) = (swept.advice, stepped.advice) else { continue };
        assert_eq!(swept.set_point.as_ref().err(), stepped.set_point.as_ref().err());
        let (Ok(swept), Ok(stepped)) = (swept.set_point, stepped.set_point) else { continue };
        assert!(off(swept.computed, stepped.computed) < 1e-3);
        advised += 1;
    }
    assert!(advised >= 25, "{advised}");
}

/// Sound only so slowly that the edges at the held speed lie above the unit's highest setting: the evidence reaches as
/// far, and a history takes it.
#[test]
fn a_history_takes_edges_above_the_highest_setting() {
    let unit = &KNOWN[0];
    let day = Day { edges: [690.0, 790.0], sheet: 20.0 };
    let mut crew = unit.clone();
    // About 605, 650, 706, 731 and 789 °C at 3.05 m/min.
    let coupons = [3.05, 2.5, 2.0, 1.8, 1.5].map(|metres_per_minute| {
        let conditions = Conditions { sheet: celsius(day.sheet), speed: speed(metres_per_minute) };
        let to = Conditions { speed: speed(3.05), ..conditions };
        let there = equivalent(celsius(605.0), conditions, to, HeatShare::default());
        let specimens = crew.weld(&day, number(there.set_point)).specimens;
        Coupon { set_temperature: celsius(605.0), speed: Some(speed(metres_per_minute)), specimens }
    });
    let mut input = input(Purpose::Sweep, coupons.to_vec());
    input.surroundings.sheet = Some(celsius(day.sheet));
    let evaluation = evaluate(&input);
    let usual = Profile::flat(Edge::Upper, input.unit_maximum).len();
    let (lower, upper) = (&evaluation.evidence.lower.profile, &evaluation.evidence.upper.profile);
    assert!(upper.len() > usual + 30, "{} {usual}", upper.len());
    let entry = HistoryEntry {
        trial: uuid::Uuid::from_u128(1),
        at: unit.now,
        class: MaterialClass::Pvc,
        sheet: Some(celsius(day.sheet)),
        speed: input.speed,
        lower,
        upper,
        offsets: Offsets::default(),
    };
    let mut charts = UnitCharts::new(ChartSettings::default(), entry.profile_points());
    charts.take(&entry, &[]);
    let level = charts.now(MaterialClass::Pvc, &[]).expect("a trial was taken").level(Edge::Lower);
    let found = evaluation.evidence.lower.estimate.expect("the lower edge was found");
    // At reference conditions the level is the edge, but for noise and the ends of the grid.
    assert!((number(level.mean) - number(found.mean)).abs() < 15.0, "{level:?} {found:?}");
}
