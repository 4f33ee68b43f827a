//! A sheet to begin with.

use super::columns::{COLUMNS, Kind};

/// A sheet with the names of all columns, and one invented coupon of a trial.
pub fn template() -> String {
    let unit = |name: &str| match name {
        "airflow" | "humidity" => "%",
        "since_set" => "min",
        "wind_speed" => "m/s",
        "trial_speed_set" | "speed_timed" | "speed_set" => "m/min",
        "nozzle_width" | "nozzle_gap" | "width" | "bonded_width" => "mm",
        "voltage_idle" | "voltage_loaded" => "V",
        "peak_force" | "plateau_force" => "N",
        _ => "Cel",
    };
    let example = |name: &str, strip: usize| match name {
        "unit" => "SM-07",
        "crew" => "Heron crew",
        "performed_at" => "2026-06-10T07:30:00-03:00",
        "purpose" => "sweep",
        "operator" => "Kit Rushes",
        "membrane" => "Saltguard 15",
        "lot" => "SG15-2604",
        "condition" => "new",
        "trial_speed_set" => "3.05",
        "sheet_temperature" => "20",
        "coupon" => "1",
        "set_temperature" => "420",
        "width" => "25.4",
        "strip" if strip == 0 => "1",
        "strip" => "2",
        "mode" if strip == 0 => "interface_opened",
        "mode" => "film_tear",
        "bonded_width" if strip > 0 => "40",
        _ => "",
    };
    let name = |column: &super::columns::Column| match column.kind {
        Kind::Measurement => format!("{} ({})", column.name, unit(column.name)),
        _ => column.name.to_owned(),
    };
    let mut lines = vec![COLUMNS.iter().map(name).collect::<Vec<_>>().join(",")];
    for strip in 0..2 {
        lines.push(COLUMNS.iter().map(|column| example(column.name, strip)).collect::<Vec<_>>().join(","));
    }
    lines.into_iter().map(|line| line + "\r\n").collect()
}
