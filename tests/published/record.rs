//! The records as they stand in the files.

use serde::Deserialize;
use serde_json::Value;
use std::collections::BTreeMap;
use std::path::Path;

#[derive(Clone, Debug, Deserialize)]
pub struct Record {
    pub id: String,
    pub kind: String,
    pub components: Vec<Component>,
    #[serde(default)]
    pub steps: Vec<Step>,
    pub answer: Key,
}

#[derive(Clone, Debug, Deserialize)]
pub struct Component {
    pub name: String,
    pub kind: String,
    pub from: String,
    pub to: String,
    pub value: Option<f64>,
    pub limit_a: Option<f64>,
    pub limit_v: Option<f64>,
    pub on_v: Option<f64>,
    pub pull_in_v: Option<f64>,
    pub rating_a: Option<f64>,
    pub relay: Option<String>,
    pub contact: Option<String>,
}

#[derive(Clone, Debug, Default, Deserialize)]
pub struct Step {
    #[serde(default)]
    pub switches: BTreeMap<String, bool>,
    #[serde(default)]
    pub readings: Vec<Reading>,
    #[serde(default)]
    pub loads: BTreeMap<String, Value>,
    #[serde(default)]
    pub cut: Vec<String>,
    #[serde(default)]
    pub set_value: BTreeMap<String, f64>,
}

#[derive(Clone, Debug, Default, Deserialize)]
pub struct Reading {
    pub plus: Option<String>,
    pub minus: Option<String>,
    pub volts: Option<f64>,
    #[serde(default)]
    pub signed: bool,
    #[serde(default)]
    pub nonzero: bool,
    pub tol: Option<f64>,
    pub sign: Option<String>,
    pub threshold: Option<f64>,
    pub trend: Option<String>,
    pub branch: Option<String>,
    pub amps: Option<f64>,
}

#[derive(Clone, Debug, Default, Deserialize)]
pub struct Key {
    #[serde(default)]
    pub possible: Vec<Named>,
    #[serde(default)]
    pub impossible: Vec<Named>,
    #[serde(default)]
    pub accepted: Vec<Named>,
    #[serde(default)]
    pub must_be_good: Vec<Named>,
    #[serde(default)]
    pub exhaustive: bool,
    #[serde(default)]
    pub expected: Vec<Expected>,
}

/// A fault, or several together (`all`).
#[derive(Clone, Debug, Default, Deserialize)]
pub struct Named {
    pub component: Option<String>,
    pub mode: Option<Value>,
    pub all: Option<Vec<Named>>,
}

#[derive(Clone, Debug, Deserialize)]
pub struct Expected {
    pub fault: Option<Named>,
    pub steps: Vec<Step>,
}

impl Named {
    /// The single faults as (component, mode).
    pub fn parts(&self) -> Vec<(String, String)> {
        if let Some(all) = &self.all {
            all.iter().flat_map(Self::parts).collect()
        } else {
            let mode = match self.mode.as_ref().expect("a fault has a mode") {
                Value::String(word) => word.clone(),
                other => other.to_string(),
            };
            vec![(self.component.clone().expect("a fault has a component"), mode)]
        }
    }

    /// For messages.
    pub fn text(&self) -> String {
        let parts: Vec<String> = self.parts().iter().map(|(c, m)| format!("{c} {m}")).collect();
        parts.join(" and ")
    }
}

/// Reads the fault records of a file; numeric records (with `answers`) are for the network's tests.
pub fn read(file: &Path) -> Vec<Record> {
    let text = std::fs::read_to_string(file).expect("a readable file");
    // `Y` and `N` are node names, not booleans.
    let options = serde_yaml::options! { strict_booleans: true };
    let values: Vec<Value> = serde_yaml::from_str_with_options(&text, options).expect("a list of records");
    values
        .into_iter()
        .filter(|v| v.get("answer").is_some())
        .map(|v| serde_json::from_value(v).unwrap_or_else(|e| panic!("{}: {e}", file.display())))
        .collect()
}
