//! A job taken up again is the job that was left: the same probabilities, the same next question.

use super::script::{
    SMALL, answers, begin, complained, course, fed, folder, from_the_start, lines, program, records, sitting, small,
    typed, typed_records,
};
use halfsplit::belief::Answer;
use halfsplit::index::Id;
use halfsplit::job::record::{Described, Line, Moment, Opened, Reading, Record};
use halfsplit::job::{Diagnosis, Heard, Next, System};
use halfsplit::network::Network;

/// The records of readings as the program writes them.
fn file(system: &System, job: &Diagnosis<'_>, extra: &[Record]) -> Vec<u8> {
    let opened = Opened {
        program: "x".to_owned(),
        install: "x".to_owned(),
        file: "x".to_owned(),
        seed: 1,
        cautions: Vec::new(),
    };
    let mut described = Described::default();
    described.rest = system.resting();
    let mut records = vec![Record::Opened(opened), Record::Described(described), Record::Complaint(complained())];
    for (i, taken) in job.taken().iter().filter(|t| !t.complaint).enumerate() {
        records.push(Record::Reading(Reading {
            number: i + 1,
            with: system.setting(&taken.test.set_up),
            probed: system.probed(&taken.test),
            got: system.got(&taken.test, &taken.answer, &typed(&taken.answer)),
            asked: true,
            ..Reading::default()
        }));
    }
    records.extend_from_slice(extra);
    let line = |record| Line { at: Moment::from_seconds(0), record }.to_string();
    records.into_iter().map(line).collect::<String>().into_bytes()
}

/// The two are one job: evidence, probabilities of every repair, what was told, and what comes next.
#[track_caller]
fn same(one: &Diagnosis<'_>, other: &Diagnosis<'_>) {
    assert_eq!(one.evidence(), other.evidence());
    assert_eq!(one.told(), other.told());
    assert_eq!(one.minutes(), other.minutes());
    let shares = |job: &Diagnosis<'_>| {
        let mut groups = job.posterior().groups.clone();
        groups.sort_by_key(|(group, _)| *group);
        groups
    };
    for ((group, p), (other_group, q)) in shares(one).into_iter().zip(shares(other)) {
        assert_eq!(group, other_group);
        assert!((p - q).abs() < 1e-12, "group {}: {p} and {q}", group.position());
    }
    match (one.next(), other.next()) {
        (Next::Take(a), Next::Take(b)) => assert_eq!(a.test, b.test),
        (a, b) => assert_eq!(a, b),
    }
}

#[test]
fn after_every_answer_the_job_in_the_file_is_the_job_itself() {
    let system = small();
    let network = Network::new(&system.circuit.netlist);
    let instruments = system.instruments();
    let answers = answers(&system, &instruments);
    let mut job = begin(&system, &network);
    let mut count = 0;
    while let Next::Take(ranked) = job.next() {
        let answer = match answers.hear(&ranked.test) {
            Heard::Given(_, answer) => answer,
            Heard::NotTaken => Answer::NotTaken,
        };
        // As typed with two decimals.
        let typed = typed(&answer);
        let answer = system
            .answer_named(&ranked.test, &system.probed(&ranked.test), &system.got(&ranked.test, &answer, &typed))
            .unwrap();
        job.answer(ranked.test.clone(), answer);
        count += 1;
        let course = course(&file(&system, &job, &[])).unwrap();
        let (known, lost) = system.again(&instruments, &course);
        assert_eq!((known.len(), lost.len()), (count, 0));
        let mut again = begin(&system, &network);
        again.enter_again(&known, &course.repairs, course.mistakes_since);
        same(&job, &again);
    }
    assert!(count > 2);
}

