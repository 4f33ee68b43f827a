//! Sheets and what is read from them.

use super::*;

const UNIT: Uuid = Uuid::from_u128(7);
const HEAD: &str =
    "unit,performed_at,purpose,membrane,condition,trial_speed_set (m/min),coupon,set_temperature (Cel),mode";

fn directory() -> Directory {
    let one = |name: &str, id| [(name.to_owned(), vec![id])].into_iter().collect();
    Directory {
        units: one("SM-07", UNIT),
        membranes: one("Saltguard 15", Uuid::from_u128(8)),
        crews: [("Heron".to_owned(), vec![Uuid::from_u128(1), Uuid::from_u128(2)])].into_iter().collect(),
        ..Directory::default()
    }
}

fn settings(json: &str, sheet: &str) -> TrialSheet {
    let mut form: serde_json::Value = serde_json::from_str(json).unwrap();
    form["sheet"] = sheet.into();
    serde_json::from_value(form).unwrap()
}

fn read_with(json: &str, sheet: &str) -> ReadSheet {
    settings(json, sheet).read().unwrap().trials(Uuid::from_u128(9), &directory())
}

fn read(sheet: &str) -> ReadSheet {
    read_with("{}", sheet)
}

/// Lines, columns and codes of the problems.
fn problems(read: &ReadSheet) -> Vec<(u64, String, &'static str)> {
    let told = |problem: &SheetProblem| {
        (problem.line.unwrap_or(0), problem.column.clone().unwrap_or_default(), problem.code)
    };
    read.problems.iter().map(told).collect()
}

fn row(coupon: &str, set: &str, mode: &str) -> String {
    format!("SM-07,2026-06-10T07:30:00-03:00,sweep,Saltguard 15,new,3.05,{coupon},{set},{mode}\r\n")
}

#[test]
fn rows_make_coupons_and_trials() {
    let sheet = format!(
        "\u{feff}{HEAD}\r\n{}{}\r\n{}{}",
        row("a", "420", "film_tear"),
        row("a", "420", "interface_opened"),
        row("b", "440.5", "film_tear"),
        row("a", "420", "film_tear").replace("07:30", "09:30"),
    );
    let found = read(&sheet);
    assert_eq!(problems(&found), []);
    assert_eq!(found.trials.len(), 2);
    let trial = &found.trials[0];
    assert_eq!((trial.counts, trial.lines.as_slice(), trial.sound), ((2, 3), &[2, 3, 5][..], true));
    assert_eq!(trial.record["performed_at"], "2026-06-10T10:30:00Z");
    assert_eq!(trial.record["lower_sheet"], trial.record["upper_sheet"]);
    assert_eq!(trial.record["speed_set"], serde_json::json!({ "value": 3.05, "unit": "m/min" }));
    assert_eq!(trial.record["coupons"][1]["set_temperature"]["value"], 440.5);
    assert_eq!(trial.record["coupons"][0]["specimens"][1]["mode"], "interface_opened");
    assert_ne!(trial.id, found.trials[1].id);
    // The same trial, corrected: the same id, so that the second is a conflict and not another trial.
    let corrected = read(&sheet.replacen("interface_opened", "film_tear", 1));
    assert_eq!((corrected.trials[0].id, corrected.trials[0].record == trial.record), (trial.id, false));
}

