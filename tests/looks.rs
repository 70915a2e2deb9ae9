//! What is seen of a part as evidence: the odds after a look are those before it times the ratio of the words' shares
//! (Bayes 1763), with the shares of `knowledge/words.yaml` by hand: `(1 - c) p + c / n` of `n` words with the share `c` of
//! contradictions.

use halfsplit::belief::{Answer, Probe, Verdict};
use halfsplit::choice::{Target, Test, minutes};
use halfsplit::circuit::SetUp;
use halfsplit::document::Source;
use halfsplit::install::load;
use halfsplit::job::record::OnBench;
use halfsplit::job::{Diagnosis, Next, System};
use halfsplit::knowledge::Knowledge;
use halfsplit::network::Network;

/// The small install of `tests/cli`: a lamp behind a relay.
fn system() -> System {
    let text = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/cli/small.yaml")).unwrap();
    let (install, _) = load(&Source::new("small.yaml", text), &Knowledge::built_in()).unwrap();
    System::new(install).unwrap()
}

/// A job on the lamp that is dark with S1 on.
fn job<'n>(system: &'n System, network: &'n Network<'n>) -> Diagnosis<'n> {
    let (lamp, control) = (system.part("lamp").unwrap(), system.circuit.netlist.controls.ids().next().unwrap());
    let on = SetUp::at_rest(&system.circuit.netlist.controls).with(control, 1);
    let sight = system.sight(lamp).unwrap();
    let word = system.words(sight).unwrap().word("dark").unwrap();
    let fact = halfsplit::job::Fact { set_up: on.clone(), sight, word, wrong: true };
    let complaint = halfsplit::job::Complaint {
        what: vec![lamp],
        facts: vec![fact],
        set_up: on.clone(),
        usual: on,
        occasion: None,
        history: None,
        reported: false,
    };
    Diagnosis::begin(system, network, system.instruments(), complaint, 1).unwrap()
}

fn look(job: &Diagnosis<'_>, name: &str) -> Test {
    let system = job.system();
    let sight = system.sight_called(name).unwrap_or_else(|| panic!("no sight {name}"));
    let set_up = job.standing().set_up;
    Test { set_up, probe: Probe::Look(sight), at: Target::Part(system.sights[sight].part) }
}

fn see(job: &mut Diagnosis<'_>, name: &str, word: &str) {
    let test = look(job, name);
    let Probe::Look(sight) = test.probe else { unreachable!() };
    let word = job.system().words(sight).unwrap().word(word).unwrap();
    job.answer(test, Answer::Word(word));
}

fn share(job: &Diagnosis<'_>, part: &str, mode: &str) -> f64 {
    let suspect = job.belief().suspects().single(part, mode).unwrap_or_else(|| panic!("no {part} {mode}"));
    job.posterior().probability[suspect]
}

#[track_caller]
fn near(is: f64, by_hand: f64) {
    assert!((is / by_hand - 1.0).abs() < 1e-6, "{is}, by hand {by_hand}");
}

/// `terminal`: loose 0.62 of a loose end, 0.015 of a sound one; four words, 1 % contradictions.
#[test]
fn a_loose_terminal_raises_its_joint_by_the_ratio_of_the_words() {
    let system = system();
    let network = Network::new(&system.circuit.netlist);
    let mut job = job(&system, &network);
    let odds = |job: &Diagnosis<'_>| share(job, "feed/2.a", "loose") / share(job, "K1", "coil-open");
    let unknown = |job: &Diagnosis<'_>| job.posterior().unknown / share(job, "K1", "coil-open");
    let before = (odds(&job), unknown(&job));
    see(&mut job, "feed/2.a.metal", "loose");
    near(odds(&job) / before.0, (0.99 * 0.62 + 0.0025) / (0.99 * 0.015 + 0.0025));
    // Something that is not modelled leaves no marks: a look says nothing for or against it.
    near(unknown(&job) / before.1, 1.0);
    assert!(share(&job, "feed/2.a", "loose") < 0.9, "one look does not convict it");
}

