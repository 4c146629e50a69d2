//! dump
use crate::model::Circuit;
/// dump
pub fn dump(circuit: &Circuit) -> String {
    let _ = circuit;
    String::new()
}
