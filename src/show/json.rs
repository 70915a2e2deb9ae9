//! The same data for machines: stable keys, and the version of the format.

use crate::belief::{Answer, OPEN_OHMS, Predicted, Probe, Verdict};
use crate::choice::{Ranked, Target, Test};
use crate::circuit::{ControlId, SetUp};
use crate::diagnostic::{Diagnostic, Report, Severity};
use crate::document::Source;
use crate::job::{Culprit, Diagnosis, Next, System};
use crate::network::Instrument;
use crate::suspects::{FaultId, SuspectId};
use serde_json::{Map, Value, json};

/// Version of the format of all JSON output.
pub const FORMAT: u32 = 1;

/// What is wrong with a file.
pub fn report(report: &Report, source: &Source) -> Value {
    let one = |d: &&Diagnostic| {
        json!({
            "severity": match d.severity { Severity::Error => "error", Severity::Warning => "warning" },
            "code": d.code,
            "message": d.message,
            "line": d.span.line,
            "column": d.span.column,
            "hints": d.hints,
        })
    };
    let sorted = report.sorted();
    json!({
        "format": FORMAT,
        "file": source.name(),
        "errors": report.errors(),
        "not_shown": report.left_out(),
        "problems": sorted.iter().map(one).collect::<Vec<_>>(),
    })
}

/// A job as it stands: verdict, suspects, readings, the next test.
pub fn diagnosis(job: &Diagnosis<'_>, next: &Next, unused: &[String]) -> Value {
    let (verdict, test) = match next {
        Next::Stop(verdict) => (Some(verdict), None),
        Next::Take(ranked) => (None, Some(ranked)),
    };
    let mut value = json!({
        "format": FORMAT,
        "install": job.system().install.title,
        "verdict": verdict.map_or("open", verdict_key),
        "suspects": job.culprits(50, 1e-4).iter().map(|c| culprit(job.system(), c)).collect::<Vec<_>>(),
        "something_not_modelled": job.posterior().unknown,
        "next": test.map(|r| ranked(job.system(), r)),
        "readings": readings(job),
        "doubtful": super::doubt::value(job),
        "unused": unused,
        "minutes": job.minutes().get(),
    });
    if let Some(learnt) = &job.system().learnt {
        value["history"] = super::history::learnt_json(learnt);
    }
    if verdict == Some(&Verdict::NoFault) {
        value["no_fault"] = super::no_fault::value(job);
    }
    if verdict == Some(&Verdict::Open) && job.nothing_leads() {
        value["no_fault_shown"] = super::no_fault::value(job);
    }
    if let Some(Verdict::Misfit(Some(doubtful))) = verdict {
        let again = job.taken_as(*doubtful).map(|t| test_value(job.system(), &t.test));
        value["take_again"] = json!(again);
        value["take_instead"] = super::doubt::instead(job, *doubtful);
    }
    value
}

pub(super) fn verdict_key(verdict: &Verdict) -> &'static str {
    match verdict {
        Verdict::Found(_) => "found",
        Verdict::Ambiguous(_) => "ambiguous",
        Verdict::NoFault => "no_fault",
        Verdict::Cured => "cured",
        Verdict::Misfit(_) => "misfit",
        Verdict::Open => "open",
    }
}

pub(super) fn fault(system: &System, id: FaultId) -> Value {
    let fault = &system.suspects.faults()[id];
    json!({"part": fault.part, "mode": fault.mode})
}

pub(super) fn culprit(system: &System, culprit: &Culprit) -> Value {
    let mut value = json!({
        "faults": culprit.faults.iter().map(|f| fault(system, *f)).collect::<Vec<_>>(),
        "probability": culprit.probability,
        "also": culprit.also.iter().map(|f| fault(system, *f)).collect::<Vec<_>>(),
        "consequences": culprit.consequences,
    });
    if let Some((low, high)) = culprit.ohms {
        value["ohms"] = json!([low.get(), high.get()]);
    }
    value
}

fn ranked(system: &System, ranked: &Ranked) -> Value {
    let mut value = test_value(system, &ranked.test);
    value["minutes"] = json!(ranked.minutes.get());
    value["bits"] = json!(ranked.bits);
    value
}

