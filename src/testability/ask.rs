//! A job from its complaint to its verdict: the engine asks, the person at the mock-up answers.

use crate::belief::{Answer, Probe, Verdict};
use crate::bench::{Instrument, Person, Said};
use crate::choice::Test;
use crate::circuit::Sighted;
use crate::job::{Diagnosis, Entry, Next, System, Typed};
use crate::network;

/// Tests after which a trial ends as undecided.
const MOST_TESTS: usize = 40;

/// Takes tests until there is a verdict or enough have been taken. After a misfit, mistakes of wiring are asked in once, as
/// for a person at the keyboard.
///
/// `choose` has the free choice of the next test before the engine (`Diagnosis::next_by`). After the complaint and after each
/// test `note` sees the job.
pub(super) fn ask<'n>(
    job: &mut Diagnosis<'n>,
    person: &mut Person<'_>,
    mut choose: impl FnMut(&Diagnosis<'n>) -> Option<Test>,
    mut note: impl FnMut(&Diagnosis<'n>),
) -> Verdict {
    let mut asked = 0;
    note(job);
    while asked < MOST_TESTS {
        match job.next_by(&mut choose) {
            Next::Take(ranked) => {
                let answer = answer(job.system(), person, &ranked.test).unwrap_or(Answer::NotTaken);
                job.answer(ranked.test, answer);
                note(job);
                asked += 1;
            }
            Next::Stop(Verdict::Misfit(_)) if job.ask_mistakes_in() => note(job),
            Next::Stop(end) => return end,
        }
    }
    Verdict::Open
}

/// What the person says to a test. `None`: it cannot be taken.
fn answer(system: &System, person: &mut Person<'_>, test: &Test) -> Option<Answer> {
    let said = match &test.probe {
        Probe::Volts { instrument, red, black, .. } => person.volts(&test.set_up, own(instrument), *red, *black),
        Probe::Light { instrument, red, black } => {
            person.light(&test.set_up, own(instrument), (*red, *black), system.tester_words()?)
        }
        Probe::Look(sight) => {
            let looked_at = system.sights.get(*sight)?;
            let same = |s: &Sighted| s.part == looked_at.part && s.sight == looked_at.kind_sight;
            let position = system.circuit.sights.iter().position(same)?;
            person.look(&test.set_up, position, system.words(*sight)?)
        }
        Probe::Ohms { red, black } => person.ohms(&test.set_up, *red, *black),
        Probe::Amps { element, .. } => person.amps(&test.set_up, *element),
    };
    match said.ok()? {
        Said::Volts(value, digit) | Said::Amps(value, digit) => {
            system.reading(&test.probe, &Typed::Values(vec![Entry { value, digit }]))
        }
        Said::Ohms(Some((value, digit))) => system.reading(&test.probe, &Typed::Values(vec![Entry { value, digit }])),
        Said::Ohms(None) => system.reading(&test.probe, &Typed::OverRange),
        Said::Jumps => Some(Answer::Unsteady),
        Said::Word(word) => Some(Answer::Word(word)),
    }
}

/// An instrument of the engine as the mock-up has it.
fn own(instrument: &network::Instrument) -> Instrument {
    match instrument {
        network::Instrument::Voltmeter(ohms) => Instrument::Voltmeter(*ohms),
        network::Instrument::TestLamp { hot, nominal } => Instrument::Lamp { hot: *hot, nominal: *nominal },
        network::Instrument::LedTester { forward, series } => Instrument::Led { forward: *forward, series: *series },
    }
}
