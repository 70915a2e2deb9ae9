//! One whole job at the keyboard, in a terminal (a pseudo-terminal) and line by line. The one who answers has the
//! circuit with its hidden fault: volts come from `halfsplit volts --fault`, lamps and looks from the network.

use super::program::{SMALL, program, run};
use super::screen::system;
use halfsplit::belief::{Predicted, Probe, predict};
use halfsplit::circuit::{Edit, SetUp};
use halfsplit::install::{PartId, PointId};
use halfsplit::job::System;
use halfsplit::job::record::OnBench;
use halfsplit::network::Network;
use halfsplit::show::text;
use halfsplit::units::Ohms;
use rexpect::process::WaitStatus;
use rexpect::reader::Options;
use rexpect::session::StreamSession;
use rexpect::{ReadUntil, spawn_stream, spawn_with_options};
use std::io::Write;
use std::ops::DerefMut;

const PART: &str = "K1";
const MODE: &str = "coil-open";

/// How a job can end, on the screen.
pub(super) const ENDS: [&str; 5] = ["FOUND", "THESE CANNOT BE TOLD APART", "DO NOT FIT", "OPEN:", "NO FAULT"];

/// The circuit with its fault, and who reads it.
pub(super) struct Bench {
    install: &'static str,
    fault: [&'static str; 2],
    system: System,
    edits: Vec<Edit>,
}

/// A test as parsed off the screen.
#[derive(Debug, Default)]
pub(super) struct Asked {
    switches: String,
    red: String,
    black: String,
    look: String,
    lamp: String,
}

/// Text without white space, for lines that were wrapped.
fn dense(text: &str) -> String {
    text.chars().filter(|c| !c.is_whitespace()).collect()
}

impl Asked {
    pub(super) fn parse(screen: &str) -> Self {
        let mut asked = Self::default();
        let mut field = "";
        for line in screen.lines().map(|l| l.trim_end_matches('\r')) {
            let (head, rest) = line.split_at_checked(10).unwrap_or((line, ""));
            if !head.trim().is_empty() {
                field = head.trim();
            }
            let into = match field {
                "Switches" => &mut asked.switches,
                "Red" => &mut asked.red,
                "Black" => &mut asked.black,
                "Look at" => &mut asked.look,
                "Test lamp" => &mut asked.lamp,
                _ => continue,
            };
            *into += &dense(rest);
        }
        asked
    }

    pub(super) fn is_volts(&self) -> bool {
        !self.red.is_empty()
    }
}

impl Bench {
    pub(super) fn new() -> Self {
        Self::of(SMALL, [PART, MODE])
    }

    /// An install with a fault in it.
    pub(super) fn of(install: &'static str, fault: [&'static str; 2]) -> Self {
        let system = system(install);
        let [part, mode] = fault;
        let id = system.fault(part, mode).unwrap_or_else(|| panic!("no fault {part} {mode}"));
        let edits = system.suspects.faults()[id].effect.edits(Ohms::ZERO);
        Self { install, fault, system, edits }
    }

    /// The same on the workshop bench.
    pub(super) fn on_bench(limit: f64) -> Self {
        let system = system(SMALL).on_bench(&OnBench { limit, dummies: Vec::new() }).unwrap();
        Self { system, ..Self::new() }
    }

    /// The same once it is repaired.
    pub(super) fn mended(self) -> Self {
        Self { edits: Vec::new(), ..self }
    }

    /// Switches as a test says them; what it does not name is at rest. Behind them stand the parts that are out.
    fn set_up(&self, said: &str) -> SetUp {
        let (switches, out) = said.split_once(';').map_or((said, None), |(switches, out)| (switches, Some(out)));
        let controls = &self.system.circuit.netlist.controls;
        let mut set_up = SetUp::at_rest(controls);
        for piece in switches.split(',').filter(|piece| !piece.starts_with("all")) {
            let mut named = self.system.install.controls.enumerate().flat_map(|(id, control)| {
                let at = self.system.circuit.control_of[id];
                control
                    .positions
                    .iter()
                    .enumerate()
                    .map(move |(p, word)| (at, p, dense(&format!("{} {word}", control.name))))
            });
            let (at, position, _) =
                named.find(|(.., name)| name == piece).unwrap_or_else(|| panic!("no switch {piece} in {said}"));
            set_up = set_up.with(at, position);
        }
        out.into_iter().flat_map(|out| out.split(';')).fold(set_up, |set_up, out| {
            let words = |id: PartId| {
                let parting = self.system.parting(id).into_iter();
                parting.flat_map(|parting| {
                    [Some(&parting.state), parting.bridging.as_ref().map(|bridging| &bridging.state)]
                        .into_iter()
                        .flatten()
                })
            };
            let all =
                self.system.install.parts.enumerate().flat_map(|(id, part)| words(id).map(move |word| (part, word)));
            let (part, word) = (all.into_iter())
                .find(|(part, word)| dense(&format!("{} {word}", part.label)) == out)
                .unwrap_or_else(|| panic!("no part for {out}"));
            self.system.switched(set_up, &format!("{}={word}", part.id)).unwrap()
        })
    }

