//! Behind a finding comes the repair: two faults, found and repaired one after the other, until the lamp is lit. The answers
//! are those of the circuit with the faults that are still in it.

use super::script::{
    SMALL, begin, fed, folder, from_the_start, program, records, sitting, small, typed, typed_records,
};
use halfsplit::belief::{Answer, Predicted, Verdict, predict};
use halfsplit::choice::Test;
use halfsplit::circuit::SetUp;
use halfsplit::job::record::{Blamed, Outcome, Record, Repair};
use halfsplit::job::{Diagnosis, Next, System, as_answer, read_entry};
use halfsplit::network::Network;
use halfsplit::units::Ohms;

/// Two faults, of which each alone keeps the lamp dark: by hand, no current without the relay's coil or without the filament.
const HIDDEN: [(&str, &str); 2] = [("K1", "coil-open"), ("lamp", "burnt-out")];

/// What the circuit with these faults answers, as typed.
///
/// No jumper is at hand: with one in place of the relay both faults show at once, and have one finding.
fn line(system: &System, network: &Network<'_>, hidden: &[(&str, &str)], test: &Test) -> String {
    if test.set_up.is_bridged() {
        return "n".to_owned();
    }
    let fault =
        |(part, mode): &(&str, &str)| system.fault(part, mode).unwrap_or_else(|| panic!("no fault {part} {mode}"));
    let edits: Vec<_> =
        hidden.iter().flat_map(|f| system.suspects.faults()[fault(f)].effect.edits(Ohms::ZERO)).collect();
    let rest = SetUp::at_rest(&system.circuit.netlist.controls);
    let rest = network.enter(&edits, &network.fresh(), &rest).unwrap().remove(0).state;
    let state = network.enter(&edits, rest.memory(), &test.set_up).unwrap().remove(0).state;
    match predict(network, &system.senses, &state, &test.probe, |e| rest.state(e)) {
        Predicted::Number { floating: true, .. } => "0.00".to_owned(),
        Predicted::Number { mean, .. } => format!("{mean:.2}"),
        Predicted::Words(shares) => {
            let best = (0..shares.len()).max_by(|a, b| shares[*a].total_cmp(&shares[*b])).unwrap();
            typed(&Answer::Word(best))
        }
    }
}

/// The answer to the test that is asked next, entered; `None` where there is none.
fn answered(job: &mut Diagnosis<'_>, network: &Network<'_>, hidden: &[(&str, &str)]) -> Result<String, Verdict> {
    match job.next() {
        Next::Take(ranked) => {
            let line = line(job.system(), network, hidden, &ranked.test);
            let answer = match line.parse::<usize>() {
                Ok(word) => Answer::Word(word - 1),
                Err(_) => as_answer(&read_entry(&line, "V").unwrap()).unwrap(),
            };
            job.answer(ranked.test.clone(), answer);
            Ok(line)
        }
        Next::Stop(verdict) => Err(verdict),
    }
}

/// All lines of the job up to the proof, and where among them the repairs are.
fn lines() -> (Vec<String>, Vec<usize>) {
    let system = small();
    let network = Network::new(&system.circuit.netlist);
    let mut job = begin(&system, &network);
    let mut hidden = HIDDEN.to_vec();
    let (mut lines, mut repairs) = (Vec::new(), Vec::new());
    loop {
        assert!(lines.len() < 60, "no end: {lines:?}");
        match answered(&mut job, &network, &hidden) {
            Ok(line) => lines.push(line),
            Err(Verdict::Cured) => return (lines, repairs),
            Err(verdict) => {
                let named = job.named(&verdict);
                assert!(!named.is_empty(), "{verdict:?} behind {lines:?}");
                let repair = job.repair_of(&named);
                hidden.retain(|(part, _)| !repair.culprits.iter().any(|b| b.part == *part));
                assert_eq!(job.mend(&repair), []);
                repairs.push(lines.len());
                lines.push("y".to_owned());
            }
        }
    }
}