/// `fuse`: blown 0.92 of one that has opened, 0.02 of a whole one; two words, 1 % contradictions.
#[test]
fn a_blown_fuse_is_no_evidence_between_its_age_and_the_short_that_blew_it() {
    let system = system();
    let network = Network::new(&system.circuit.netlist);
    let mut job = job(&system, &network);
    let short = system.possible.iter().find(|f| f.mode == "short-to-earth" && f.part_id.starts_with("lamp/")).unwrap();
    let shorted = |job: &Diagnosis<'_>| share(job, &short.part_id, &short.mode) / share(job, "F1", "blown");
    let open = |job: &Diagnosis<'_>| share(job, "F1", "holder-open") / share(job, "F1", "blown");
    let before = (shorted(&job), open(&job));
    see(&mut job, "F1", "blown");
    near(shorted(&job) / before.0, 1.0);
    near(open(&job) / before.1, (0.99 * 0.02 + 0.005) / (0.99 * 0.92 + 0.005));
    // `fuse taken out`: 0.008 against 0.975, 0.4 % contradictions.
    let before = open(&job);
    see(&mut job, "F1.taken out", "blown");
    near(open(&job) / before, (0.996 * 0.008 + 0.002) / (0.996 * 0.975 + 0.002));
    assert!(open(&job) < 2e-3, "the two are told apart: {}", open(&job));
}

/// A mark is the same in every set-up: it is looked for once, and never again where it could not be seen.
#[test]
fn marks_are_looked_for_once() {
    let system = system();
    let network = Network::new(&system.circuit.netlist);
    let mut job = job(&system, &network);
    let is_offered = |job: &Diagnosis<'_>, name: &str| {
        let probe = look(job, name).probe;
        job.ranked().iter().any(|r| r.test.probe == probe)
    };
    // Nobody is sent to the roof for a look; who has been there anyway looks.
    assert!(!is_offered(&job, "lamp.bulb"), "a look has no way of its own");
    for (name, word) in [("lamp", "dark"), ("lamp.bulb", "whole")] {
        see(&mut job, name, word);
    }
    assert!(!is_offered(&job, "lamp.bulb"), "once");
    see(&mut job, "F1", "whole");
    for (name, answer) in [("F1.clips", Some("clean")), ("feed/2.a.metal", None)] {
        assert!(is_offered(&job, name), "{name} tells something");
        match answer {
            Some(word) => see(&mut job, name, word),
            None => {
                job.answer(look(&job, name), Answer::NotTaken);
            }
        }
        assert!(!is_offered(&job, name), "{name} is asked for once");
    }
}

/// Who cannot see one terminal at a place does not see the others there: a look like it is not asked for, others are.
#[test]
fn what_cannot_be_seen_is_not_asked_for_in_near_copies() {
    let system = system();
    let network = Network::new(&system.circuit.netlist);
    let mut job = job(&system, &network);
    let here = |job: &Diagnosis<'_>, sight: usize| {
        let (table, cost) = (&job.system().sights[sight].table, &job.system().looks[sight]);
        (table.ask.clone(), cost.places.clone())
    };
    let offered = |job: &Diagnosis<'_>| -> Vec<usize> {
        let looks = job.ranked().into_iter().filter_map(|r| match r.test.probe {
            Probe::Look(sight) if system.is_inspection(sight) => Some(sight),
            _ => None,
        });
        looks.collect()
    };
    // A look at the fuse brings the person to where terminals are.
    see(&mut job, "F1", "whole");
    let before = offered(&job);
    let like = |job: &Diagnosis<'_>, one: usize, other: usize| {
        let (one, other) = (here(job, one), here(job, other));
        one.0 == other.0 && one.1.iter().any(|place| other.1.contains(place))
    };
    let copies = |one: &usize| before.iter().filter(|other| like(&job, *one, **other)).count();
    let one = *before.iter().find(|one| copies(one) > 1).expect("two terminals at one place are offered");
    let left = before.len() - copies(&one);
    let name = system.sight_name(&system.sights[one]);
    job.answer(look(&job, &name), Answer::NotTaken);
    let after = offered(&job);
    assert!(after.iter().all(|other| !like(&job, one, *other)), "{name} again");
    assert!(left == 0 || !after.is_empty(), "looks of another kind stay");
}

