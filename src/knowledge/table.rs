//! Tables of published figures: each row keeps its source.

/// A lookup table: one number against another.
#[derive(Clone, Debug, PartialEq)]
pub struct LookupTable {
    /// What it holds, one sentence.
    pub about: String,
    /// What is looked up, with unit.
    pub of: String,
    /// What it gives, with unit.
    pub gives: String,
    /// Rows, ascending in `at`.
    pub rows: Vec<Row>,
}

/// A row of a lookup table.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// What is looked up.
    pub at: f64,
    /// What it gives.
    pub gives: f64,
    /// Lower limit, where the source gives limits.
    pub least: Option<f64>,
    /// Upper limit, where the source gives limits.
    pub most: Option<f64>,
    /// A mark: a colour, a gauge number.
    pub mark: Option<String>,
    /// `seen`, `memory`, `computed` or `practice`.
    pub status: String,
    /// Where it comes from.
    pub source: String,
}

impl LookupTable {
    /// The row for `at` itself, to a fifth of a per cent (a gauge is stated to four digits).
    pub fn row(&self, at: f64) -> Option<&Row> {
        self.rows.iter().find(|row| (row.at - at).abs() <= 0.002 * row.at.abs())
    }

    /// The value at `at`: straight between rows on two logarithmic scales, and on beyond the ends; `None` for an `at`
    /// that is not above zero, or a table of fewer than two rows.
    pub fn value(&self, at: f64) -> Option<f64> {
        if let Some(row) = self.row(at) {
            return Some(row.gives);
        }
        if at <= 0.0 || !at.is_finite() {
            return None;
        }
        let above = self.rows.iter().position(|row| row.at > at);
        let upper = above.unwrap_or(self.rows.len()).clamp(1, self.rows.len().max(2) - 1);
        let (a, b) = (self.rows.get(upper - 1)?, self.rows.get(upper)?);
        let share = (at / a.at).ln() / (b.at / a.at).ln();
        let value = a.gives * (b.gives / a.gives).powf(share);
        value.is_finite().then_some(value)
    }

    /// `(at, gives)` of all rows.
    pub fn points(&self) -> Vec<(f64, f64)> {
        self.rows.iter().map(|row| (row.at, row.gives)).collect()
    }
}

/// The meaning of a terminal number.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TerminalWord {
    /// In words.
    pub means: String,
    /// `seen`, `memory`, `computed` or `practice`.
    pub status: String,
    /// Where it comes from.
    pub source: String,
}

/// A single published figure, in words, for people to read: a limit, a rule, a property of meters.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fact {
    /// The figure with its unit and condition.
    pub value: String,
    /// `seen`, `memory`, `computed` or `practice`.
    pub status: String,
    /// Where it comes from.
    pub source: String,
}

/// When a caution is said.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Moment {
    /// Once, before a job.
    Job,
    /// With every test at the part.
    Test,
    /// The same, while the engine runs.
    Engine,
    /// With every test in whose set-up the part is to run, wherever that is measured.
    Runs,
    /// With every test by a filament test lamp.
    Lamp,
    /// With every test by ohms.
    Ohms,
    /// With every test for which a jumper has to be put in.
    Jumper,
    /// With the repair.
    Repair,
    /// Where a system is left with the part not working.
    Leaving,
    /// Once a repair is proven.
    MovingOff,
}

impl Moment {
    /// All of them with their words in `knowledge/cautions.yaml`.
    pub const ALL: [(Self, &'static str); 10] = [
        (Self::Job, "job"),
        (Self::Test, "test"),
        (Self::Engine, "engine"),
        (Self::Runs, "runs"),
        (Self::Lamp, "lamp"),
        (Self::Ohms, "ohms"),
        (Self::Jumper, "jumper"),
        (Self::Repair, "repair"),
        (Self::Leaving, "leaving"),
        (Self::MovingOff, "moving off"),
    ];
}

/// A caution.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Caution {
    /// When it is said.
    pub when: Vec<Moment>,
    /// The settings that it is for; empty: all.
    pub on: Vec<String>,
    /// Fuels with which it has no object.
    pub not_with: Vec<String>,
    /// Words in the name of a part or a place that call for it, whatever kind the part is.
    pub named: Vec<String>,
    /// Whether no test is offered at such a part.
    pub no_test_there: bool,
    /// Whether no jumper gives current to such a part.
    pub no_jumper_there: bool,
    /// As it is shown.
    pub says: String,
    /// `seen`, `memory` or `practice`.
    pub status: String,
    /// Where it comes from.
    pub source: String,
}

