//! Trials, a row for each strip. What was computed stands in columns that begin `result_`.

use chrono::SecondsFormat;
use lapwatch_domain::quantity::{
    Force, Length, Minutes, MinutesUnit, Percent, PercentUnit, Speed, Temperature, Voltage, VoltageUnit,
    WindSpeed,
};

use super::{Cell, Scales, column, measured, number};
use crate::service::exports::{ExportedTrial, Names};
use crate::wire::trial::{Coupon, Sheet, Specimen, Trial};

/// The names of the columns.
pub fn trial_columns(scales: &Scales) -> Vec<String> {
    let plain = |names: &[&str]| names.iter().map(|name| (*name).to_owned()).collect::<Vec<_>>();
    [
        plain(&[
            "trial_id",
            "unit",
            "unit_id",
            "crew",
            "crew_id",
            "performed_at",
            "clock_offset_s",
            "recorded_at",
            "supersedes",
            "purpose",
            "operator",
            "read_by",
            "upper_membrane_id",
            "upper_lot_id",
            "upper_condition",
            "lower_membrane_id",
            "lower_lot_id",
            "lower_condition",
        ]),
        vec![
            column("trial_speed_set", scales.speed),
            column("speed_timed", scales.speed),
            column("set_point_before", scales.temperature),
            column("airflow", PercentUnit::Percent),
            column("nozzle_width", scales.length),
            column("nozzle_gap", scales.length),
            column("since_set", MinutesUnit::Minute),
            column("sheet_temperature", scales.temperature),
            column("air_temperature", scales.temperature),
            column("humidity", PercentUnit::Percent),
            column("wind_speed", scales.wind),
        ],
        plain(&["supply_source"]),
        vec![column("voltage_idle", VoltageUnit::Volt), column("voltage_loaded", VoltageUnit::Volt)],
        plain(&["substrate", "coupon"]),
        vec![
            column("set_temperature", scales.temperature),
            column("speed_set", scales.speed),
            column("measured_temperature", scales.temperature),
        ],
        plain(&["strip"]),
        vec![column("width", scales.length)],
        plain(&["mode", "passed"]),
        vec![column("bonded_width", scales.length)],
        plain(&["scorching", "contamination", "cut", "faults"]),
        vec![column("peak_force", scales.force), column("plateau_force", scales.force)],
        plain(&["remarks", "result_disposition", "result_outcome", "result_grade"]),
        vec![
            column("result_band_low", scales.temperature),
            column("result_band_high", scales.temperature),
            column("result_set_point", scales.temperature),
        ],
    ]
    .concat()
}

/// The rows of a trial. A coupon without strips has one row.
pub fn trial_rows(trial: &ExportedTrial, names: &Names, scales: &Scales) -> Vec<Vec<Cell>> {
    let (head, tail) = (head(trial, names, scales), results(trial, scales));
    let mut rows = Vec::new();
    for (number, coupon) in (1..).zip(&trial.record.coupons) {
        let of_coupon = coupon_cells(number, coupon, scales);
        let strips = if coupon.specimens.is_empty() {
            vec![None]
        } else {
            coupon.specimens.iter().map(Some).collect()
        };
        for (number, strip) in (1..).zip(strips) {
            let of_strip = strip_cells(number, strip, scales);
            rows.push([head.as_slice(), &of_coupon, &of_strip, &tail].concat());
        }
    }
    rows
}

