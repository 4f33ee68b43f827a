//! The columns of a spreadsheet of trials, and where in the record each stands.

/// What stands in a column, and so how it is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// A text.
    Text,
    /// A code of the record's form.
    Code,
    /// Codes of the record's form, with blanks between them.
    Codes,
    /// A number with the unit that stands over it.
    Measurement,
    /// A number without a unit.
    Number,
    /// `true` or `false`.
    Truth,
    /// A moment.
    Time,
    /// An id.
    Id,
    /// The name of a unit.
    Unit,
    /// The name of a crew.
    Crew,
    /// The name of a membrane.
    Membrane,
    /// The code of a lot.
    Lot,
    /// Tells trials, coupons or strips apart and stands in no record.
    Mark,
}

/// What a column says something about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Level {
    /// The trial: the same in all its lines.
    Trial,
    /// The coupon: the same in all its lines.
    Coupon,
    /// The strip of the line.
    Strip,
}

/// A column.
#[derive(Debug)]
pub(super) struct Column {
    pub(super) name: &'static str,
    pub(super) level: Level,
    pub(super) kind: Kind,
    /// Members of the record that it fills, each by its path.
    pub(super) paths: &'static [&'static [&'static str]],
}

/// A column of the trial, a coupon or a strip.
macro_rules! column {
    ($level:ident $name:literal $kind:ident) => { column!($level $name $kind [[$name]]) };
    ($level:ident $name:literal $kind:ident [$([$($path:literal),*]),*]) => {
        Column { name: $name, level: Level::$level, kind: Kind::$kind, paths: &[$(&[$($path),*]),*] }
    };
}

/// All columns, in the order of the template.
pub(super) const COLUMNS: [Column; 59] = [
    column!(Trial "trial" Mark []),
    column!(Trial "trial_id" Id [["id"]]),
    column!(Trial "unit" Unit [["unit_id"]]),
    column!(Trial "unit_id" Id),
    column!(Trial "crew" Crew [["crew_id"]]),
    column!(Trial "crew_id" Id),
    column!(Trial "performed_at" Time),
    column!(Trial "clock_offset_s" Number),
    column!(Trial "recorded_at" Time),
    column!(Trial "supersedes" Id),
    column!(Trial "purpose" Code),
    column!(Trial "operator" Text),
    column!(Trial "read_by" Text),
    column!(Trial "membrane" Membrane [["upper_sheet", "membrane_id"], ["lower_sheet", "membrane_id"]]),
    column!(Trial "membrane_id" Id [["upper_sheet", "membrane_id"], ["lower_sheet", "membrane_id"]]),
    column!(Trial "lot" Lot [["upper_sheet", "lot_id"], ["lower_sheet", "lot_id"]]),
    column!(Trial "lot_id" Id [["upper_sheet", "lot_id"], ["lower_sheet", "lot_id"]]),
    column!(Trial "condition" Code [["upper_sheet", "condition"], ["lower_sheet", "condition"]]),
    column!(Trial "upper_membrane" Membrane [["upper_sheet", "membrane_id"]]),
    column!(Trial "upper_membrane_id" Id [["upper_sheet", "membrane_id"]]),
    column!(Trial "upper_lot" Lot [["upper_sheet", "lot_id"]]),
    column!(Trial "upper_lot_id" Id [["upper_sheet", "lot_id"]]),
    column!(Trial "upper_condition" Code [["upper_sheet", "condition"]]),
    column!(Trial "lower_membrane" Membrane [["lower_sheet", "membrane_id"]]),
    column!(Trial "lower_membrane_id" Id [["lower_sheet", "membrane_id"]]),
    column!(Trial "lower_lot" Lot [["lower_sheet", "lot_id"]]),
    column!(Trial "lower_lot_id" Id [["lower_sheet", "lot_id"]]),
    column!(Trial "lower_condition" Code [["lower_sheet", "condition"]]),
    column!(Trial "trial_speed_set" Measurement [["speed_set"]]),
    column!(Trial "speed_timed" Measurement),
    column!(Trial "set_point_before" Measurement),
    column!(Trial "airflow" Measurement),
    column!(Trial "nozzle_width" Measurement [["nozzle", "width"]]),
    column!(Trial "nozzle_gap" Measurement [["nozzle", "gap"]]),
    column!(Trial "since_set" Measurement),
    column!(Trial "sheet_temperature" Measurement),
    column!(Trial "air_temperature" Measurement),
    column!(Trial "humidity" Measurement),
    column!(Trial "wind_speed" Measurement),
    column!(Trial "supply_source" Code [["supply", "source"]]),
    column!(Trial "voltage_idle" Measurement [["supply", "voltage_idle"]]),
    column!(Trial "voltage_loaded" Measurement [["supply", "voltage_loaded"]]),
    column!(Trial "substrate" Text),
    column!(Coupon "coupon" Mark []),
    column!(Coupon "set_temperature" Measurement),
    column!(Coupon "speed_set" Measurement),
    column!(Coupon "measured_temperature" Measurement),
    column!(Strip "strip" Mark []),
    column!(Strip "width" Measurement),
    column!(Strip "mode" Code),
    column!(Strip "passed" Truth),
    column!(Strip "bonded_width" Measurement),
    column!(Strip "scorching" Codes),
    column!(Strip "contamination" Codes),
    column!(Strip "cut" Code),
    column!(Strip "faults" Codes),
    column!(Strip "peak_force" Measurement),
    column!(Strip "plateau_force" Measurement),
    column!(Strip "remarks" Text),
];

/// The column of this name.
pub(super) fn column(name: &str) -> Option<&'static Column> {
    COLUMNS.iter().find(|column| column.name == name)
}

/// Columns that were computed, which are read over.
pub(super) fn is_result(name: &str) -> bool {
    name.starts_with("result_")
}
