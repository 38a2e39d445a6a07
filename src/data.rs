//! Reads small data files in TOML, such as tunings and players, with errors that a musician can act on.

use std::fmt;

use serde::de::DeserializeOwned;
use toml::de::{DeTable, DeValue};

/// Reads a file into its type.
///
/// # Errors
///
/// Returns a [`DataError`] that says what is wrong and what to write instead, with the line if it is known.
pub fn read<T: DeserializeOwned>(text: &str) -> Result<T, DataError> {
    if text.trim().is_empty() {
        return Err(DataError { line: None, what: "the file is empty; choose another one".to_owned() });
    }
    toml::from_str(text).map_err(|error| DataError {
        // A field that is missing from the whole file has no line.
        line: error
            .span()
            .filter(|span| span.start > 0 || !error.message().starts_with("missing"))
            .map(|span| line_of(text, span.start)),
        what: worded(&error.message().replace('\n', ", ")),
    })
}

/// Rewords the parser's message for people who have never seen a data type.
fn worded(message: &str) -> String {
    let (begins, found) = message.split_once([':', '`']).unwrap_or((message, ""));
    let (found, expected) = found.split_once(", expected ").unwrap_or((found, ""));
    let found = found.trim().trim_end_matches('`');
    match begins {
        "missing field " => format!("`{found}` is missing; add a line that begins with {found} ="),
        "unknown field " | "unknown variant " => {
            format!(
                "`{found}` has no meaning here; write {}",
                expected.replacen("one of", "one of these:", 1)
            )
        }
        "invalid type" | "invalid value" => {
            format!("found {}; write {}", found_value(found), wanted_value(expected))
        }
        "duplicate key" => "this name occurs twice; delete one of the two".to_owned(),
        _ if message.contains("recurs") => "brackets are nested too deeply; remove some".to_owned(),
        _ => format!("cannot read this ({message}); write name = \"text\", name = 5 or name = [1, 2]"),
    }
}

/// Returns a value in plain words, given serde's description of the value.
fn found_value(found: &str) -> String {
    let names = [
        ("integer", "the number"),
        ("floating point", "the number"),
        ("string", "the text"),
        ("boolean", "the word"),
        ("map", "a table"),
        ("sequence", "a list"),
    ];
    let name = names.into_iter().find(|(name, _)| found.starts_with(name));
    name.map_or_else(|| found.to_owned(), |(name, plain)| found.replacen(name, plain, 1)).replace('`', "")
}

/// Returns a type in plain words, given serde's description of the type.
fn wanted_value(expected: &str) -> &str {
    match expected {
        "i8" => "a whole number from -128 to 127",
        "u8" => "a whole number from 0 to 255",
        "i16" | "i32" | "i64" => "a whole number",
        "u16" | "u32" | "u64" | "usize" => "a whole number from 0 up",
        "a nonzero u32" => "a whole number from 1 up",
        "a string" => "a text in quotes",
        "a sequence" => "a list in brackets, such as [1, 2]",
        _ if expected.starts_with("struct") || expected == "a map" => {
            "a table, with its name in brackets in a line above"
        }
        _ => expected,
    }
}

/// Checks that no whole number in a file exceeds the limit.
///
/// # Errors
///
/// The error gives the line, the field after the names of its tables, the number found, and the highest number allowed.
pub(crate) fn check_heights(text: &str, highest: i64) -> Result<(), DataError> {
    // `read` reports text that is not valid TOML.
    let Ok(table) = DeTable::parse(text) else { return Ok(()) };
    match too_high(&DeValue::Table(table.into_inner()), "", 0, highest) {
        Some((field, at, value)) => Err(DataError {
            line: Some(line_of(text, at)),
            what: format!("{field} is {value}; write a number up to {highest}"),
        }),
        None => Ok(()),
    }
}

/// Finds the first whole number in a value that exceeds the limit: its field, its place in the text, and the number.
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

/// Returns the line of a place in a text, counted from 1.
pub(crate) fn line_of(text: &str, at: usize) -> usize {
    text.bytes().take(at).filter(|&byte| byte == b'\n').count() + 1
}

/// The reason why a data file was not understood.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct DataError {
    /// The line, counted from 1, if it is known.
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

#[cfg(test)]
mod tests {
    use super::*;
    use serde::Deserialize;

    #[derive(Deserialize, Debug)]
    #[serde(deny_unknown_fields)]
    #[allow(dead_code, reason = "the tests read only its errors")]
    struct Reeds {
        name: String,
        blow: Vec<i8>,
    }

    #[test]
    fn an_error_says_what_to_write() {
        for (text, expected) in [
            (" \n", "the file is empty"),
            ("name = 'x'", "`blow` is missing; add a line that begins with blow ="),
            ("\nreeds = 1", "line 2: `reeds` has no meaning here; write `name` or `blow`"),
            ("\"a: b\" = 1", "line 1: `a: b` has no meaning here"),
            ("name = 5", "line 1: found the number 5; write a text in quotes"),
            (
                "name = 'x'\nblow = 'y'",
                "line 2: found the text \"y\"; write a list in brackets, such as [1, 2]",
            ),
            (
                "name = 'x'\nblow = [1000]",
                "line 2: found the number 1000; write a whole number from -128 to 127",
            ),
            ("name = 'x'\nname = 'y'", "line 2: this name occurs twice"),
            ("name", "line 1: cannot read this"),
            (&format!("name = {}", "[".repeat(300)), "line 1: brackets are nested too deeply"),
        ] {
            let error = read::<Reeds>(text).unwrap_err().to_string();
            assert!(error.starts_with(expected), "{error}");
            for inside in ["i8", "serde", "sequence", "recurs", "missing field"] {
                assert!(!error.contains(inside), "{error}");
            }
        }
    }
}