fn head(trial: &ExportedTrial, names: &Names, scales: &Scales) -> Vec<Cell> {
    let (record, row): (&Trial, _) = (&trial.record, &trial.row);
    let time = |at: chrono::DateTime<chrono::Utc>| at.to_rfc3339_opts(SecondsFormat::AutoSi, true);
    let nozzle = record.nozzle.as_ref();
    let supply = record.supply.as_ref();
    let text = |text: &Option<crate::wire::Text>| Cell::text(text.as_ref().map(|text| text.0.as_str()));
    let temperature = |sent| measured::<Temperature>(sent, scales.temperature);
    [
        vec![
            Cell::code(Some(record.id)),
            Cell::text(names.unit(record.unit_id)),
            Cell::code(Some(record.unit_id)),
            Cell::text(row.crew_id.and_then(|crew| names.crew(crew))),
            Cell::code(row.crew_id),
            Cell::code(Some(time(record.performed_at))),
            record.clock_offset_s.map_or(Cell::Empty, Cell::Number),
            Cell::code(record.recorded_at.map(time)),
            Cell::code(record.supersedes),
            Cell::code(Some(&record.purpose)),
            text(&record.operator),
            text(&record.read_by),
        ],
        sheet_cells(&record.upper_sheet),
        sheet_cells(&record.lower_sheet),
        vec![
            measured::<Speed>(Some(&record.speed_set), scales.speed),
            measured::<Speed>(record.speed_timed.as_ref(), scales.speed),
            temperature(record.set_point_before.as_ref()),
            measured::<Percent>(record.airflow.as_ref(), PercentUnit::Percent),
            measured::<Length>(nozzle.and_then(|nozzle| nozzle.width.as_ref()), scales.length),
            measured::<Length>(nozzle.and_then(|nozzle| nozzle.gap.as_ref()), scales.length),
            measured::<Minutes>(record.since_set.as_ref(), MinutesUnit::Minute),
            temperature(record.sheet_temperature.as_ref()),
            temperature(record.air_temperature.as_ref()),
            measured::<Percent>(record.humidity.as_ref(), PercentUnit::Percent),
            measured::<WindSpeed>(record.wind_speed.as_ref(), scales.wind),
            Cell::code(supply.and_then(|supply| supply.source.as_ref())),
            measured::<Voltage>(supply.and_then(|supply| supply.voltage_idle.as_ref()), VoltageUnit::Volt),
            measured::<Voltage>(supply.and_then(|supply| supply.voltage_loaded.as_ref()), VoltageUnit::Volt),
            text(&record.substrate),
        ],
    ]
    .concat()
}

fn sheet_cells(sheet: &Sheet) -> Vec<Cell> {
    vec![Cell::code(Some(sheet.membrane_id)), Cell::code(sheet.lot_id), Cell::code(Some(&sheet.condition))]
}

fn coupon_cells(place: u32, coupon: &Coupon, scales: &Scales) -> Vec<Cell> {
    vec![
        Cell::code(Some(place)),
        measured::<Temperature>(Some(&coupon.set_temperature), scales.temperature),
        measured::<Speed>(coupon.speed_set.as_ref(), scales.speed),
        measured::<Temperature>(coupon.measured_temperature.as_ref(), scales.temperature),
    ]
}

/// The cells of a strip; empty ones for a coupon that has none.
fn strip_cells(place: u32, strip: Option<&Specimen>, scales: &Scales) -> Vec<Cell> {
    let Some(strip) = strip else { return vec![Cell::Empty; 12] };
    let listed = |codes: &[String]| Cell::code((!codes.is_empty()).then(|| codes.join(" ")));
    vec![
        Cell::code(Some(place)),
        measured::<Length>(strip.width.as_ref(), scales.length),
        Cell::code(strip.mode.as_ref()),
        strip.passed.map_or(Cell::Empty, Cell::Truth),
        measured::<Length>(strip.bonded_width.as_ref(), scales.length),
        listed(&strip.scorching),
        listed(&strip.contamination),
        Cell::code(strip.cut.as_ref()),
        listed(&strip.faults),
        measured::<Force>(strip.peak_force.as_ref(), scales.force),
        measured::<Force>(strip.plateau_force.as_ref(), scales.force),
        Cell::text(strip.remarks.as_ref().map(|text| text.0.as_str())),
    ]
}

fn results(trial: &ExportedTrial, scales: &Scales) -> Vec<Cell> {
    let row = &trial.row;
    let temperature =
        |value: Option<Temperature>| value.map_or(Cell::Empty, |value| number(value, scales.temperature));
    vec![
        Cell::code(Some(row.disposition.code())),
        Cell::code(Some(row.outcome.code())),
        Cell::code(Some(row.grade.code())),
        temperature(row.band.map(|(low, _)| low)),
        temperature(row.band.map(|(_, high)| high)),
        temperature(row.set_point),
    ]
}
