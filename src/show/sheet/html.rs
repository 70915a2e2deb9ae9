//! The sheet as one page of HTML: no script, nothing from elsewhere, one page of A4 on paper, one column on a phone. What is
//! longer than a page goes on over it: between rows, the head of the table once more.

mod svg;

use super::{Block, Section, Sheet};
use std::fmt::Write;

/// What the page looks like. Colour is never alone: everything that it marks is marked by a word or a shape too.
const STYLE: &str = "\
@page{size:A4;margin:9mm 11mm}\
*{box-sizing:border-box}\
body{font:15px/1.4 sans-serif;margin:0 auto;padding:12px;max-width:190mm;color:#000;background:#fff;overflow-wrap:anywhere}\
h1{font-size:1.3em;margin:0}\
h2{font-size:1em;margin:.9em 0 .2em;border-bottom:1px solid #000}\
p{margin:.2em 0}\
dl{margin:0;display:grid;grid-template-columns:minmax(5em,auto) 1fr;gap:0 .8em}\
dt{font-weight:bold}dd{margin:0}\
ul{margin:0;padding-left:1.2em}\
table{border-collapse:collapse;width:100%}\
th,td{border:1px solid #777;padding:1px 4px;text-align:left;vertical-align:top}\
th:nth-child(1){min-width:2.4em}th:nth-child(5){min-width:4.5em}\
figure{margin:.5em 0;break-inside:avoid}\
figcaption{font-weight:bold}\
svg{max-width:100%;height:auto;display:block}\
.ways{display:flex;flex-wrap:wrap;gap:0 1em}\
.ways figure{flex:1 1 300px;max-width:360px}\
.lists ul{columns:2;column-gap:1.5em}li{break-inside:avoid}\
.top{display:grid;grid-template-columns:1fr 1fr;gap:0 1.5em;align-items:start}\
@media (max-width:600px){\
.top{display:block}.lists ul{columns:1}\
thead{display:none}table,tbody,tr{display:block;width:100%}\
tr{border:1px solid #777;margin:0 0 .4em;padding:2px 4px}\
td{display:inline-block;border:0;padding:0;margin-right:.9em}\
td:empty{display:none}td::before{content:attr(data-name) \": \";font-weight:bold}}\
@media print{body{font-size:8pt;line-height:1.2;padding:0;max-width:none}\
h1,h2,thead{break-after:avoid}thead{display:table-header-group}\
tr,dt,dd,.top section,.circuit{break-inside:avoid}\
h2{margin:.6em 0 .1em}.ways svg{max-height:88mm}\
.long{font-size:7.5pt;line-height:1.15}.long h2{margin:.35em 0 .1em}.long td,.long th{padding:0 4px}\
.long .lists ul{columns:3;font-size:7pt}.long .ways svg{max-height:63mm}.long figure{margin:.2em 0}}";

/// Rows of tables beyond which a sheet is set smaller on paper: 25 readings still fit on one page.
const LONG: usize = 14;

/// The sheet as a page.
pub fn html(sheet: &Sheet) -> String {
    let title = escaped(&sheet.title);
    let mut out = String::from("<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n");
    out.push_str("<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n");
    // Whatever slips through: nothing is run, nothing is fetched.
    out.push_str(
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\n",
    );
    // Writing to a string does not fail.
    let _ = writeln!(
        out,
        "<title>Job sheet: {title}</title>\n<style>{STYLE}</style>\n</head>\n<body{}>",
        if is_long(sheet) { " class=\"long\"" } else { "" }
    );
    let _ = writeln!(out, "<h1>Job sheet: {title}</h1>\n<p><strong>{}</strong></p>", escaped(&sheet.state));
    // Short fields stand side by side where there is room.
    let (fields, others): (Vec<_>, Vec<_>) =
        sheet.sections.iter().partition(|section| matches!(section.block, Block::Fields(_)));
    for (class, sections) in [("top", fields), ("lists", others)] {
        let _ = writeln!(out, "<div class=\"{class}\">");
        for section in sections {
            out.push_str(&self::section(section));
        }
        out.push_str("</div>\n");
    }
    if !sheet.ways.is_empty() {
        out.push_str("<section class=\"circuit\"><h2>Circuit of the fault</h2><div class=\"ways\">\n");
        for way in &sheet.ways {
            out.push_str(&svg::figure(way));
        }
        out.push_str("</div></section>\n");
    }
    out.push_str("</body>\n</html>\n");
    out
}

fn is_long(sheet: &Sheet) -> bool {
    let rows = sheet.sections.iter().map(|section| match &section.block {
        Block::Table { rows, .. } => rows.len(),
        Block::Fields(_) | Block::List(_) => 0,
    });
    rows.sum::<usize>() > LONG
}

fn section(section: &Section) -> String {
    let block = match &section.block {
        Block::Fields(fields) => {
            let each =
                fields.iter().map(|(name, text)| format!("<dt>{}</dt><dd>{}</dd>", escaped(name), escaped(text)));
            format!("<dl>{}</dl>", each.collect::<Vec<_>>().join("\n"))
        }
        Block::List(items) => {
            let each = items.iter().map(|item| format!("<li>{}</li>", escaped(item)));
            format!("<ul>{}</ul>", each.collect::<Vec<_>>().join("\n"))
        }
        Block::Table { head, rows } => {
            let names: Vec<String> =
                head.iter().map(|name| format!("<th scope=\"col\">{}</th>", escaped(name))).collect();
            let row = |cells: &Vec<String>| {
                let cells = head.iter().zip(cells);
                let cells =
                    cells.map(|(name, cell)| format!("<td data-name=\"{}\">{}</td>", escaped(name), escaped(cell)));
                format!("<tr>{}</tr>", cells.collect::<String>())
            };
            let rows: Vec<String> = rows.iter().map(row).collect();
            format!("<table><thead><tr>{}</tr></thead><tbody>\n{}\n</tbody></table>", names.join(""), rows.join("\n"))
        }
    };
    format!("<section><h2>{}</h2>\n{block}</section>\n", escaped(section.heading))
}

/// A text that means nothing in HTML, nor within quotes of an attribute.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 16);
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c => out.push(c),
        }
    }
    out
}
