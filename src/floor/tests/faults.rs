//! Every fault with its code and its place.

use super::super::{Faults, parse};
use super::BASE;
use super::along_runs::ALONG_RUNS;
use super::inputs::INPUTS;
use super::single::SINGLE;
use super::trust::TRUST;

/// Edits to [`BASE`]: each replaces a text that stands there once; `‹` marks where the fault is.
pub(super) type Edits = &'static [(&'static str, &'static str)];

/// The text without marks, and line and column of each mark, counted apart from the reader.
fn marked(edits: Edits) -> (String, Vec<(usize, usize)>) {
    let mut text = BASE.to_owned();
    for (from, to) in edits {
        assert_eq!(text.matches(from).count(), 1, "{from:?} must stand once");
        text = text.replace(from, to);
    }
    let mut places = Vec::new();
    let mut clean = Vec::new();
    for (number, line) in (1..).zip(text.lines()) {
        let mut line = line.to_owned();
        while let Some(column) = line.chars().position(|c| c == '‹') {
            places.push((number, column + 1));
            line = line.replacen('‹', "", 1);
        }
        clean.push(line);
    }
    (clean.join("\n"), places)
}

fn faults(edits: Edits) -> (Faults, Vec<(usize, usize)>) {
    let (text, places) = marked(edits);
    (
        parse("test.toml", &text).expect_err("must be refused"),
        places,
    )
}

fn place(row: &super::super::FaultRow) -> (&'static str, usize, usize) {
    (row.code, row.line.unwrap(), row.column.unwrap())
}

#[test]
fn the_base_is_sound() {
    if let Err(faults) = parse("base.toml", BASE) {
        panic!("{faults}");
    }
}