/// A wrong value corrected is the right value entered from the start; so is one corrected twice. The readings are those of a
/// burnt contact by hand: 12.6 V at the feed, 9 V behind the contact.
#[test]
fn a_corrected_reading_is_as_if_it_had_been_entered_so() {
    let system = small();
    let network = Network::new(&system.circuit.netlist);
    let instruments = system.instruments();
    let set_up = begin(&system, &network).standing().set_up;
    let mut right = begin(&system, &network);
    let mut wrong = begin(&system, &network);
    for (line, slip) in [("F1.out = 12.60", "12.60"), ("K1.87 = 9.00", "0.90"), ("K1.86 = 12.50", "12.50")] {
        let already = system.already(&instruments, line, &set_up).unwrap().unwrap();
        let probed = system.probed(&already.test);
        let answer = |text: &str| {
            let got = halfsplit::job::record::Got::Reads(text.to_owned());
            system.answer_named(&already.test, &probed, &got).unwrap()
        };
        right.answer(already.test.clone(), answer(&already.value));
        wrong.answer(already.test.clone(), answer(slip));
    }
    let correct = |number, text: &str| {
        let got = halfsplit::job::record::Got::Reads(text.to_owned());
        Record::Correct(halfsplit::job::record::Correction { number, got, held: None })
    };
    let differ = wrong.posterior().groups.first() != right.posterior().groups.first();
    assert!(differ, "the slip matters");
    let course = course(&file(&system, &wrong, &[correct(2, "3"), correct(2, "9.00")])).unwrap();
    let mut corrected = begin(&system, &network);
    corrected.enter_again(&system.again(&instruments, &course).0, &course.repairs, course.mistakes_since);
    same(&right, &corrected);
}

/// The whole program: in one go, and left after every line in turn. The findings for programs are the same to the last digit.
#[test]
fn a_job_left_and_taken_up_ends_as_one_in_one_go() {
    let folder = folder("resume");
    let lines = lines();
    let whole = folder.join("whole.yaml");
    let json = |job: &std::path::Path, lines: &[String]| {
        let arguments = ["diagnose", SMALL, "--job", job.to_str().unwrap(), "--format", "json"];
        fed(&mut program(&arguments), lines)
    };
    let in_one_go = json(&whole, &from_the_start(&lines));
    assert_eq!(in_one_go.code, Some(0), "{in_one_go}");
    let expected = typed_records(records(&whole));
    for left_after in 1..lines.len() {
        let job = folder.join(format!("{left_after}.yaml"));
        let (first, second) = lines.split_at(left_after);
        let ran = sitting(SMALL, &job, &from_the_start(first));
        assert_eq!(ran.code, Some(1), "{ran}");
        assert!(ran.stderr.contains("It goes on with:"), "{ran}");
        let ran = json(&job, second);
        assert_eq!(ran.stdout, in_one_go.stdout, "left after {left_after}: {ran}");
        assert_eq!(ran.code, Some(0), "{ran}");
        assert_eq!(typed_records(records(&job)), expected, "left after {left_after}");
    }
}

/// A finding stands; opened again, the job takes a correction and goes on.
#[test]
fn a_finished_job_can_be_corrected() {
    let folder = folder("finished");
    let job = folder.join("job.yaml");
    let ran = sitting(SMALL, &job, &from_the_start(&lines()));
    assert_eq!(ran.code, Some(0), "{ran}");
    let none: [&str; 0] = [];
    let before = records(&job);
    let again = sitting(SMALL, &job, &none);
    assert_eq!((again.code, &again.stdout), (Some(0), &ran.stdout), "{again}");
    assert_eq!(typed_records(records(&job)), typed_records(before), "the finding is not written twice");
    let number =
        records(&job).iter().filter_map(|r| if let Record::Reading(r) = r { Some(r.number) } else { None }).max();
    let corrected = sitting(SMALL, &job, &[format!("correct {} n", number.unwrap())]);
    assert!(corrected.stderr.contains("Corrected:"), "{corrected}");
    let last = typed_records(records(&job));
    assert!(last.iter().any(|r| matches!(r, Record::Correct(_))), "{corrected}");
}
