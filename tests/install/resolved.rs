//! The sketch of the design, resolved.

use halfsplit::document::Source;
use halfsplit::install::{Install, load};
use halfsplit::knowledge::Knowledge;
use halfsplit::show::diagnostics;

pub(crate) fn resolve(text: &str) -> Result<(Install, String), String> {
    let source = Source::new("install.yaml", text);
    match load(&source, &Knowledge::built_in()) {
        Ok((install, warnings)) => Ok((install, diagnostics(&warnings, &source, false))),
        Err(report) => Err(diagnostics(&report, &source, false)),
    }
}

fn good() -> Install {
    let (install, warnings) = resolve(include_str!("good.yaml")).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(warnings, "");
    install
}

#[test]
fn dump() {
    let i = good();
    for p in i.parts.iter() {
        println!(
            "{} | {} | {:?} | {:?} | {}:{}",
            p.id,
            p.label,
            p.place.map(|x| &i.places[x].name),
            p.figures,
            p.line,
            p.column
        );
    }
    for (a, b) in &i.joins {
        println!("{} = {}", i.points[*a].name, i.points[*b].name);
    }
    let w = i.wiring();
    for l in w.loads() {
        println!(
            "{}: {:?}",
            i.parts[l].id,
            w.upstream(l)
                .iter()
                .map(|p| i.parts[*p].id.as_str())
                .collect::<Vec<_>>()
        );
        for s in w.sharing(l) {
            println!(
                "   {} {:?} {:?}",
                i.parts[s.load].id,
                s.feed.len(),
                s.earth.len()
            );
        }
    }
    for r in i.runs.iter() {
        println!("{} {}", r.name, r.steps.len());
    }
    for c in i.controls.iter() {
        println!("{c:?}");
    }
    println!("{}", i.points[i.earth].name);
}
