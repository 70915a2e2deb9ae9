//! A job at a terminal (a pseudo-terminal): recorded beside the install of its own accord, kept when the person leaves.

use super::script::{COMPLAINT, PROMPT, SMALL, folder, path, program, records};
use halfsplit::job::record::Record;
use rexpect::process::WaitStatus;
use rexpect::reader::Options;
use rexpect::session::PtySession;
use rexpect::spawn_with_options;

fn options() -> Options {
    Options::new().timeout_ms(Some(60_000)).strip_ansi_escape_codes(true)
}

fn terminal(arguments: &[&str]) -> PtySession {
    let mut command = program(arguments);
    command.env("TERM", "xterm");
    spawn_with_options(command, options()).unwrap()
}

fn say(session: &mut PtySession, prompt: &str, line: &str) {
    session.exp_string(prompt).unwrap();
    session.send(line).unwrap();
    session.send("\r").unwrap();
    session.flush().unwrap();
}

#[test]
fn a_job_at_a_terminal_is_recorded_beside_the_install_and_kept() {
    let folder = folder("terminal");
    let install = folder.join("lorry.yaml");
    std::fs::copy(path(SMALL), &install).unwrap();
    let install = install.to_str().unwrap();
    let mut session = terminal(&["diagnose", install]);
    session.exp_string("Recorded in").unwrap();
    let prompts = ["record >", "name or letter >", "or word >", "number >", "number >", "y or n >", "names >"];
    for (prompt, line) in prompts.into_iter().zip(COMPLAINT) {
        say(&mut session, prompt, line);
    }
    say(&mut session, PROMPT, "n");
    // Ctrl-C asks; Enter goes on. The line that was typed is drawn again with its prompt: the next test is waited for.
    session.exp_string("Test 2").unwrap();
    session.exp_string(PROMPT).unwrap();
    session.send_control('c').unwrap();
    say(&mut session, "Enter goes on >", "");
    // Ctrl-D asks too, and y leaves.
    session.exp_string(PROMPT).unwrap();
    session.send_control('d').unwrap();
    session.exp_string("The job is kept in").unwrap();
    say(&mut session, "Enter goes on >", "y");
    session.exp_string("It goes on with:").unwrap();
    session.exp_eof().unwrap();
    assert!(matches!(session.process().wait(), Ok(WaitStatus::Exited(_, 1))));
    let jobs: Vec<_> = std::fs::read_dir(&folder)
        .unwrap()
        .map(|e| e.unwrap().path())
        .filter(|p| p.to_str().unwrap().ends_with(".job.yaml"))
        .collect();
    let [job] = &jobs[..] else { panic!("{jobs:?}") };
    let name = job.file_name().unwrap().to_str().unwrap();
    assert!(name.starts_with("lorry.20") && name.len() == "lorry.2026-11-25.job.yaml".len(), "{name}");
    let last = records(job);
    assert!(last.iter().any(|r| matches!(r, Record::Reading(_))));
    assert!(matches!(last.last(), Some(Record::Left(_))));

    // The next job of the day has a file of its own; the first one is named. Left at once, it leaves no file.
    let mut session = terminal(&["diagnose", install]);
    session.exp_string("stays as it is").unwrap();
    say(&mut session, "record >", "q");
    session.exp_eof().unwrap();
    assert_eq!(std::fs::read_dir(&folder).unwrap().count(), 2);

    // Taken up with its name.
    let mut session = terminal(&["diagnose", install, "--job", job.to_str().unwrap()]);
    session.exp_string("1 reading so far").unwrap();
    session.exp_string("Test 2").unwrap();
    say(&mut session, PROMPT, "q");
    session.exp_eof().unwrap();
}

/// Without an install file: eight questions, each with what Enter takes; Ctrl-C asks before it leaves; the job is recorded in a
/// dated file where the person stands, and goes on with that alone.
#[test]
fn a_job_without_an_install_file_at_a_terminal() {
    let folder = folder("terminal without");
    let start = |arguments: &[&str]| {
        let mut command = program(arguments);
        command.env("TERM", "xterm").current_dir(&folder);
        spawn_with_options(command, options()).unwrap()
    };
    let mut session = start(&["diagnose"]);
    session.exp_string("Recorded in circuit.20").unwrap();
    session.exp_string("[12] >").unwrap();
    session.send_control('c').unwrap();
    session.exp_string("Nothing is recorded yet.").unwrap();
    say(&mut session, "Enter goes on >", "");
    let answers = ["", "work lamp 55 W", "10", "board", "", "", "", ""];
    let prompts = ["[12] >", "55 W] >", "[7.5 A] >", "[none] >", "switch] >", "[chassis] >", "[none] >", "[no] >"];
    for (prompt, line) in prompts.into_iter().zip(answers) {
        say(&mut session, prompt, line);
    }
    session.exp_string("Assumed:").unwrap();
    let prompts = ["record >", "name or letter >", "or word >", "number >", "number >", "y or n >", "names >"];
    for (prompt, line) in prompts.into_iter().zip(["", "1", "dark", "1", "1", "y", "1"]) {
        say(&mut session, prompt, line);
    }
    say(&mut session, PROMPT, "n");
    say(&mut session, PROMPT, "q");
    say(&mut session, "Enter: no >", "kept.yaml");
    session.exp_string("Kept in kept.yaml").unwrap();
    session.exp_eof().unwrap();
    let names: Vec<String> =
        std::fs::read_dir(&folder).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
    let job = names.iter().find(|name| name.ends_with(".job.yaml")).unwrap_or_else(|| panic!("{names:?}"));
    let mut session = start(&["diagnose", "--job", job]);
    session.exp_string("1 reading so far").unwrap();
    say(&mut session, PROMPT, "q");
    say(&mut session, "Enter: no >", "");
    session.exp_eof().unwrap();
}