    /// The point whose words a lead's text begins with; the longest counts.
    fn point(&self, said: &str) -> PointId {
        let points = self.system.install.points.ids();
        let named = points.map(|id| (dense(&text::point(&self.system, id)), id));
        let found = named.filter(|(name, _)| said.starts_with(name.as_str())).max_by_key(|(name, _)| name.len());
        found.unwrap_or_else(|| panic!("no point {said}")).1
    }

    /// What the program says that the meter shows.
    fn volts(&self, asked: &Asked) -> String {
        let set_up = self.set_up(&asked.switches);
        let mut arguments = ["volts", self.install, "--format", "json"].map(str::to_owned).to_vec();
        if !self.edits.is_empty() {
            arguments.extend(["--fault".to_owned(), self.fault.join(" ")]);
        }
        for (id, control) in self.system.install.controls.enumerate() {
            let at = self.system.circuit.control_of[id];
            let position = &control.positions[set_up.positions[at]];
            arguments.extend(["--on".to_owned(), format!("{}={position}", control.name)]);
        }
        for (part, word) in self.system.by_hand(&set_up) {
            arguments.extend(["--on".to_owned(), format!("{}={word}", self.system.install.parts[part].id)]);
        }
        let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
        let json = run(&arguments).json();
        let at = |lead: &str| json["points"][&self.system.install.points[self.point(lead)].name].as_f64();
        // A lead on metal that nothing joins to the supply shows nothing.
        match (at(&asked.red), at(&asked.black)) {
            (Some(red), Some(black)) => format!("{:.2}", red - black),
            _ => "0.00".to_owned(),
        }
    }

    /// The number of the likeliest word for what is seen.
    fn word(&self, asked: &Asked) -> String {
        let system = &self.system;
        let probe = if asked.lamp.is_empty() {
            let says = |(part, sight): &(PartId, usize)| {
                let (part, name) = (text::part(system, *part), &system.sights[*sight].name);
                dense(&if name.is_empty() { part } else { format!("{part}, {name}") })
            };
            let mut all = system.looks().into_iter().chain(system.inspections());
            let found = all.find(|look| says(look) == asked.look).map(|(_, s)| s);
            Probe::Look(found.unwrap_or_else(|| panic!("no part {}", asked.look)))
        } else {
            let (one, other) = asked.lamp.split_once("otherendon").unwrap();
            let [red, black] = [one.trim_start_matches("oneendon"), other].map(|lead| system.node(self.point(lead)));
            Probe::Light { instrument: system.instruments().test_lamp.unwrap(), red, black }
        };
        let network = Network::new(&system.circuit.netlist);
        let rest = SetUp::at_rest(&system.circuit.netlist.controls);
        let rest = network.enter(&self.edits, &network.fresh(), &rest).unwrap().remove(0).state;
        let state = network.enter(&self.edits, rest.memory(), &self.set_up(&asked.switches)).unwrap().remove(0).state;
        let Predicted::Words(shares) = predict(&network, &system.senses, &state, &probe, |e| rest.state(e)) else {
            panic!("{asked:?} is not answered by a word");
        };
        let best = (0..shares.len()).max_by(|a, b| shares[*a].total_cmp(&shares[*b])).unwrap();
        (best + 1).to_string()
    }

    pub(super) fn answer(&self, asked: &Asked) -> String {
        if asked.is_volts() { self.volts(asked) } else { self.word(asked) }
    }
}

/// A session and the key that ends a line in it.
pub(super) struct Talk<S> {
    pub(super) session: S,
    pub(super) enter: &'static str,
    /// All that was read, for messages of failures and for what must hold of every line.
    pub(super) log: String,
}

/// The complaint: the lamp is dark with S1 on.
pub(super) const COMPLAINT: [(&str, &str); 6] = [
    ("number, name or letter >", "lamp"),
    ("number or word >", "dark"),
    ("number >", "1"),
    ("number >", "1"),
    ("y or n >", "y"),
    ("1, or names >", "1"),
];

impl<W: Write, S: DerefMut<Target = StreamSession<W>>> Talk<S> {
    #[track_caller]
    pub(super) fn expect(&mut self, any: &[&str]) -> (String, String) {
        let needles = any.iter().map(|n| ReadUntil::String((*n).to_owned())).collect();
        let (before, found) = self
            .session
            .exp_any(needles)
            .unwrap_or_else(|e| panic!("wanted one of {any:?}: {e}\nso far:\n{}", self.log));
        self.log += &before;
        self.log += &found;
        (before, found)
    }

    pub(super) fn send(&mut self, line: &str) {
        self.session.send(line).unwrap();
        self.session.send(self.enter).unwrap();
        self.session.flush().unwrap();
    }

    /// Answers each prompt as it comes.
    #[track_caller]
    pub(super) fn say(&mut self, talk: &[(&str, &str)]) {
        for (prompt, line) in talk {
            self.expect(&[prompt]);
            self.send(line);
        }
    }

