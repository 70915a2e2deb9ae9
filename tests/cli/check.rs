//! `halfsplit check`. What must be said of each mistake stands in `tests/cases/errors`; here is how it comes out.

use super::program::{GOOD, finish, program, run};
use insta::assert_snapshot;

const WARNINGS: &str = "tests/cases/errors/warnings.yaml";
const ERRORS: &str = "tests/cases/errors/unknown.yaml";

#[test]
fn a_good_file_is_counted() {
    assert_snapshot!("check_good", run(&["check", GOOD]).to_string());
    assert_snapshot!("check_good_json", run(&["check", GOOD, "--format", "json"]).to_string());
}

#[test]
fn warnings_are_drawn_and_do_no_harm() {
    assert_snapshot!("check_warnings", run(&["check", WARNINGS]).to_string());
    assert_snapshot!("check_warnings_json", run(&["check", WARNINGS, "--format", "json"]).to_string());
}

#[test]
fn all_errors_are_drawn_at_once() {
    assert_snapshot!("check_errors", run(&["check", ERRORS]).to_string());
    assert_snapshot!("check_errors_json", run(&["check", ERRORS, "--format", "json"]).to_string());
}

#[test]
fn a_file_that_is_not_there_is_said() {
    assert_snapshot!("check_missing", run(&["check", "nowhere.yaml"]).to_string());
    assert_snapshot!("check_no_file", run(&["check"]).to_string());
}

/// `--color always` draws in colour whatever the stream; `never`, a pipe and `NO_COLOR` do not (no-color.org).
#[test]
fn colour_is_drawn_where_it_is_wanted() {
    let coloured = |ran: super::program::Ran| ran.stderr.contains('\u{1b}');
    assert!(coloured(run(&["check", ERRORS, "--color", "always"])));
    assert!(!coloured(run(&["check", ERRORS, "--color", "never"])));
    assert!(!coloured(run(&["check", ERRORS])));
    assert!(!coloured(finish(program().args(["check", ERRORS]).env("NO_COLOR", "1"))));
}