/// A question that stands while the window is made smaller and larger again takes its answer all the same. `stty` on the terminal of
/// the program sets its size, which sends SIGWINCH (`ioctl_tty(2)`).
#[test]
fn a_window_may_be_resized_in_the_middle_of_a_question() {
    let folder = folder("terminal-resized");
    let tty = folder.join("tty");
    let job = folder.join("job.yaml");
    let command = format!(
        "tty > {}; exec {} diagnose {} --job {}",
        tty.display(),
        env!("CARGO_BIN_EXE_halfsplit"),
        path(SMALL).display(),
        job.display()
    );
    let mut shell = std::process::Command::new("sh");
    shell.args(["-c", &command]).env("TERM", "xterm").env_remove("NO_COLOR");
    let mut session = spawn_with_options(shell, options()).unwrap();
    session.exp_string("record >").unwrap();
    let name = std::fs::read_to_string(&tty).unwrap();
    let resize = |columns: &str, rows: &str| {
        let set = std::process::Command::new("stty").args(["-F", name.trim(), "cols", columns, "rows", rows]).status();
        assert!(set.unwrap().success());
    };
    session.send("\r").unwrap();
    session.flush().unwrap();
    for (prompt, line) in
        ["name or letter >", "or word >", "number >", "number >", "y or n >"].into_iter().zip(&COMPLAINT[1..])
    {
        say(&mut session, prompt, line);
    }
    session.exp_string("names >").unwrap();
    for (columns, rows) in [("40", "12"), ("20", "5"), ("132", "50"), ("60", "24")] {
        resize(columns, rows);
    }
    session.send("1\r").unwrap();
    session.flush().unwrap();
    session.exp_string(PROMPT).unwrap();
    // Half an answer, a resize, the other half.
    session.send("12").unwrap();
    session.flush().unwrap();
    resize("30", "10");
    session.send(".4\r").unwrap();
    session.flush().unwrap();
    say(&mut session, PROMPT, "q");
    session.exp_eof().unwrap();
    let all = records(&job);
    assert!(all.iter().any(|r| matches!(r, Record::Complaint(_))), "{all:?}");
}

/// A terminal that can redraw nothing gets nothing but lines: no escape, and what is typed once.
#[test]
fn a_dumb_terminal_and_a_screen_reader_get_plain_lines() {
    for (term, arguments) in [
        ("dumb", vec!["diagnose", SMALL, "--unrecorded"]),
        ("xterm", vec!["diagnose", SMALL, "--unrecorded", "--lines"]),
    ] {
        let mut command = program(&arguments);
        command.env("TERM", term).env("NO_COLOR", "1");
        let mut session = spawn_with_options(command, Options::new().timeout_ms(Some(60_000))).unwrap();
        let mut seen = String::new();
        for (prompt, line) in ["name or letter >", "or word >", "number >", "number >", "y or n >", "names >"]
            .into_iter()
            .zip(&COMPLAINT[1..])
        {
            seen += &session.exp_string(prompt).unwrap();
            session.send(line).unwrap();
            session.send("\r").unwrap();
            session.flush().unwrap();
        }
        seen += &session.exp_string(PROMPT).unwrap();
        session.send("q\r").unwrap();
        session.flush().unwrap();
        seen += &session.exp_eof().unwrap();
        assert!(!seen.contains('\u{1b}'), "{term}: {seen:?}");
        assert!(!seen.contains("lamp\r\nlamp"), "{term}: echoed twice: {seen:?}");
    }
}

/// A number at a question that takes letters is answered with the letters.
#[test]
fn what_is_typed_wrong_is_answered_with_what_would_be_accepted() {
    let mut session = terminal(&["diagnose", SMALL, "--unrecorded"]);
    for (prompt, line) in ["name or letter >", "or word >", "number >", "number >"].into_iter().zip(&COMPLAINT[1..]) {
        say(&mut session, prompt, line);
    }
    say(&mut session, "y or n >", "1");
    session.exp_string("that is none of them: type y or n").unwrap();
    say(&mut session, "y or n >", "y");
    say(&mut session, "names >", "nonsense");
    say(&mut session, "names >", "1");
    say(&mut session, PROMPT, "%$#!");
    say(&mut session, PROMPT, "q");
    session.exp_eof().unwrap();
}
