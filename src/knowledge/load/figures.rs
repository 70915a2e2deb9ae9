//! Tables and tolerances as they are written, checked.

use super::super::amount::read_quantity;
use super::super::error::Wrong;
use super::super::raw::{RawTable, RawTolerance, Text};
use super::super::resolve::Report;
use super::super::{Knowledge, LookupTable, Row};
use crate::units::Dimension;

impl Knowledge {
    pub(super) fn add_table(&mut self, raw: &RawTable, report: &mut Report<'_>) {
        let name = report.said(&raw.table, "a name");
        let mut rows: Vec<Row> = Vec::new();
        for row in &raw.rows {
            let ascending = rows.last().is_none_or(|last| row.at.value > last.at);
            if !(row.at.value > 0.0 && row.at.value.is_finite() && ascending) {
                let text = row.at.value.to_string();
                let expected = "above zero and above the row before";
                report.note(&row.at, Wrong::OutOfRange { text, expected });
            }
            if !(row.gives.value > 0.0 && row.gives.value.is_finite()) {
                let text = row.gives.value.to_string();
                report.note(&row.gives, Wrong::OutOfRange { text, expected: "above zero" });
            }
            let source = raw.sources.0.iter().find(|(key, _)| key.value == row.source.value);
            if source.is_none() {
                report.unknown(&row.source, "source");
            }
            rows.push(Row {
                at: row.at.value,
                gives: row.gives.value,
                least: row.least,
                most: row.most,
                mark: row.mark.clone(),
                status: report.status(&row.status),
                source: source.map(|(_, text)| text.clone()).unwrap_or_default(),
            });
        }
        if rows.len() < 2 {
            report.note(&raw.table, Wrong::Missing("a second row"));
        }
        let about = report.said(&raw.about, "what it holds");
        let of = report.said(&raw.of, "what is looked up");
        let gives = report.said(&raw.gives, "what it gives");
        self.tables.insert(name, LookupTable { about, of, gives, rows });
    }

    pub(super) fn add_tolerance(&mut self, key: &Text, raw: &RawTolerance, report: &mut Report<'_>) {
        let all = &mut self.tolerances;
        let (field, unit) = match key.value.as_str() {
            "meter-share" => (&mut all.meter_share, Dimension::Ratio),
            "meter-counts" => (&mut all.meter_counts, Dimension::Ratio),
            "clamp-share" => (&mut all.clamp_share, Dimension::Ratio),
            "clamp-amps" => (&mut all.clamp_amps, Dimension::Amps),
            "ohms-share" => (&mut all.ohms_share, Dimension::Ratio),
            "ohms-leads" => (&mut all.ohms_leads, Dimension::Ohms),
            "ohms-parts" => (&mut all.ohms_parts, Dimension::Ratio),
            "meter-ohms" => (&mut all.meter_ohms, Dimension::Ohms),
            "supply-shared" => (&mut all.supply_shared, Dimension::Ratio),
            "supply-own" => (&mut all.supply_own, Dimension::Ratio),
            "supply-drift" => (&mut all.supply_drift, Dimension::Ratio),
            "supply-sags" => (&mut all.supply_sags, Dimension::Ratio),
            "supply-sag-own" => (&mut all.supply_sag_own, Dimension::Ratio),
            "supply-sag-drift" => (&mut all.supply_sag_drift, Dimension::Ratio),
            "open-line" => (&mut all.open_line, Dimension::Ratio),
            "open-lines-leak" => (&mut all.open_lines_leak, Dimension::Ratio),
            "nothing-wrong" => (&mut all.nothing_wrong, Dimension::Ratio),
            "not-described" => (&mut all.not_described, Dimension::Ratio),
            "second-faults" => (&mut all.second_faults, Dimension::Ratio),
            "repairs-no-good" => (&mut all.repairs_no_good, Dimension::Ratio),
            "history-strength" => (&mut all.history_strength, Dimension::Ratio),
            "blunders" => (&mut all.blunders, Dimension::Ratio),
            _ => return report.unknown(key, "tolerance"),
        };
        report.said(&raw.about, "what it is");
        report.said(&raw.source, "a source");
        match read_quantity(&raw.value.value, unit).filter(|v| *v >= 0.0) {
            Some(value) => *field = value,
            None => report.unreadable(&raw.value, "a quantity of the right unit"),
        }
    }
}