/// Left after any line and taken up again it is one job: the same records, the same proof, and nothing behind it.
#[test]
fn two_faults_are_repaired_one_after_the_other_until_it_is_proven() {
    let folder = folder("repair");
    let (lines, repairs) = lines();
    assert_eq!(repairs.len(), HIDDEN.len(), "{lines:?}");
    let whole = folder.join("whole.yaml");
    let ran = sitting(SMALL, &whole, &from_the_start(&lines));
    assert_eq!(ran.code, Some(0), "{ran}");
    let proof = ran.stdout.split_once("PROVEN").unwrap_or_else(|| panic!("{ran}")).1;
    for (part, _) in HIDDEN {
        assert!(proof.contains(&format!("Repaired  {part}: ")), "{ran}");
    }
    assert!(proof.contains("Proof ") && proof.contains("as it should be") && proof.contains(" min."), "{ran}");
    for line in ran.stdout.lines().chain(ran.stderr.lines().filter(|l| !l.contains('/'))) {
        assert!(line.chars().count() <= 56, "wider than the screen: {line}");
    }
    let expected = typed_records(records(&whole));
    let [.., Record::Outcome { outcome: Outcome::Cured, .. }, Record::Closed(closed)] = &expected[..] else {
        panic!("{expected:?}")
    };
    assert_eq!(closed.complaint, "lamp dark");
    let parts: Vec<&str> = closed.culprits.iter().map(|b| b.part.as_str()).collect();
    assert!(HIDDEN.iter().all(|(part, _)| parts.contains(part)), "{closed:?}");
    let failed: Vec<_> =
        closed.failed.iter().map(|f| (f.part.as_str(), f.kind.as_deref(), f.place.as_deref(), f.right)).collect();
    let expected_failed =
        [("K1", Some("relay"), Some("cab"), true), ("lamp", Some("filament lamp"), Some("roof"), true)];
    assert!(expected_failed.iter().all(|one| failed.contains(one)), "{failed:?}");
    let none: [&str; 0] = [];
    let again = sitting(SMALL, &whole, &none);
    assert_eq!(again.code, Some(0), "{again}");
    assert!(again.stderr.contains("This job is closed"), "{again}");
    // Its sheet has what was done, and what was tried again behind the last repair as the proof.
    let sheet = fed(&mut program(&["report", whole.to_str().unwrap()]), &none);
    assert!(sheet.stdout.contains("closed: cured"), "{sheet}");
    let behind = sheet.stdout.split("\nPROOF\n").nth(1).unwrap_or_else(|| panic!("{sheet}"));
    let (tried, _) = behind.split_once("\n\n").unwrap();
    let tried = tried.split_whitespace().collect::<Vec<_>>().join(" ");
    // The first repair left the second fault: the lamp stayed dark.
    for told in [
        "read: dark; remark: NOT PASSED: what was complained of is gone",
        "read: lit; remark: passed: what was complained of is gone",
        "remark: passed: K1 carries its current again",
    ] {
        assert!(tried.contains("look at lamp") && tried.contains(told), "{told}: {sheet}");
    }
    assert_eq!(sheet.stdout.matches("\nrepaired").count(), HIDDEN.len(), "{sheet}");

    for left_after in repairs[0]..lines.len() {
        let job = folder.join(format!("{left_after}.yaml"));
        let (first, second) = lines.split_at(left_after);
        sitting(SMALL, &job, &from_the_start(first));
        let ran = sitting(SMALL, &job, second);
        assert_eq!(ran.code, Some(0), "left after {left_after}: {ran}");
        assert!(ran.stdout.ends_with(&format!("PROVEN{proof}")), "left after {left_after}: {ran}");
        let mut got = typed_records(records(&job));
        let mut want = expected.clone();
        for list in [&mut got, &mut want] {
            // When it began differs.
            list.pop();
        }
        assert_eq!(got, want, "left after {left_after}");
    }
}