pub(super) fn test_value(system: &System, test: &Test) -> Value {
    let mut map = Map::new();
    map.insert("with".to_owned(), set_up(system, &test.set_up));
    let point = |p| json!(system.install.points[p].name);
    match (&test.probe, &test.at) {
        (Probe::Look(sight), Target::Part(_)) => {
            let name = system.sights.get(*sight).map_or_else(String::new, |s| system.sight_name(s));
            map.insert("look".to_owned(), json!(name));
        }
        (Probe::Amps { .. }, Target::Part(part)) => {
            map.insert("instrument".to_owned(), json!("clamp meter"));
            map.insert("amps".to_owned(), json!(system.install.parts[*part].id));
        }
        (probe, Target::Points { red, black }) => {
            let instrument = match probe {
                Probe::Volts { instrument, .. } | Probe::Light { instrument, .. } => match instrument {
                    Instrument::Voltmeter(_) => "voltmeter",
                    Instrument::TestLamp { .. } => "test lamp",
                    Instrument::LedTester { .. } => "LED tester",
                },
                Probe::Amps { .. } => "ammeter",
                Probe::Ohms { .. } => "ohmmeter",
                Probe::Look(_) => "eye",
            };
            map.insert("instrument".to_owned(), json!(instrument));
            map.insert("red".to_owned(), point(*red));
            map.insert("black".to_owned(), point(*black));
        }
        (_, Target::Part(part)) => {
            map.insert("part".to_owned(), json!(system.install.parts[*part].id));
        }
    }
    Value::Object(map)
}

/// The controls of a set-up that are not at rest, and the parts that are taken out or bridged.
pub fn set_up(system: &System, set_up: &SetUp) -> Value {
    let mut map = Map::new();
    for (id, control) in system.install.controls.enumerate() {
        let at: ControlId = system.circuit.control_of[id];
        let position = set_up.positions.get(at).copied().unwrap_or(0);
        if position != system.circuit.netlist.controls[at].rest {
            let name = control.positions.get(position).cloned().unwrap_or_default();
            map.insert(control.name.clone(), json!(name));
        }
    }
    for (part, state) in system.by_hand(set_up) {
        map.insert(system.install.parts[part].id.clone(), json!(state));
    }
    Value::Object(map)
}

fn readings(job: &Diagnosis<'_>) -> Vec<Value> {
    let system = job.system();
    let mut list = Vec::new();
    for (i, taken) in job.taken().iter().enumerate() {
        let mut value = test_value(system, &taken.test);
        value["read"] = answer(system, &taken.answer, &taken.test.probe);
        value["expected"] = json!(job.expected(i).map(|p| expected(system, &p, &taken.test.probe)));
        value["weakened"] = json!(weakened(job, &job.told()[i].ruled_out));
        value["minutes"] = json!(taken.minutes.get());
        value["complaint"] = json!(taken.complaint);
        list.push(value);
    }
    list
}

fn weakened(job: &Diagnosis<'_>, suspects: &[SuspectId]) -> Vec<Value> {
    let faults = suspects.iter().flat_map(|s| &job.belief().suspects().list()[*s].faults);
    faults.map(|f| fault(job.system(), *f)).collect()
}

pub(super) fn answer(system: &System, answer: &Answer, probe: &Probe) -> Value {
    match answer {
        Answer::Number { value, .. } => number(probe, *value),
        Answer::Between(low, high) => json!([number(probe, *low), number(probe, *high)]),
        Answer::Unsteady => json!("jumps"),
        Answer::Word(_) => json!(super::answer::given(system, answer, probe)),
        Answer::NotTaken => Value::Null,
    }
}

/// A number in volts, amps or ohms.
fn number(probe: &Probe, value: f64) -> Value {
    match probe {
        Probe::Ohms { .. } if 10_f64.powf(value) >= 0.5 * OPEN_OHMS => json!("OL"),
        Probe::Ohms { .. } => json!(10_f64.powf(value)),
        Probe::Volts { .. } | Probe::Amps { .. } | Probe::Light { .. } | Probe::Look(_) => json!(value),
    }
}

pub(super) fn expected(system: &System, predicted: &Predicted, probe: &Probe) -> Value {
    match predicted {
        Predicted::Number { mean, floating: false, jumps } if *jumps < 0.5 => number(probe, *mean),
        other => json!(super::test::would_show(system, probe, other)),
    }
}