    /// Waits for test `number`; its screen, or `None` when the job has ended.
    #[track_caller]
    pub(super) fn screen(&mut self, number: usize) -> Option<String> {
        let title = format!("Test {number}, ");
        let needles: Vec<&str> = ENDS.into_iter().chain([title.as_str()]).collect();
        let (_, found) = self.expect(&needles);
        (found == title).then(|| self.expect(&["(h help) >"]).0)
    }

    /// The same, as parsed.
    #[track_caller]
    fn test(&mut self, number: usize) -> Option<Asked> {
        Some(Asked::parse(&self.screen(number)?))
    }

    /// A line that is refused or answered beside the job, and what that says; the prompt comes again.
    #[track_caller]
    fn aside(&mut self, line: &str, says: &str) {
        self.send(line);
        self.expect(&[says]);
        self.expect(&["(h help) >"]);
    }
}

/// The whole job: every refusal and command once, then readings until the finding. Gives what came after the last test.
fn whole_job<W: Write, S: DerefMut<Target = StreamSession<W>>>(talk: &mut Talk<S>) {
    let bench = Bench::new();
    talk.say(&COMPLAINT);
    let mut number = 1;
    let mut tried = false;
    let mut refused = false;
    while let Some(asked) = talk.test(number) {
        assert!(number < 40, "no end:\n{}", talk.log);
        if asked.is_volts() && !refused {
            // Nonsense on a 12 V system: too many volts, over range, no number.
            talk.aside("120", "decimal");
            talk.aside("OL", "higher");
            talk.aside("banana", "`banana`");
            refused = true;
        } else if !asked.is_volts() && number == 1 {
            talk.aside("banana", "one of:");
        }
        if tried {
            talk.send(&bench.answer(&asked));
        } else {
            tried = true;
            talk.aside("h", "undo");
            talk.aside("w", "would leave");
            talk.aside("s", "possible:");
            talk.send(&bench.answer(&asked));
            let Some(_) = talk.test(number + 1) else { return };
            talk.send("u");
            talk.expect(&["Taken back"]);
            let again = talk.test(number).unwrap();
            assert_eq!(again.switches, asked.switches);
            talk.send("n");
        }
        number += 1;
    }
    assert!(refused, "no test in volts was asked:\n{}", talk.log);
}

pub(super) fn options() -> Options {
    Options::new().timeout_ms(Some(30_000)).strip_ansi_escape_codes(true)
}

#[test]
fn a_whole_job_in_a_terminal_ends_with_the_finding() {
    let mut command = program();
    command.args(["diagnose", SMALL, "--unrecorded"]).env("TERM", "xterm");
    let mut session = spawn_with_options(command, options()).unwrap();
    let mut talk = Talk { session: &mut *session, enter: "\r", log: String::new() };
    whole_job(&mut talk);
    let (said, _) = talk.expect(&["Repaired?"]);
    assert!(said.contains("K1: open coil"), "{}", talk.log);
    talk.send("");
    let log = talk.log;
    let end = session.exp_eof().unwrap();
    assert!(matches!(session.process().wait(), Ok(WaitStatus::Exited(_, 0))), "{log}{end}");
}

#[test]
fn leaving_in_a_terminal_ends_without_a_verdict() {
    let mut command = program();
    command.args(["diagnose", SMALL, "--unrecorded"]).env("TERM", "xterm");
    let mut session = spawn_with_options(command, options()).unwrap();
    let mut talk = Talk { session: &mut *session, enter: "\r", log: String::new() };
    talk.say(&COMPLAINT);
    talk.test(1).unwrap();
    talk.send("q");
    talk.expect(&["OPEN:"]);
    let end = session.exp_eof().unwrap();
    assert!(matches!(session.process().wait(), Ok(WaitStatus::Exited(_, 1))), "{end}");
}

#[test]
fn a_whole_job_line_by_line_ends_with_the_finding() {
    let (reader, writer) = std::io::pipe().unwrap();
    let mut command = program();
    command.args(["diagnose", SMALL]).stdin(std::process::Stdio::piped());
    command.stdout(writer.try_clone().unwrap()).stderr(writer);
    let mut child = command.spawn().unwrap();
    // The command holds the other end of the pipe too: without it the session ends with the program.
    drop(command);
    let mut session = spawn_stream(reader, child.stdin.take().unwrap(), Some(60_000));
    let mut talk = Talk { session: &mut session, enter: "\n", log: String::new() };
    whole_job(&mut talk);
    let (said, _) = talk.expect(&["Repaired?"]);
    assert!(said.contains("K1: open coil"), "{}", talk.log);
    talk.send("");
    let log = talk.log;
    let end = session.exp_eof().unwrap();
    assert_eq!(child.wait().unwrap().code(), Some(0), "{log}{end}");
    for line in log.lines().chain(end.lines()) {
        assert!(line.chars().count() <= 56, "wider than the screen: {line}");
    }
}
