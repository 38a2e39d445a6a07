//! Small data files in TOML (tunings, players): read with errors that a musician can act on.

use std::fmt;

use serde::de::DeserializeOwned;

/// Reads a file into its type.
///
/// # Errors
///
/// The line, where it is known, and what was found and expected.
pub(crate) fn read<T: DeserializeOwned>(text: &str) -> Result<T, DataError> {
    toml::from_str(text).map_err(|error| DataError {
        line: error
            .span()
            .map(|span| text.bytes().take(span.start).filter(|&byte| byte == b'\n').count() + 1),
        what: error.message().replace('\n', ", "),
    })
}

/// Why a data file was not understood.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct DataError {
    /// The line, from 1, where it is known.
    pub line: Option<usize>,
    /// What was found and what should stand there.
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
