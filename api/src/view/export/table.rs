//! How tables are written: comma-separated values (RFC 4180), or a JSON object a line.

use std::fmt::Display;

use lapwatch_domain::coded_enum;
use serde::Serialize;
use serde::ser::{SerializeMap, Serializer};

coded_enum! {
    /// The form of a table.
    pub enum Form {
        /// Comma-separated values with a line of names.
        Csv = "csv",
        /// A JSON object a line.
        Ndjson = "ndjson",
    }
}

impl Form {
    /// Its media type.
    pub fn media_type(self) -> &'static str {
        match self {
            Self::Csv => "text/csv; charset=utf-8; header=present",
            Self::Ndjson => "application/x-ndjson",
        }
    }
}

/// What stands in one place of a table.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// Nothing.
    Empty,
    /// What somebody wrote.
    Text(String),
    /// A code, an id, a time.
    Code(String),
    /// A number.
    Number(f64),
    /// Yes or no.
    Truth(bool),
}

impl Cell {
    /// A code, an id or a time, if there is one.
    pub fn code(value: Option<impl Display>) -> Self {
        value.map_or(Self::Empty, |value| Self::Code(value.to_string()))
    }

    /// A text, if there is one.
    pub fn text(value: Option<&str>) -> Self {
        value.map_or(Self::Empty, |value| Self::Text(value.to_owned()))
    }

    /// As a field. A text that a spreadsheet would take for a formula stands behind an apostrophe, which it hides.
    fn field(&self) -> String {
        match self {
            Self::Empty => String::new(),
            Self::Text(text) if text.starts_with(['=', '+', '-', '@', '\t', '\r', '\'']) => {
                format!("'{text}")
            }
            Self::Text(text) | Self::Code(text) => text.clone(),
            Self::Number(number) => number.to_string(),
            Self::Truth(truth) => truth.to_string(),
        }
    }
}

impl Serialize for Cell {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self {
            Self::Empty => serializer.serialize_none(),
            Self::Text(text) | Self::Code(text) => serializer.serialize_str(text),
            Self::Number(number) => serializer.serialize_f64(*number),
            Self::Truth(truth) => serializer.serialize_bool(*truth),
        }
    }
}

/// A table on its way out.
#[derive(Debug, Clone)]
pub struct Table {
    form: Form,
    columns: Vec<String>,
}

impl Table {
    /// A table with these columns.
    pub fn new(form: Form, columns: Vec<String>) -> Self {
        Self { form, columns }
    }

    /// What stands before the rows.
    pub fn head(&self) -> Vec<u8> {
        match self.form {
            Form::Csv => lines(std::iter::once(self.columns.clone())),
            Form::Ndjson => Vec::new(),
        }
    }

    /// Rows, a cell a column each.
    pub fn rows(&self, rows: &[Vec<Cell>]) -> Vec<u8> {
        match self.form {
            Form::Csv => lines(rows.iter().map(|row| row.iter().map(Cell::field).collect())),
            Form::Ndjson => {
                rows.iter().flat_map(|row| [self.object(row).into_bytes(), b"\n".to_vec()].concat()).collect()
            }
        }
    }

    fn object(&self, row: &[Cell]) -> String {
        struct Row<'a>(&'a [String], &'a [Cell]);

        impl Serialize for Row<'_> {
            fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                let mut map = serializer.serialize_map(Some(self.0.len()))?;
                for (name, cell) in self.0.iter().zip(self.1) {
                    map.serialize_entry(name, cell)?;
                }
                map.end()
            }
        }

        // Names are strings and numbers are finite: nothing here can fail.
        serde_json::to_string(&Row(&self.columns, row)).unwrap_or_default()
    }
}

fn lines(rows: impl Iterator<Item = Vec<String>>) -> Vec<u8> {
    let mut writer =
        csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).flexible(true).from_writer(Vec::new());
    for row in rows {
        // Memory takes whatever is written to it.
        writer.write_record(row).ok();
    }
    writer.into_inner().unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn table(form: Form) -> Table {
        Table::new(form, vec!["a".into(), "b (Cel)".into(), "c".into()])
    }

    #[test]
    fn fields_are_quoted_and_formulas_are_texts() {
        let rows = [
            vec![Cell::Text("one, \"two\"\nthree".into()), Cell::Number(-1.5), Cell::Empty],
            vec![Cell::Text("=HYPERLINK(1)".into()), Cell::Number(455.0), Cell::Truth(true)],
        ];
        let csv = table(Form::Csv);
        let text = String::from_utf8([csv.head(), csv.rows(&rows)].concat()).unwrap();
        let expected = "a,b (Cel),c\r\n\"one, \"\"two\"\"\nthree\",-1.5,\r\n'=HYPERLINK(1),455,true\r\n";
        assert_eq!(text, expected);
    }

    #[test]
    fn objects_have_every_member() {
        let ndjson = table(Form::Ndjson);
        let rows = [vec![Cell::Text("=x".into()), Cell::Number(455.0), Cell::Empty]];
        let text = String::from_utf8([ndjson.head(), ndjson.rows(&rows)].concat()).unwrap();
        assert_eq!(text, "{\"a\":\"=x\",\"b (Cel)\":455.0,\"c\":null}\n");
    }
}
