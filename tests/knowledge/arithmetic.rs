//! Reads a calculation as it is written on paper: numbers, `+ - * / ^` and brackets.

/// The value of `text`.
pub(super) fn value(text: &str) -> f64 {
    let spaced: String = text.chars().filter(|c| !c.is_whitespace()).collect();
    let mut rest = spaced.as_str();
    let value = sum(&mut rest);
    assert!(rest.is_empty(), "`{text}` goes wrong at `{rest}`");
    value
}

fn take(rest: &mut &str, sign: char) -> bool {
    let tail = rest.strip_prefix(sign);
    *rest = tail.unwrap_or(rest);
    tail.is_some()
}

fn sum(rest: &mut &str) -> f64 {
    let mut value = product(rest);
    loop {
        if take(rest, '+') {
            value += product(rest);
        } else if take(rest, '-') {
            value -= product(rest);
        } else {
            return value;
        }
    }
}

fn product(rest: &mut &str) -> f64 {
    let mut value = power(rest);
    loop {
        if take(rest, '*') {
            value *= power(rest);
        } else if take(rest, '/') {
            value /= power(rest);
        } else {
            return value;
        }
    }
}

fn power(rest: &mut &str) -> f64 {
    let base = atom(rest);
    if take(rest, '^') { base.powf(atom(rest)) } else { base }
}

fn atom(rest: &mut &str) -> f64 {
    if take(rest, '(') {
        let value = sum(rest);
        assert!(take(rest, ')'), "a bracket is not closed before `{rest}`");
        return value;
    }
    let end = rest.find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(rest.len());
    let (number, tail) = rest.split_at(end);
    *rest = tail;
    number.parse().unwrap_or_else(|_| panic!("no number before `{tail}`"))
}

#[test]
fn calculations_read_as_on_paper() {
    for (text, expected) in [("12 * 11.9 / (0.1 + 11.9)", 11.9), ("2 + 3 * 4 ^ 0.5", 8.0), ("7 - 2 - 1", 4.0)] {
        assert!((value(text) - expected).abs() < 1e-12, "{text}");
    }
}
