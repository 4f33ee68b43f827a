//! Calculations on what a caller sends. Nothing is stored; of the database only whether the caller may still call is
//! asked.

use std::panic::{AssertUnwindSafe, catch_unwind};

use lapwatch_domain::drift::ChartSettings;
use lapwatch_domain::heat::{HeatError, Known, Together, carry_together};
use lapwatch_domain::peel::{Peel, PeelError, Trace};
use lapwatch_domain::quantity::{Quantity as _, Temperature, TemperatureDifference, TemperatureUnit};
use lapwatch_domain::readers::{PairedReadings, PooledKappa, pool};
use lapwatch_domain::series::{SeriesError, SeriesReport, report};
use lapwatch_domain::supply::{
    AtMachine, CordAdvice, CordGoal, CordQuestion, Headroom, SupplyError, USUAL_DROP_LIMIT, at_machine,
    thinnest,
};
use lapwatch_domain::trial::Evaluation;
use lapwatch_domain::weather::{Condensation, WeatherError, condensation, dew_point};

use super::records::require_crew;
use super::trials::Context;
use super::{Error, Result, Service, open_to_read};
use crate::model::calculations::{Carry, DewPoint, PeelTrace, Series, Supply};
use crate::model::{Principal, Trial};
use crate::wire::{SETTABLE_CELSIUS, sentence};

/// A dew point and, where a sheet is asked about, how it stands to it.
#[derive(Debug, Clone, Copy)]
pub struct DewPointFound {
    /// The dew point.
    pub dew_point: Temperature,
    /// Its standard deviation.
    pub sd: TemperatureDifference,
    /// The sheet.
    pub sheet: Option<Condensation>,
}

/// What arrives at a machine, what it reaches with that, and which cord would do.
#[derive(Debug, Clone, Copy)]
pub struct SupplyFound {
    /// `None` when neither a voltage under load nor a cord is known.
    pub at_machine: Option<AtMachine>,
    /// `None` unless the heater was asked about and the voltage at the machine is known.
    pub headroom: Option<Headroom>,
    /// `None` unless it was asked for.
    pub cord: Option<CordAdvice>,
}

/// What a trial says, evaluated as if it were sent now, with what it was judged by. Nothing is stored.
///
/// # Errors
/// As [`super::trials::receive`], without conflicts.
pub async fn trial(service: &Service, caller: &Principal, trial: &Trial) -> Result<(Context, Evaluation)> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let context = Context::load(&tenant, trial).await?;
    require_crew(caller, context.crew_id)?;
    let evaluation = context.evaluate(trial)?;
    Ok((context, evaluation))
}

/// The dew point.
///
/// # Errors
/// [`Error::Invalid`] outside what the formula is made for.
pub async fn of_dew_point(service: &Service, caller: &Principal, asked: &DewPoint) -> Result<DewPointFound> {
    admitted(service, caller, || {
        let air = (asked.air, asked.humidity);
        let sheet = asked.sheet.map(|sheet| condensation(sheet, air, &asked.instruments, asked.least));
        let found = dew_point(asked.air, asked.humidity).and_then(|found| {
            let sd = found.sd(&asked.instruments)?;
            Ok(DewPointFound { dew_point: found.temperature, sd, sheet: sheet.transpose()? })
        });
        found.map_err(|error| Error::invalid(weather_pointer(error), error.code(), sentence(&error)))
    })
    .await
}

const fn weather_pointer(error: WeatherError) -> &'static str {
    match error {
        WeatherError::NoHumidity | WeatherError::TooDry => "/humidity/value",
        WeatherError::AirOutOfRange => "/air_temperature/value",
        WeatherError::Negative => "/instruments",
    }
}

/// Temperatures carried to other conditions.
///
/// # Errors
/// [`Error::Invalid`] when the nozzle stays over the sheet too long at one of the speeds.
pub async fn of_carry(service: &Service, caller: &Principal, asked: &Carry) -> Result<Together> {
    admitted(service, caller, || {
        for (conditions, pointer) in [(asked.from, "/from/speed/value"), (asked.to, "/to/speed/value")] {
            asked
                .dwell
                .check(conditions.speed)
                .map_err(|error| Error::invalid(pointer, error.code(), sentence(&error)))?;
        }
        let known: Vec<_> = asked.temperatures.iter().map(|(known, _)| *known).collect();
        let shares = match asked.share {
            Some((share, sd)) => share.give_or_take(sd),
            None => ChartSettings::default().heat_shares,
        };
        let found = carry_together(&known, asked.from, asked.to, &shares, asked.dwell)
            .map_err(|error: HeatError| Error::invalid("", error.code(), sentence(&error)))?;
        let settable = |value: &Known| SETTABLE_CELSIUS.contains(&value.mean.value_in(TemperatureUnit::Celsius));
        if found.values().iter().all(settable) {
            Ok(found)
        } else {
            let detail = "Under these conditions a temperature comes out that no hot-air welder can be set to, 0 to 1000 \
                          Cel (32 to 1832 [degF]). Check sheet temperature and speed, or weld slower.";
            Err(Error::invalid("/to", "beyond_range", detail))
        }
    })
    .await
}

