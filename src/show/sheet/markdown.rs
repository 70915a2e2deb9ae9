//! The sheet as Markdown (`CommonMark` 0.31 with the tables of GitHub's flavour).

use super::{Block, Sheet};
use crate::show::text::line;

/// The sheet as Markdown.
pub fn markdown(sheet: &Sheet) -> String {
    let mut out = String::new();
    line(&mut out, &format!("# Job sheet: {}", escaped(&sheet.title)));
    line(&mut out, "");
    line(&mut out, &format!("**{}**", escaped(&sheet.state)));
    for section in &sheet.sections {
        line(&mut out, "");
        line(&mut out, &format!("## {}", section.heading));
        line(&mut out, "");
        match &section.block {
            Block::Fields(fields) => {
                for (name, text) in fields {
                    line(&mut out, &format!("- **{}:** {}", escaped(name), escaped(text)));
                }
            }
            Block::List(items) => items.iter().for_each(|item| line(&mut out, &format!("- {}", escaped(item)))),
            Block::Table { head, rows } => {
                line(&mut out, &format!("| {} |", head.join(" | ")));
                line(&mut out, &format!("|{}", "---|".repeat(head.len())));
                for cells in rows {
                    let cells: Vec<String> = cells.iter().map(|cell| escaped(cell)).collect();
                    line(&mut out, &format!("| {} |", cells.join(" | ")));
                }
            }
        }
    }
    for way in &sheet.ways {
        line(&mut out, "");
        line(&mut out, &format!("## {}", escaped(&way.title)));
        line(&mut out, "");
        way.lines().iter().for_each(|item| line(&mut out, &format!("- {}", escaped(item))));
    }
    out
}

/// A text of one line, of which Markdown takes nothing as its own: a punctuation mark behind a backslash is no more than that
/// (`CommonMark`, 'Backslash escapes').
fn escaped(text: &str) -> String {
    const MEANS: &str = "\\`*_{}[]<>|~&";
    const BEGINS: &str = "#+-=";
    let number = text.find(|c: char| !c.is_ascii_digit()).unwrap_or(text.len());
    let mut out = String::with_capacity(text.len() + 8);
    for (at, c) in text.char_indices() {
        let behind = text.get(at + c.len_utf8()..).unwrap_or_default();
        // What comes first may begin a list or a heading; so may a number with a point and a blank.
        let begins = at == 0 && BEGINS.contains(c)
            || at > 0 && at == number && ".)".contains(c) && (behind.is_empty() || behind.starts_with(' '));
        // An address would become a link.
        let address = c == ':' && behind.starts_with('/') || c == '@';
        if begins || address || MEANS.contains(c) {
            out.push('\\');
        }
        out.push(c);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::escaped;

    #[test]
    fn nothing_of_a_text_means_anything() {
        for (text, expected) in [
            ("a|b", "a\\|b"),
            ("*x* _y_ `z`", "\\*x\\* \\_y\\_ \\`z\\`"),
            ("<script>", "\\<script\\>"),
            ("[a](b)", "\\[a\\](b)"),
            ("- item", "\\- item"),
            ("1. item", "1\\. item"),
            ("12.6 V", "12.6 V"),
            ("# head", "\\# head"),
            ("a\\b", "a\\\\b"),
            ("http://x", "http\\://x"),
        ] {
            assert_eq!(escaped(text), expected);
        }
    }
}
