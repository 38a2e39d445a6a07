//! Makes players from the default one by changing its numbers.

use breathline::search::Weights;

/// Returns the numbers of the default player, as in its file.
pub(crate) fn improver() -> toml::Value {
    let file: toml::Table = include_str!("../../src/search/players/improver.toml").parse().unwrap();
    file["weights"].clone()
}

/// Visits every number, with the name of its field, such as `bends.half_step` or `register.blow.0`.
pub(crate) fn each_number(value: &mut toml::Value, name: &str, visit: &mut impl FnMut(&str, &mut i64)) {
    let child = |key: &str| if name.is_empty() { key.to_owned() } else { format!("{name}.{key}") };
    match value {
        toml::Value::Integer(number) => visit(name, number),
        toml::Value::Array(values) => {
            for (index, value) in values.iter_mut().enumerate() {
                each_number(value, &child(&index.to_string()), visit);
            }
        }
        toml::Value::Table(fields) => {
            for (key, value) in fields.iter_mut() {
                each_number(value, &child(key), visit);
            }
        }
        other => panic!("{name}: {other} is not a number"),
    }
}

/// Makes a player from numbers.
pub(crate) fn player(numbers: &toml::Value) -> Weights {
    Weights::parse(&toml::to_string(numbers).unwrap()).unwrap()
}