/// What arrives at a machine, and what would.
///
/// # Errors
/// [`Error::Invalid`] for a drop limit or a reserve that leaves nothing to decide.
pub async fn of_supply(service: &Service, caller: &Principal, asked: &Supply) -> Result<SupplyFound> {
    admitted(service, caller, || {
        let refused = |error: SupplyError| {
            let pointer = match error {
                SupplyError::DropLimit => "/which_cord/drop_limit/value",
                SupplyError::NegativeReserve => "/heater/reserve/value",
                _ => "",
            };
            Error::invalid(pointer, error.code(), sentence(&error))
        };
        let at_machine = at_machine(asked.rating, &asked.supply).map_err(refused)?;
        let headroom = asked
            .heater
            .zip(at_machine)
            .map(|(heater, at_machine)| heater.reach.headroom(&at_machine, heater.set_point, heater.reserve));
        let cord = cord_question(asked).map(|question| thinnest(&question)).transpose().map_err(refused)?;
        Ok(SupplyFound { at_machine, headroom, cord })
    })
    .await
}

fn cord_question(asked: &Supply) -> Option<CordQuestion> {
    let (at_least, limit) = asked.which_cord?;
    let cord = asked.supply.cord?;
    let goal = match (limit, asked.heater) {
        (None, Some(heater)) => {
            CordGoal::Reach { reach: heater.reach, set_point: heater.set_point, reserve: heater.reserve }
        }
        (limit, _) => CordGoal::Drop(limit.unwrap_or(USUAL_DROP_LIMIT)),
    };
    Some(CordQuestion {
        rating: asked.rating,
        source: asked.supply.idle.or(asked.supply.source),
        length: cord.length(),
        conductor: cord.conductor(),
        at_least,
        goal,
    })
}

/// The forces of a peeled strip.
///
/// # Errors
/// [`Error::Invalid`] naming the reading that is wrong.
pub async fn of_peel(service: &Service, caller: &Principal, asked: &PeelTrace) -> Result<(Trace, Peel)> {
    admitted(service, caller, || {
        let found = peeled(asked);
        found.map_err(|error| Error::invalid(peel_pointer(asked, &error), error.code(), sentence(&error)))
    })
    .await
}

pub(super) fn peeled(asked: &PeelTrace) -> std::result::Result<(Trace, Peel), PeelError> {
    let trace = Trace::new(&asked.readings, asked.displacement, asked.force, asked.zero)?;
    let peel = trace.peel(asked.region, asked.strip)?;
    Ok((trace, peel))
}

fn peel_pointer(asked: &PeelTrace, error: &PeelError) -> String {
    match error {
        // Displacements are looked at first: where one is a sensible number, the force is none.
        PeelError::NotFinite { reading }
            if asked.readings.get(*reading).is_some_and(|pair| pair.0.abs() < 1e9) =>
        {
            format!("/force/values/{reading}")
        }
        PeelError::NotFinite { reading } | PeelError::GoesBack { reading } => {
            format!("/displacement/values/{reading}")
        }
        PeelError::TooFewReadings => "/displacement/values".to_owned(),
        PeelError::NoLoad => "/force/values".to_owned(),
        PeelError::NoInitialPeak | PeelError::EndsBeforeRegion => "/region".to_owned(),
        PeelError::OutsideTrace => "/slack_until".to_owned(),
        PeelError::NoWidth => "/width/value".to_owned(),
    }
}

/// How far two readers agree, over all sessions.
///
/// # Errors
/// [`Error::Invalid`] when no session has a kappa.
pub async fn of_readers(
    service: &Service,
    caller: &Principal,
    sessions: &[PairedReadings],
) -> Result<PooledKappa> {
    admitted(service, caller, || {
        pool(sessions).map_err(|error| Error::invalid("/sessions", error.code(), sentence(&error)))
    })
    .await
}

/// Chart, level and trend of a series.
///
/// # Errors
/// [`Error::Invalid`] naming the reading that is wrong.
pub async fn of_series(service: &Service, caller: &Principal, asked: &Series) -> Result<SeriesReport> {
    admitted(service, caller, || {
        report(&asked.readings, &asked.settings)
            .map_err(|error| Error::invalid(series_pointer(&error), error.code(), sentence(&error)))
    })
    .await
}

fn series_pointer(error: &SeriesError) -> String {
    match error {
        SeriesError::TooFewReadings => "/readings".to_owned(),
        SeriesError::NotInOrder { reading } => format!("/readings/{reading}/at"),
        SeriesError::NoStandardError { reading } => format!("/readings/{reading}/standard_error/value"),
        SeriesError::NegativeNoise => "/trial_noise/value".to_owned(),
        SeriesError::NegativeWander => "/wander_in_a_day/value".to_owned(),
        SeriesError::PromiseOutOfRange => "/promise_arl_readings".to_owned(),
    }
}

/// Runs a calculation for a caller who has not been revoked, without holding a connection for it.
async fn admitted<T>(
    service: &Service,
    caller: &Principal,
    calculation: impl FnOnce() -> Result<T>,
) -> Result<T> {
    let mut client = service.store.client().await?;
    drop(open_to_read(&mut client, caller).await?);
    drop(client);
    catch_unwind(AssertUnwindSafe(calculation))
        .unwrap_or_else(|_| Err(Error::Internal("a calculation failed".to_owned())))
}
