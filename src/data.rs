//! Small data files in TOML (tunings, players): read with errors that a musician can act on.

use std::fmt;

use serde::de::DeserializeOwned;
use toml::de::{DeTable, DeValue};

/// Reads a file into its type.
///
/// # Errors
///
/// The line, where it is known; what was found and what was expected.
pub(crate) fn read<T: DeserializeOwned>(text: &str) -> Result<T, DataError> {
    toml::from_str(text).map_err(|error| DataError {
        line: error.span().map(|span| line_of(text, span.start)),
        what: error.message().replace('\n', ", "),
    })
}

/// Checks that no number in a file is too high.
///
/// # Errors
///
/// The line, the field with its tables, and the highest number allowed.
pub(crate) fn check_heights(text: &str, highest: i64) -> Result<(), DataError> {
    // `read` reports text that is not TOML.
    let Ok(table) = DeTable::parse(text) else { return Ok(()) };
    match too_high(&DeValue::Table(table.into_inner()), "", 0, highest) {
        Some((field, at, value)) => Err(DataError {
            line: Some(line_of(text, at)),
            what: format!("{field} is {value}; write a number up to {highest}"),
        }),
        None => Ok(()),
    }
}

/// Finds the first number in a value that is too high: its field, its place in the text, and the number.
fn too_high(value: &DeValue, field: &str, at: usize, highest: i64) -> Option<(String, usize, String)> {
    let child = |key: &str| if field.is_empty() { key.to_owned() } else { format!("{field}.{key}") };
    match value {
        DeValue::Integer(number) => {
            let fits =
                i64::from_str_radix(number.as_str(), number.radix()).is_ok_and(|number| number <= highest);
            (!fits).then(|| (field.to_owned(), at, number.as_str().to_owned()))
        }
        DeValue::Array(values) => {
            values.iter().find_map(|value| too_high(value.get_ref(), field, value.span().start, highest))
        }
        DeValue::Table(fields) => fields
            .iter()
            .filter_map(|(key, value)| {
                too_high(value.get_ref(), &child(key.get_ref()), value.span().start, highest)
            })
            .min_by_key(|&(_, at, _)| at),
        _ => None,
    }
}

/// The line, from 1, of a place in a text.
fn line_of(text: &str, at: usize) -> usize {
    text.bytes().take(at).filter(|&byte| byte == b'\n').count() + 1
}

/// Why a data file was not understood.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct DataError {
    /// The line, from 1, where it is known.
    pub line: Option<usize>,
    /// What was found and what is expected instead.
    pub what: String,
}

impl fmt::Display for DataError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.line {
            Some(line) => write!(f, "line {line}: {}", self.what),
            None => f.write_str(&self.what),
        }
    }
}

impl std::error::Error for DataError {}