/// Looks alone convict nothing: all that can be seen of one part speaks against it, everything else looks sound, and still no
/// part is named; a reading has to come first. True of every part that leaves marks.
#[test]
fn looks_alone_find_nothing() {
    let system = system();
    let network = Network::new(&system.circuit.netlist);
    let mut tried = 0;
    let parts: std::collections::BTreeSet<_> = system.inspections().into_iter().map(|(part, _)| part).collect();
    for part in parts {
        let mut job = job(&system, &network);
        for (of, sight) in system.inspections() {
            let halfsplit::belief::Shown::Marks(marks) = &system.senses.sights[sight].shown else { unreachable!() };
            let most = |row: &[f64]| (0..row.len()).max_by(|a, b| row[*a].total_cmp(&row[*b])).unwrap();
            // The word that speaks most against the part: the greatest ratio to a sound one.
            let against = |word: &usize| {
                marks.of.values().flatten().map(|row| row[*word] / marks.sound[*word]).fold(0.0, f64::max)
            };
            let word = if of == part {
                (0..marks.sound.len()).max_by(|a, b| against(a).total_cmp(&against(b))).unwrap()
            } else {
                most(&marks.sound)
            };
            let set_up = job.standing().set_up;
            job.answer(Test { set_up, probe: Probe::Look(sight), at: Target::Part(of) }, Answer::Word(word));
        }
        let id = &system.install.parts[part].id;
        assert!(!matches!(job.next(), Next::Stop(Verdict::Found { .. })), "{id} was found by looks alone");
        tried += 1;
    }
    assert!(tried > 5, "{tried} parts leave marks");
}

/// Bulb out on the roof, from the cab: 3 min of way, nothing to open, 0.8 min of handling. A wire of 4 m between roof and cab:
/// the way to the roof, 0.2 min and 0.1 min a metre.
#[test]
fn a_look_costs_its_way_and_its_handling() {
    let system = system();
    let network = Network::new(&system.circuit.netlist);
    let mut job = job(&system, &network);
    let cost = |job: &Diagnosis<'_>, name: &str| minutes(&system.install, &job.standing(), &look(job, name)).get();
    see(&mut job, "F1.rating", "right");
    near(cost(&job, "lamp.bulb"), 3.8);
    near(cost(&job, "lamp/3.outside"), 3.6);
}

/// A short on the vehicle blew a fuse of 20 A there; the 10 A of the bench would not have. It comes in blown all the same.
#[test]
fn what_blew_on_the_vehicle_comes_in_blown() {
    let bench = OnBench { limit: 10.0, dummies: Vec::new() };
    let system = system().on_bench(&bench).unwrap();
    let network = Network::new(&system.circuit.netlist);
    let mut job = job(&system, &network);
    let before = share(&job, "lamp/3", "short-to-earth");
    see(&mut job, "F1", "blown");
    assert!(share(&job, "lamp/3", "short-to-earth") > 5.0 * before, "the short explains a blown fuse");
    // 55 W at 12.6 V are 4.5 A (I ~ V^0.55): inside 10 A, beyond 4 A.
    assert!(!system.exceeds_limit(&job.complaint().usual));
    let low = self::system().on_bench(&OnBench { limit: 4.0, ..bench }).unwrap();
    assert!(low.exceeds_limit(&job.complaint().usual));
    assert!(low.install.places.iter().all(|p| p.access.get() + p.open.get() < 1e-9));
}

/// A dummy lamp of 21 W in the place of the load: 144 / 21 ohms hot.
#[test]
fn a_dummy_lamp_stands_in_for_a_load() {
    let bench = OnBench { limit: 10.0, dummies: vec!["lamp".to_owned()] };
    let system = system().on_bench(&bench).unwrap();
    let sight = &system.circuit.sights[system.sight(system.part("lamp").unwrap()).unwrap()];
    near(sight.nominal, 21.0);
    let wrong = OnBench { limit: 10.0, dummies: vec!["lmp".to_owned()] };
    let says = self::system().on_bench(&wrong).err().unwrap().says();
    assert!(says.contains("did you mean `lamp`?"), "{says}");
    let lines = system.before_power(&bench);
    assert!(lines.iter().any(|l| l.contains("10 A")) && lines.iter().any(|l| l.contains("lamp")), "{lines:?}");
}
