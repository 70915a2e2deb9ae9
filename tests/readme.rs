//! The README's install file, recorded job and commands are what the program takes.

use std::process::Command;

fn readme() -> String {
    std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/README.md")).unwrap()
}

/// The fenced block of this language that holds `word`.
fn block(language: &str, word: &str) -> String {
    let text = readme();
    let fence = format!("```{language}\n");
    let mut blocks = text.split(&fence).skip(1).map(|rest| rest.split("```").next().unwrap().to_owned());
    blocks.find(|b| b.contains(word)).unwrap_or_else(|| panic!("no {language} block with {word}"))
}

fn program(args: &[&str]) -> std::process::Output {
    let program = env!("CARGO_BIN_EXE_halfsplit");
    Command::new(program).args(args).current_dir(env!("CARGO_MANIFEST_DIR")).output().unwrap()
}

fn kept(name: &str, text: &str) -> String {
    let path = std::env::temp_dir().join(format!("halfsplit-readme-{}-{name}", std::process::id()));
    std::fs::write(&path, text).unwrap();
    path.display().to_string()
}

#[test]
fn the_install_of_the_readme_is_good() {
    let path = kept("install.yaml", &block("yaml", "Two lamps"));
    let output = program(&["check", &path]);
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(output.status.success(), "{said}{}", String::from_utf8_lossy(&output.stderr));
    assert!(said.contains("nothing wrong"), "{said}");
    std::fs::remove_file(path).unwrap();
}

/// The README's list of kinds is that of the knowledge base.
#[test]
fn the_readme_lists_every_kind_of_part() {
    let knowledge = halfsplit::knowledge::Knowledge::built_in();
    let text = readme();
    let list = text.split("## Kinds of part").nth(1).and_then(|rest| rest.split("\n## ").next()).unwrap();
    let missing: Vec<&str> = knowledge
        .kinds
        .iter()
        .map(|kind| kind.name.as_str())
        .filter(|name| !list.split_whitespace().collect::<Vec<_>>().join(" ").contains(&format!("`{name}`")))
        .collect();
    assert!(missing.is_empty(), "not in the README: {missing:?}");
}

#[test]
fn the_recorded_job_of_the_readme_is_taken() {
    let path = kept("job.yaml", &block("yaml", "complaint:"));
    let output = program(&["diagnose", "examples/sprayer/install.yaml", "--answers", &path, "--format", "json"]);
    assert_ne!(output.status.code(), Some(2), "{}", String::from_utf8_lossy(&output.stdout));
    std::fs::remove_file(path).unwrap();
}

#[test]
fn the_first_command_of_the_readme_finds_its_fault() {
    let command = block("sh", "--answers");
    let args: Vec<&str> = command.split_whitespace().skip_while(|w| *w != "--").skip(1).collect();
    let output = program(&args);
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(output.status.success(), "{said}");
    // The session printed in the README is what comes out.
    let shown = block("text", "FOUND");
    for line in shown.lines() {
        assert!(said.lines().any(|l| l.trim_end() == line), "not printed any more: {line}\n{said}");
    }
}