#[test]
fn settings_say_what_the_sheet_means() {
    let settings = r#"{
        "delimiter": ";", "decimal_comma": true, "time_zone": "America/Halifax", "time_format": "%d.%m.%Y %H:%M",
        "columns": { "Maschine": "unit", "Zeit": "performed_at", "Nr": "coupon", "Grad F": "set_temperature ([degF])", "Bild": "mode" },
        "constants": { "purpose": "sweep", "membrane": "Saltguard 15", "condition": "new", "trial_speed_set (m/min)": "3,05" },
        "words": { "mode": { "gerissen": "film_tear" } }, "ignore": ["Wetter"]
    }"#;
    let found = read_with(
        settings,
        "Maschine;Zeit;Nr;Grad F;Bild;Wetter\nSM-07;10.06.2026 07:30;1;788,5;gerissen;Regen\n",
    );
    assert_eq!(problems(&found), []);
    let record = &found.trials[0].record;
    assert_eq!(record["performed_at"], "2026-06-10T10:30:00Z");
    assert_eq!(
        record["coupons"][0]["set_temperature"],
        serde_json::json!({ "value": 788.5, "unit": "[degF]" })
    );
    assert_eq!(record["coupons"][0]["specimens"][0]["mode"], "film_tear");
    for (json, pointer) in [
        (r#"{"delimiter": "|"}"#, "/delimiter"),
        (r#"{"decimal_comma": true}"#, "/decimal_comma"),
        (r#"{"time_zone": "Atlantis"}"#, "/time_zone"),
        (r#"{"on_problem": "guess"}"#, "/on_problem"),
    ] {
        let findings = super::tests::settings(json, "").read().unwrap_err();
        assert_eq!(findings[0].pointer, pointer);
    }
}

#[test]
fn doubts_are_told_where_they_stand() {
    let sheet = |row: &str| format!("{HEAD}\n{row}\n");
    let good = row("a", "420", "film_tear");
    let at = |column: &str, code| vec![(2, column.to_owned(), code)];
    for (from, to, expected) in [
        ("420", "42O", at("set_temperature (Cel)", "not_a_number")),
        ("420", "1,420", vec![(2, String::new(), "wrong_count")]),
        ("420", "4200", at("set_temperature (Cel)", "out_of_range")),
        ("SM-07", "SM-08", at("unit", "unknown_name")),
        ("film_tear", "tore", at("mode", "unknown_code")),
        ("sweep", "sweeps", at("purpose", "unknown_code")),
        (",a,", ",,", at("coupon", "required")),
        ("new", "", at("condition", "required")),
        ("2026-06-10T07:30:00-03:00", "10/06/26", at("performed_at", "not_a_time")),
        ("2026-06-10T07:30:00-03:00", "2026-06-10 07:30", at("performed_at", "time_zone_missing")),
    ] {
        let found = read(&sheet(good.replacen(from, to, 1).trim_end()));
        assert_eq!(problems(&found), expected, "{from} {to}");
        assert!(found.trials.iter().all(|trial| !trial.sound));
    }
    // When clocks are put back a time comes twice, when they are put forward it is left out.
    for (time, code) in [("2026-11-01 01:30", "ambiguous_time"), ("2026-03-08 02:30", "no_such_time")] {
        let row = good.replace("2026-06-10T07:30:00-03:00", time);
        let found = read_with(r#"{"time_zone": "America/Halifax"}"#, &sheet(row.trim_end()));
        assert_eq!(problems(&found), at("performed_at", code));
    }
    let crew = format!("crew,{HEAD}\nHeron,{good}");
    assert_eq!(problems(&read(&crew)), at("crew", "ambiguous_name"));
    // What was not understood stands in the record as it stands in the sheet.
    let odd = read(&sheet(good.replace("420", "42O").trim_end()));
    assert_eq!(odd.trials[0].record["coupons"][0]["set_temperature"], "42O");
}

#[test]
fn lines_of_one_trial_agree() {
    let other = row("a", "425", "film_tear").replace("3.05", "3.10");
    let found = read(&format!("{HEAD}\n{}{other}", row("a", "420", "film_tear")));
    let expected = [(3, "trial_speed_set (m/min)"), (3, "set_temperature (Cel)")];
    assert_eq!(problems(&found), expected.map(|(line, column)| (line, column.to_owned(), "differs")));
}

#[test]
fn the_line_of_names_is_understood_whole_or_not_at_all() {
    let of = |names: &str| problems(&read(&format!("{names}\n{}", row("a", "420", "film_tear"))));
    let told = |column: &str, code| vec![(1, column.to_owned(), code)];
    assert_eq!(of(&HEAD.replace("mode", "Mode")), told("Mode", "unknown_column"));
    assert_eq!(
        of(&HEAD.replace("set_temperature (Cel)", "set_temperature")),
        told("set_temperature", "unit_missing")
    );
    assert_eq!(of(&HEAD.replace("mode", "mode (Cel)")), told("mode (Cel)", "unit_not_needed"));
    assert_eq!(of(&HEAD.replace("mode", "purpose")), told("purpose", "column_twice"));
    assert_eq!(of(&HEAD.replace("coupon", "result_x")), told("", "column_missing"));
    assert_eq!(problems(&read("")), told("", "column_missing"));
}

#[test]
fn the_template_is_read() {
    let found = read_with(r#"{"words": {"crew": {"Heron crew": "None"}}}"#, &template());
    let told = problems(&found);
    // The example's crew and lot are nobody's here.
    assert!(
        told.iter()
            .all(|(_, column, code)| *code == "unknown_name" && ["crew", "lot"].contains(&column.as_str())),
        "{told:?}"
    );
    assert_eq!((found.trials.len(), found.trials[0].counts), (1, (1, 2)));
}

#[test]
fn guarded_texts_and_many_rows() {
    let sheet = format!("operator,{HEAD}\n'=1+1,{}", row("a", "420", "film_tear"));
    assert_eq!(read(&sheet).trials[0].record["operator"], "=1+1");
    let mut sheet = format!("{HEAD}\n");
    for number in 0..300 {
        sheet += &row(&format!("{}", number % 3), "42O", "film_tear")
            .replace("07:30", &format!("07:{:02}", number % 60));
    }
    let found = read(&sheet);
    assert_eq!((found.problems.len(), found.problem_count, found.trials.len()), (MOST_PROBLEMS, 300, 60));
}
