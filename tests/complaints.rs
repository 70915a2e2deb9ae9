//! What people complain of: each manner and each occasion is understood in a recorded job, is offered in the interview, and
//! tells a fault that causes it from one that does not.

use crate::cli::program::program;
use halfsplit::document::Source;
use halfsplit::install::load;
use halfsplit::job::{Complaint, Diagnosis, System, load_answers};
use halfsplit::knowledge::Knowledge;
use halfsplit::network::Network;
use serde::Deserialize;
use std::fs::read_to_string;
use std::io::Write;
use std::process::Stdio;

/// A complaint, and two faults of which the first causes it.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Case {
    about: String,
    install: String,
    /// As it stands in a recorded job.
    complaint: String,
    /// Facts that it comes to: `controls moved | part | word`, in order.
    facts: Vec<String>,
    /// `part mode` that causes it, and one that does not.
    likely: String,
    unlikely: String,
    /// At least this many times as probable as before, set against the other one.
    times: f64,
}

fn cases() -> Vec<Case> {
    serde_yaml::from_str(&read_to_string("tests/complaints.yaml").unwrap()).unwrap()
}

fn system(install: &str) -> System {
    let path = format!("examples/{install}/install.yaml");
    let source = Source::new(path.clone(), read_to_string(&path).unwrap());
    let (install, _) = load(&source, &Knowledge::built_in()).unwrap_or_else(|r| panic!("{r:?}"));
    System::new(install).unwrap_or_else(|lacking| panic!("{lacking:?}"))
}

fn complaint(system: &System, text: &str) -> Complaint {
    let source = Source::new("job.yaml", format!("complaint: {text}\n"));
    let answers = load_answers(&source, system, &system.instruments());
    answers.unwrap_or_else(|report| panic!("{text}: {:?}", report.sorted())).complaint
}

fn facts(system: &System, complaint: &Complaint) -> Vec<String> {
    let of = |fact: &halfsplit::job::Fact| {
        let moved: Vec<String> = system
            .install
            .controls
            .enumerate()
            .filter_map(|(id, control)| {
                let at = system.circuit.control_of[id];
                let position = fact.set_up.positions[at];
                (position != 0).then(|| format!("{} {}", control.name, control.positions[position]))
            })
            .collect();
        let sight = &system.sights[fact.sight];
        let word = &sight.table.words[fact.word].key;
        format!("{} | {} | {word}", moved.join(", "), system.install.parts[sight.part].id)
    };
    complaint.facts.iter().map(of).collect()
}