/// The answer to the retest taken back takes the repair back: the finding stands again. What is corrected keeps it.
#[test]
fn undo_takes_the_repair_back_and_a_correction_keeps_it() {
    let folder = folder("repair-undo");
    let (lines, repairs) = lines();
    let retested = repairs[0] + 2;
    let (first, rest) = lines.split_at(retested);
    let job = folder.join("undo.yaml");
    let mut undone = first.to_vec();
    undone.extend(["u".to_owned(), String::new()]);
    let ran = sitting(SMALL, &job, &from_the_start(&undone));
    assert_eq!(ran.code, Some(0), "{ran}");
    assert!(ran.stderr.contains("The repair is taken back with it."), "{ran}");
    // Taken up it stands before its finding, and goes on from there.
    let mut on = lines[repairs[0]..retested].to_vec();
    on.extend_from_slice(rest);
    let ran = sitting(SMALL, &job, &on);
    assert!(ran.stderr.contains("This job has its finding") && ran.stdout.contains("PROVEN"), "{ran}");

    let job = folder.join("correct.yaml");
    let mut corrected = first.to_vec();
    // The last reading is corrected to what it was: the job is built anew with its repair.
    let number = retested - 1;
    corrected.push(format!("correct {number} {}", lines[retested - 1]));
    corrected.extend_from_slice(rest);
    let ran = sitting(SMALL, &job, &from_the_start(&corrected));
    assert!(ran.stderr.contains("Corrected:") && ran.stdout.contains("PROVEN"), "{ran}");
    assert_eq!(records(&job).iter().filter(|r| matches!(r, Record::Repair(_))).count(), HIDDEN.len(), "{ran}");
}

/// A fuse was put in although none was blown: at the end that was not what had failed.
#[test]
fn a_repair_that_cured_nothing_is_seen_to_have_been_wrong() {
    let system = small();
    let network = Network::new(&system.circuit.netlist);
    let mut job = begin(&system, &network);
    let blamed = |part: &str, fault: &str| Blamed {
        part: part.to_owned(),
        fault: fault.to_owned(),
        sure: 0.5,
        repair: String::new(),
    };
    let repaired = [blamed("F1", "blown"), blamed("K1", "coil-open")];
    let mend = |job: &mut Diagnosis<'_>, one: &Blamed| {
        let culprits = vec![one.clone()];
        let repair = Repair { part: one.part.clone(), done: String::new(), minutes: None, culprits };
        assert_eq!(job.mend(&repair), []);
    };
    let hidden = [HIDDEN[0]];
    mend(&mut job, &repaired[0]);
    let verdict = loop {
        if let Err(verdict) = answered(&mut job, &network, &hidden) {
            break verdict;
        }
    };
    assert!(job.repair_of(&job.named(&verdict)).part.contains("K1"), "{verdict:?}");
    mend(&mut job, &repaired[1]);
    while answered(&mut job, &network, &[]).is_ok() {}
    assert_eq!(job.next(), Next::Stop(Verdict::Cured));
    let failed: Vec<_> = job.failed(&repaired).into_iter().map(|f| (f.part, f.right)).collect();
    assert_eq!(failed, [("F1".to_owned(), false), ("K1".to_owned(), true)]);
}

/// A program that reads the finding is not asked what was repaired.
#[test]
fn for_programs_the_job_ends_with_its_finding() {
    let job = folder("repair-json").join("job.yaml");
    let (lines, repairs) = lines();
    let arguments = ["diagnose", SMALL, "--job", job.to_str().unwrap(), "--format", "json"];
    let ran = fed(&mut program(&arguments), &from_the_start(&lines[..=repairs[0]]));
    assert_eq!(ran.code, Some(0), "{ran}");
    assert!(!ran.stderr.contains("Repaired?") && ran.stdout.starts_with('{'), "{ran}");
}
