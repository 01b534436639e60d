//! Comparisons that say what was compared, and reading of JSON that says what was missing.

use serde_json::Value;

/// Asserts `got` within `tolerance` of `want`, in their own unit.
///
/// # Panics
/// When it is not, or is no number.
#[track_caller]
pub fn assert_near(what: &str, got: f64, want: f64, tolerance: f64) {
    let off = got - want;
    assert!(
        off.abs() <= tolerance,
        "{what}: {got}, want {want} +-{tolerance} (off by {off:.3e})"
    );
}

/// Asserts `got` within the share `relative` of `want`.
///
/// # Panics
/// When it is not, or is no number.
#[track_caller]
pub fn assert_ratio(what: &str, got: f64, want: f64, relative: f64) {
    assert_near(what, got, want, relative * want.abs());
}

/// The value at `path` of `value`: keys parted by dots, numbers for places in lists.
///
/// # Panics
/// When there is none.
#[track_caller]
#[must_use]
pub fn at<'a>(value: &'a Value, path: &str) -> &'a Value {
    path.split('.').fold(value, |here, step| {
        let next = match here {
            Value::Array(list) => step.parse().ok().and_then(|index: usize| list.get(index)),
            _ => here.get(step),
        };
        next.unwrap_or_else(|| panic!("no `{step}` (of `{path}`) in {here}"))
    })
}

/// The number at `path`.
///
/// # Panics
/// When there is none.
#[track_caller]
#[must_use]
pub fn number(value: &Value, path: &str) -> f64 {
    let found = at(value, path);
    found
        .as_f64()
        .unwrap_or_else(|| panic!("`{path}` is no number: {found}"))
}

/// The text at `path`.
///
/// # Panics
/// When there is none.
#[track_caller]
#[must_use]
pub fn text<'a>(value: &'a Value, path: &str) -> &'a str {
    let found = at(value, path);
    found
        .as_str()
        .unwrap_or_else(|| panic!("`{path}` is no text: {found}"))
}

/// The list at `path`.
///
/// # Panics
/// When there is none.
#[track_caller]
#[must_use]
pub fn list<'a>(value: &'a Value, path: &str) -> &'a [Value] {
    let found = at(value, path);
    found
        .as_array()
        .unwrap_or_else(|| panic!("`{path}` is no list: {found}"))
}

/// Asserts that `value` is an object that holds every key of `names` (parted by spaces).
///
/// # Panics
/// When one is not there.
#[track_caller]
pub fn keys(value: &Value, names: &str) {
    for name in names.split_whitespace() {
        assert!(value.get(name).is_some(), "no key `{name}` in {value}");
    }
}