#[test]
fn complaints_become_facts() {
    let mut wrong = Vec::new();
    for case in cases() {
        let system = system(&case.install);
        let found = facts(&system, &complaint(&system, &case.complaint));
        if found != case.facts {
            wrong.push(format!("{}: {found:?}", case.about));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// The ratio of two probabilities is compared before and after, so that priors cancel: what remains is the likelihood ratio.
#[test]
fn a_complaint_speaks_for_what_causes_it() {
    let mut wrong = Vec::new();
    for case in cases() {
        let system = system(&case.install);
        let network = Network::new(&system.circuit.netlist);
        let complaint = complaint(&system, &case.complaint);
        let job = Diagnosis::begin(&system, &network, system.instruments(), complaint, 1)
            .unwrap_or_else(|u| panic!("{}: {}", case.about, u.why));
        let log = |name: &str| -> f64 {
            let (part, mode) = name.rsplit_once(' ').unwrap();
            let suspect = system.fault(part, mode).unwrap_or_else(|| panic!("no fault {name}"));
            let id = system.suspects.single(&system.suspects.faults()[suspect].part, mode).unwrap();
            job.posterior().log_likelihood[id]
        };
        let ratio = (log(&case.likely) - log(&case.unlikely)).exp();
        if ratio.is_nan() || ratio < case.times {
            wrong.push(format!("{}: {ratio:.3} times", case.about));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// The knowledge base's manners and occasions are all used by a case.
#[test]
fn every_manner_and_every_occasion_has_a_case() {
    let knowledge = Knowledge::built_in();
    let cases = cases();
    let has = |key: &str, word: &str| {
        cases.iter().any(|c| {
            c.complaint.contains(&format!("{key}: {word},")) || c.complaint.contains(&format!("{key}: {word}}}"))
        })
    };
    for manner in &knowledge.complaints.manners {
        assert!(has("how", &manner.key), "no case for `{}`", manner.key);
    }
    for word in &knowledge.complaints.occasions.words {
        let by_manner = ["sometimes", "returned"].contains(&word.key.as_str());
        assert!(by_manner || has("when", &word.key), "no case for `{}`", word.key);
    }
    for word in ["engine on", "engine off"] {
        assert!(has("when", word), "no case for `{word}`");
    }
}

/// Types `lines` into the interview and gives back what stood on the screen.
fn interview(install: &str, lines: &str) -> String {
    let mut command = program();
    command.args(["diagnose", &format!("examples/{install}/install.yaml")]);
    let mut child = command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    child.stdin.take().unwrap().write_all(lines.as_bytes()).unwrap();
    let out = child.wait_with_output().unwrap();
    String::from_utf8_lossy(&out.stdout).into_owned() + &String::from_utf8_lossy(&out.stderr)
}

/// Each manner stands in the list of `how` for some part of the van, or of the part that is typed here.
#[test]
fn every_manner_and_every_occasion_is_offered_in_the_interview() {
    let knowledge = Knowledge::built_in();
    let screens = [
        interview("van", "left stall lamp\ndead\nq\n"),
        interview("van", "starter battery\nq\n"),
        interview("van", "h\nF1\nq\n"),
        interview("workboat", "2\nq\n"),
        interview("taillift", "1\nq\n"),
    ];
    let all = screens.join("\n").split_whitespace().collect::<Vec<_>>().join(" ");
    for manner in &knowledge.complaints.manners {
        let says = manner.says.replace("{}", "").trim().to_owned();
        let words: Vec<&str> = if says.is_empty() { vec!["dark", "dim"] } else { vec![&says] };
        assert!(words.iter().any(|w| all.contains(w)), "`{}` is offered nowhere:\n{all}", manner.key);
    }
    // What came back without a complaint is a choice of the first question.
    for word in knowledge.complaints.occasions.words.iter().filter(|w| w.key != "returned") {
        assert!(all.contains(&word.says), "`{}` is offered nowhere:\n{all}", word.key);
    }
    for says in [
        "only with the engine running",
        "only with the engine off",
        "everything: all of them",
        "it came back without a complaint",
        "fridge fuse lamp",
    ] {
        assert!(all.contains(says), "{says}");
    }
}

/// A relay of the other pin layout is suspected where the install never worked, and not where it has; nor do its readings name
/// it before mistakes are asked in.
#[test]
fn mistakes_are_suspects_of_what_never_worked() {
    let system = system("sprayer");
    let network = Network::new(&system.circuit.netlist);
    let fault = system.fault("B.1.relay", "other-layout").expect("a mistake of the knowledge base");
    let share = |history: &str, ask: bool| -> f64 {
        let text = format!("{{what: pump, how: dead, with: {{S1: on}}, history: {history}}}");
        let mut job = Diagnosis::begin(&system, &network, system.instruments(), complaint(&system, &text), 1)
            .unwrap_or_else(|u| panic!("{}", u.why));
        if ask {
            assert!(job.ask_mistakes_in(), "{history}: they were suspects already");
        }
        let suspects = job.belief().suspects().list();
        let of = suspects.enumerate().filter(|(_, s)| s.faults.contains(&fault));
        of.map(|(id, _)| job.posterior().probability[id]).sum()
    };
    assert!(share("worked", false).abs() < 1e-12);
    let (never, altered, asked) = (share("never", false), share("altered", false), share("worked", true));
    // By the rows of `history`: 0.55/0.02 against 0.02/0.92 between mistakes and wear.
    assert!(never > 100.0 * asked && asked > 0.0, "{never} {asked}");
    assert!(altered > 10.0 * asked, "{altered} {asked}");
}