/// The setting of an install that names none.
const UNSTATED: &str = "unstated";

impl Caution {
    /// Whether it is said at this moment on an install of this setting and fuel; a fuel that is not stated may be any.
    pub fn is_for(&self, moment: Moment, setting: &str, fuel: &str) -> bool {
        let setting = if setting.is_empty() { UNSTATED.to_owned() } else { setting.to_lowercase() };
        let here = self.on.is_empty() || self.on.iter().any(|word| setting.contains(word.as_str()));
        let fuelled = self.not_with.iter().any(|word| fuel.eq_ignore_ascii_case(word));
        self.when.contains(&moment) && here && !fuelled
    }

    /// Whether the name of a part or a place calls for it: one of its words stands there whole, alone or with an `s`.
    pub fn is_called_by(&self, name: &str) -> bool {
        let name: String = name.chars().map(|c| if c.is_alphanumeric() { c } else { ' ' }).collect();
        let name = format!(" {} ", name.to_lowercase().split_whitespace().collect::<Vec<_>>().join(" "));
        self.named.iter().any(|word| name.contains(&format!(" {word} ")) || name.contains(&format!(" {word}s ")))
    }
}

/// What faults usually come of, from `knowledge/causes.yaml`.
#[derive(Clone, Debug, PartialEq)]
pub struct Cause {
    /// Its key.
    pub key: String,
    /// Roles of parts.
    pub of: Vec<super::Role>,
    /// Keys of modes.
    pub modes: Vec<String>,
    /// What to look at before the repair is called done.
    pub look: String,
    /// `seen`, `memory` or `practice`.
    pub status: String,
    /// Where it comes from.
    pub source: String,
}

/// How far healthy things and instruments stray (one sigma where a spread is meant), from `knowledge/tolerances.yaml`.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Tolerances {
    /// Accuracy of a meter on volts, as a share of the reading.
    pub meter_share: f64,
    /// Accuracy of a meter, in counts of its last digit.
    pub meter_counts: f64,
    /// Accuracy of a clamp meter on direct current, as a share of the reading.
    pub clamp_share: f64,
    /// The same in amps, whatever it reads: its counts, and what is left of its zero.
    pub clamp_amps: f64,
    /// Accuracy of a meter on ohms, as a share of the reading.
    pub ohms_share: f64,
    /// What leads and tips add to ohms.
    pub ohms_leads: f64,
    /// Spread of what lies between two probes in ohms, as a share.
    pub ohms_parts: f64,
    /// Input resistance of a meter on volts, ohms.
    pub meter_ohms: f64,
    /// Spread of a supply's EMF that all readings of a job share, as a share.
    pub supply_shared: f64,
    /// Further spread of it in each set-up, as a share.
    pub supply_own: f64,
    /// Drift of it from one reading to the next, as a share.
    pub supply_drift: f64,
    /// Share of jobs during which a supply runs down or is charged.
    pub supply_sags: f64,
    /// Spread of its EMF in each set-up of such a job, as a share.
    pub supply_sag_own: f64,
    /// Drift of it from one reading to the next in such a job, as a share.
    pub supply_sag_drift: f64,
    /// Spread of what a meter shows on an open line that leaks, as a share of the nominal volts.
    pub open_line: f64,
    /// Share of jobs in which open lines leak.
    pub open_lines_leak: f64,
    /// Share of jobs in which nothing is wrong.
    pub nothing_wrong: f64,
    /// Share of jobs in which something is wrong that the description and the catalogue do not hold.
    pub not_described: f64,
    /// Share of jobs in which a second fault is there too.
    pub second_faults: f64,
    /// Share of repairs that are no good.
    pub repairs_no_good: f64,
    /// How many jobs the weights of failure modes count for beside a workshop's own.
    pub history_strength: f64,
    /// Share of readings that are blunders.
    pub blunders: f64,
}