#[test]
fn each_fault_has_its_code_and_its_place_and_brings_no_others() {
    let mut wrong = Vec::new();
    let all = SINGLE.iter().chain(ALONG_RUNS).chain(INPUTS).chain(TRUST);
    for (code, edits) in all {
        let (faults, places) = faults(edits);
        let found: Vec<_> = faults.rows().iter().map(place).collect();
        let expected: Vec<_> = places
            .iter()
            .map(|(line, column)| (*code, *line, *column))
            .collect();
        if found != expected {
            wrong.push(format!(
                "{edits:?}\n  expected {expected:?}\n  found {found:?}\n"
            ));
        }
        for row in faults.rows() {
            assert!(!row.help.is_empty() && !row.message.is_empty(), "{row:?}");
        }
        let drawn = faults.render(false);
        for (line, column) in places {
            assert!(
                drawn.contains(&format!("test.toml:{line}:{column}")),
                "{drawn}"
            );
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.concat());
}

#[test]
fn several_faults_come_together_in_the_order_of_the_file() {
    let (faults, places) = faults(&[
        ("[grid]\ncolumns = 2", "[grid]\ncolumns = ‹\"two\""),
        ("merge = \"htp\"", "‹marge = \"htp\""),
        ("copies = 3", "copies = ‹0"),
        ("\"GRB\"", "‹\"GRX\""),
        ("segments = [20, 20]", "segments = ‹[20, 20, 1]"),
        ("\"10.0.0.1\"", "‹\"224.0.0.1\""),
        ("[[run]]\nnode = \"south\"", "[[run]]\nnode = ‹\"soth\""),
        ("circuit = \"mains\"", "circuit = ‹\"mans\""),
        ("fuse_a = 10", "fuse_a = ‹-10"),
    ]);
    let found: Vec<_> = faults.rows().iter().map(place).collect();
    let codes = [
        "wrong-type",
        "unknown-key",
        "out-of-range",
        "bad-slots",
        "segment-sum",
        "not-one-machine",
        "unknown-name",
        "unknown-name",
        "out-of-range",
    ];
    let expected: Vec<_> = codes
        .into_iter()
        .zip(places)
        .map(|(c, (l, k))| (c, l, k))
        .collect();
    assert_eq!(found, expected);
}

#[test]
fn cross_checks_come_together_too() {
    let (faults, places) = faults(&[
        (
            "panels = [\"A2\"]",
            "panels = [\"A2\", ‹\"A1\", ‹\"B2\", ‹\"C1\"]",
        ),
        (
            "circuit = \"mains\"\nvolts = 12",
            "circuit = \"mains\"\nvolts = ‹5",
        ),
        (
            "[[feed]]\nname = \"left\"",
            "[[feed]]\nname = \"two\"\nsupply = \"main\"\nfuse_a = 1\npositions = [\"A1\"]\n[[feed]]\nname = \"left\"",
        ),
        ("\"A1..A2\", \"B1\"]", "‹\"A1..A2\", \"B1\"]"),
    ]);
    let found: Vec<_> = faults.rows().iter().map(place).collect();
    // Both feeds lead from the supply of the wrong voltage: one fault for each, at its volts.
    let codes = [
        "in-two-runs",
        "empty-position",
        "outside-grid",
        "volts-differ",
        "volts-differ",
        "in-two-feeds",
    ];
    let places = [
        places[0], places[1], places[2], places[3], places[3], places[4],
    ];
    let expected: Vec<_> = codes
        .into_iter()
        .zip(places)
        .map(|(c, (l, k))| (c, l, k))
        .collect();
    assert_eq!(found, expected);
}

#[test]
fn both_places_of_a_clash_are_shown() {
    let (faults, _) = faults(&[("panels = [\"A2\"]", "panels = [\"A2\", ‹\"A1\"]")]);
    let drawn = faults.render(false);
    assert!(
        drawn.contains("panels = [\"A1\", {") && drawn.contains("named here already"),
        "{drawn}"
    );
}

#[test]
fn slips_of_the_pen_are_guessed() {
    for (edits, guess) in [
        (
            &[("merge = \"htp\"", "marge = \"htp\"")] as Edits,
            "did you mean `merge`?",
        ),
        (
            &[("circuit = \"mains\"", "circuit = \"mians\"")],
            "did you mean \"mains\"?",
        ),
        (
            &[("\"serpentine\"", "\"serpentin\"")],
            "did you mean \"serpentine\"?",
        ),
    ] {
        let help = faults(edits).0.rows()[0].help.clone();
        assert!(help.contains(guess), "{help}");
    }
}

#[test]
fn several_broken_lines_and_a_wrong_value_come_together() {
    let (faults, places) = faults(&[
        ("copies = 3", "copies = ‹"),
        ("margin = 0.8", "margin = ‹1.5"),
        ("rated_a = 16", "rated_a 16"),
    ]);
    let found: Vec<_> = faults.rows().iter().map(place).collect();
    assert_eq!(
        found[..2],
        [
            ("syntax", places[0].0, places[0].1),
            ("out-of-range", places[1].0, places[1].1)
        ]
    );
    assert!(
        found.len() > 2
            && found[2..]
                .iter()
                .all(|(code, line, _)| *code == "syntax" && *line == found[2].1)
    );
}

#[test]
fn a_value_that_can_not_be_read_is_one_fault() {
    for edits in [
        &[("rows = 2\npanel", "rows = ‹= 3\npanel")] as Edits,
        &[("merge = \"htp\"", "merge = ‹= \"htp\"")],
        &[("empty = [\"B2\"]", "empty = ‹= [\"B2\"]")],
        &[("{ white = 20 }", "‹= { white = 20 }")],
        // Everything behind it is read as elements of the list.
        &[(
            "panels = [\"A2\"]\n[[circuit]]",
            "panels = [\"A2\"\n‹[[circuit]]",
        )],
    ] {
        let (faults, places) = faults(edits);
        let found: Vec<_> = faults.rows().iter().map(place).collect();
        assert_eq!(found, [("syntax", places[0].0, places[0].1)], "{faults}");
    }
}

#[test]
fn a_unit_behind_a_number_is_told_to_go() {
    let told = |line: &str| {
        let faults = super::super::parse("f.toml", line).unwrap_err().rows();
        let syntax = faults.iter().find(|fault| fault.code == "syntax");
        syntax.map(|fault| format!("{}; {}", fault.message, fault.help))
    };
    for (line, number, unit) in [
        ("fuse_a = 10 A", "10", "A"),
        ("volts = 12V # of the strip", "12", "V"),
        ("margin = 80 %", "80", "%"),
        ("let_up_s = 1.5 s", "1.5", "s"),
    ] {
        let expected = format!(
            "behind the number {number} stands {unit}; write {number} alone: the name of a key \
             says its unit"
        );
        assert_eq!(told(line).as_deref(), Some(expected.as_str()), "{line}");
    }
    assert!(told("name = Hall 7").is_some_and(|text| !text.contains("behind the number")));
    assert_eq!(told("name = \"10 A\""), None);
}

#[test]
fn a_decimal_comma_is_told_what_to_write() {
    for (edits, help) in [
        (
            &[("margin = 0.8", "margin = 0‹,85")] as Edits,
            "write 0.85 with a point",
        ),
        (
            &[("red = 20, ", "red = 18‹,5, ")],
            "write 18.5 with a point",
        ),
        (
            &[("rated_a = 16", "rated_a = 1‹,600")],
            "write 1.600 with a point, or 1600 if thousands are meant",
        ),
    ] {
        let (faults, places) = faults(edits);
        let row = &faults.rows()[0];
        assert_eq!(place(row), ("syntax", places[0].0, places[0].1));
        assert_eq!((faults.list().len(), row.help.as_str()), (1, help));
    }
    // In a list the comma can only be guessed from the number of elements.
    let (faults, _) = faults(&[("[400, 400]", "[400,5, 400,5]")]);
    let row = &faults.rows()[0];
    assert!(
        row.code == "wrong-count" && row.help.contains("point"),
        "{row:?}"
    );
}

#[test]
fn curly_quotes_are_told_to_be_straight() {
    for edits in [
        &[("\"Base\"", "‹“Base”")] as Edits,
        &[("\"Base\"", "‹„Base“")],
        &[("\"Base\"", "\"Base‹”")],
        &[("\"GRB\"", "‹‘GRB’ # “as sold”")],
        &[("\"A1..A2\", \"B1\"", "‹“A1..A2”, “B1”")],
    ] {
        let (faults, places) = faults(edits);
        let row = &faults.rows()[0];
        assert_eq!(place(row), ("syntax", places[0].0, places[0].1), "{faults}");
        assert_eq!(faults.list().len(), 1, "{faults}");
        assert!(row.help.contains("straight quotes"), "{row:?}");
    }
    // Within straight quotes, and in comments, they are text like any other.
    for edits in [
        &[("\"Base\"", "\"the “Base”\" ‹x")] as Edits,
        &[("copies = 3", "copies =  ‹# “three”")],
    ] {
        let (faults, places) = faults(edits);
        let row = &faults.rows()[0];
        assert_eq!(place(row), ("syntax", places[0].0, places[0].1), "{faults}");
        assert!(!row.help.contains("straight"), "{row:?}");
    }
    if let Err(faults) = parse("quoted.toml", &BASE.replace("\"Base\"", "\"“Base”\"")) {
        panic!("{faults}");
    }
}

#[test]
fn a_file_that_can_not_be_read_is_named_first() {
    let directory = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
    for path in [directory.join("no-such-floor.toml"), directory.to_owned()] {
        let faults = super::super::read(&path).expect_err("must be refused");
        let text = faults.render(false);
        let first = text.lines().next().unwrap_or_default();
        assert!(first.contains(&path.display().to_string()), "{text}");
    }
}

#[test]
fn an_empty_file_is_told_all_it_lacks() {
    let faults = parse("empty.toml", "").expect_err("must be refused");
    let codes: Vec<_> = faults.rows().iter().map(|row| row.code).collect();
    assert_eq!(
        codes
            .iter()
            .filter(|code| code.starts_with("missing"))
            .count(),
        8,
        "{codes:?}"
    );
}

#[test]
fn absurd_ranges_end_soon() {
    let many = vec!["\"A1..ZZ9999\""; 500].join(", ");
    let text = BASE
        .replace(
            "[grid]\ncolumns = 2\nrows = 2",
            "[grid]\ncolumns = 702\nrows = 9999",
        )
        .replace("[\"B2\"]", &format!("[{many}]"));
    let faults = parse("absurd.toml", &text).expect_err("must be refused");
    assert_eq!(faults.rows()[0].code, "too-many-positions");
}
