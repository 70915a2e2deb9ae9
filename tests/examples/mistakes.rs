//! Mistakes made at random in the examples, from a seed: what a person mistypes, leaves out and pastes twice.

use super::{examples, read};
use crate::support::random::Dice;
use halfsplit::diagnostic::Diagnostic;
use halfsplit::index::Id;
use halfsplit::knowledge::{KindId, Knowledge};

const EACH: usize = 20;

/// A run of an example: its line (0-based), name and steps.
struct Run {
    line: usize,
    name: String,
    steps: Vec<String>,
}

fn runs(text: &str) -> Vec<Run> {
    let behind = text.lines().enumerate().skip_while(|(_, l)| *l != "runs:").skip(1);
    let lines = behind.filter(|(_, l)| !l.trim_start().starts_with('#') && !l.trim().is_empty());
    lines
        .map(|(line, text)| {
            let (name, steps) = text.split_once(':').unwrap();
            let steps = steps.split('|').map(|s| s.trim().to_owned()).collect();
            Run { line, name: name.trim().to_owned(), steps }
        })
        .collect()
}

/// The text with the lines of `run` replaced by these.
fn with(text: &str, run: &Run, lines: &[String]) -> String {
    let before = text.lines().take(run.line).map(str::to_owned);
    let behind = text.lines().skip(run.line + 1).map(str::to_owned);
    before.chain(lines.iter().cloned()).chain(behind).collect::<Vec<_>>().join("\n") + "\n"
}

fn written(name: &str, steps: &[String]) -> String {
    format!("  {name}: {}", steps.join(" | "))
}

fn problems(text: &str) -> Vec<Diagnostic> {
    match read(text) {
        Ok((_, warnings)) => warnings,
        Err(report) => report,
    }
    .sorted()
    .into_iter()
    .cloned()
    .collect()
}

fn told(found: &[Diagnostic]) -> String {
    found.iter().map(|d| format!("{}: {}", d.span.line, d.message)).collect::<Vec<_>>().join("; ")
}

/// Whether a step is the use of something declared elsewhere, and no wire, part written in place or new junction.
fn is_use(step: &str) -> bool {
    let knowledge = Knowledge::built_in();
    let head = step.split('.').next().unwrap_or_default();
    let kind = |k: &str| (0..knowledge.kinds.len()).any(|i| knowledge.kinds[KindId::new(i)].name == k);
    !step.starts_with('*')
        && !step.starts_with("by ")
        && !step.contains('"')
        && !step.contains('²')
        && !kind(head)
        && !["blade fuse ", "bolt-down fuse ", "breaker ", "crimp splice"].iter().any(|k| step.starts_with(k))
}

/// A random run of a random example.
fn pick(dice: &mut Dice) -> (String, String, Run) {
    let mut all = examples();
    let (name, text) = all.remove(dice.below(all.len()));
    let mut runs = runs(&text);
    let run = runs.remove(dice.below(runs.len()));
    (name, text, run)
}

#[test]
fn a_part_renamed_in_a_run_is_named_at_its_line() {
    let mut dice = Dice::new(3);
    for _ in 0..EACH {
        let (name, text, mut run) = pick(&mut dice);
        let uses: Vec<usize> = (0..run.steps.len()).filter(|i| is_use(&run.steps[*i])).collect();
        let at = uses[dice.below(uses.len())];
        // A letter too many, somewhere in the name before its first dot.
        let head = run.steps[at].split('.').next().unwrap().chars().count();
        let mut letters: Vec<char> = run.steps[at].chars().collect();
        letters.insert(dice.below(head + 1), 'q');
        run.steps[at] = letters.into_iter().collect();
        let found = problems(&with(&text, &run, &[written(&run.name, &run.steps)]));
        let here = found.iter().any(|d| d.span.line == run.line + 1);
        assert!(here, "{name}: {}: {}: {}", run.name, run.steps[at], told(&found));
    }
}

#[test]
fn a_run_cut_is_named_where_it_was_cut_or_at_what_hangs_then() {
    let mut dice = Dice::new(4);
    let mut cuts = 0;
    while cuts < EACH {
        let (name, text, mut run) = pick(&mut dice);
        let cut = 1 + dice.below(run.steps.len() - 1);
        let tail = dice.below(2) == 0;
        let end = if tail { &run.steps[cut - 1] } else { &run.steps[cut] };
        let junction = end.trim_start_matches('*');
        let elsewhere =
            runs(&text).iter().filter(|r| r.steps.iter().any(|s| s.trim_start_matches('*') == junction)).count();
        // A tail behind a junction on which more hangs leaves a whole install with a branch less: no reader can tell.
        let kept = if tail { cut } else { run.steps.len() - cut };
        if tail && elsewhere > 1 && kept > 1 {
            continue;
        }
        cuts += 1;
        let gone = if tail {
            run.steps.split_off(cut)
        } else {
            let kept = run.steps.split_off(cut);
            std::mem::replace(&mut run.steps, kept)
        };
        let found = problems(&with(&text, &run, &[written(&run.name, &run.steps)]));
        let heads: Vec<&str> = gone.iter().map(|s| s.trim_start_matches('*').split('.').next().unwrap()).collect();
        let names = |d: &Diagnostic| heads.iter().any(|h| d.message.contains(&format!("`{h}`")));
        let named = found.iter().any(|d| d.span.line == run.line + 1 || names(d));
        assert!(named, "{name}: {} without {gone:?}: {}", run.name, told(&found));
    }
}

#[test]
fn a_run_doubled_is_named_at_its_second_line() {
    let mut dice = Dice::new(5);
    let mut doubled = 0;
    while doubled < EACH {
        let (name, text, run) = pick(&mut dice);
        let line = written(&run.name, &run.steps);
        // The same line once more, or under another name where it makes something: then that is made twice.
        let makes = run.steps.iter().any(|s| s.starts_with('*') || s.contains('"'));
        let again = if makes && dice.below(2) == 0 {
            written(&format!("{} again", run.name), &run.steps)
        } else {
            line.clone()
        };
        let found = problems(&with(&text, &run, &[line, again]));
        let here = found.iter().any(|d| d.span.line == run.line + 2);
        assert!(here, "{name}: {} twice: {}", run.name, told(&found));
        doubled += 1;
    }
}
