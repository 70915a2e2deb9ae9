//! The sheet as plain text for a narrow screen.

use super::{Block, Sheet};
use crate::show::text::{line, paragraph, row};

/// The sheet as text.
pub fn plain(sheet: &Sheet) -> String {
    let mut out = String::new();
    paragraph(&mut out, 0, &format!("JOB SHEET: {}", sheet.title));
    paragraph(&mut out, 0, &sheet.state);
    for section in &sheet.sections {
        line(&mut out, "");
        line(&mut out, &section.heading.to_uppercase());
        match &section.block {
            Block::Fields(fields) => fields.iter().for_each(|(name, text)| row(&mut out, name, text)),
            Block::List(items) => items.iter().for_each(|item| row(&mut out, "-", item)),
            Block::Table { head, rows } => rows.iter().for_each(|cells| {
                let told = head.iter().zip(cells).skip(2).filter(|(_, cell)| !cell.is_empty());
                let told: Vec<String> = told.map(|(name, cell)| format!("{name}: {cell}")).collect();
                let [number, at, ..] = &cells[..] else { return };
                row(&mut out, &format!("{number}."), &format!("{at}; {}", told.join("; ")));
            }),
        }
    }
    for way in &sheet.ways {
        line(&mut out, "");
        paragraph(&mut out, 0, &way.title.to_uppercase());
        for item in way.lines() {
            paragraph(&mut out, 2, &item);
        }
    }
    out
}
