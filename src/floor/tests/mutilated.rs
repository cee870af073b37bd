//! Mutilated texts: no panic, and who is refused is told why.

use proptest::prelude::*;

use super::super::{Tables, parse};
use super::BASE;

/// Pieces that a mutilated text is made of.
fn piece() -> impl Strategy<Value = String> {
    prop_oneof![
        "[ -~\n\t]{0,12}",
        "\\PC{0,3}",
        any::<String>().prop_map(|text| text.chars().take(8).collect()),
        prop::sample::select(vec![
            "[[",
            "]]",
            "{",
            "}",
            "\"",
            "\"\"\"",
            "'''",
            "#",
            "=",
            "\r\n",
            "\r",
            "\0",
            "\u{feff}",
            "é",
            "1e999",
            "0x7fffffffffffffff",
            "-9223372036854775808",
            "inf",
            "nan",
            "A1..ZZ9999",
            "ZZZ99999",
            "127:15:15",
            "65535",
            "4294967295",
            "1979-05-27",
            "a.b.c = 1",
            "[a.b]",
            "\n",
        ])
        .prop_map(str::to_owned),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(512))]

    /// Whatever stands in the file: no panic, and who is refused is told why.
    #[test]
    fn mutilated_text_is_refused_with_reasons_or_taken(
        edits in prop::collection::vec((any::<prop::sample::Index>(), 0_usize..20, piece()), 1..6)
    ) {
        let mut text: Vec<char> = BASE.chars().collect();
        for (at, cut, piece) in edits {
            let at = at.index(text.len() + 1);
            let end = (at + cut).min(text.len());
            text.splice(at..end, piece.chars());
        }
        judge(&text.into_iter().collect::<String>());
    }

    /// The same with numbers put in the place of numbers, which gets past the syntax.
    #[test]
    fn any_number_is_refused_or_taken(
        edits in prop::collection::vec((any::<prop::sample::Index>(), prop::sample::select(vec![
            "0", "-1", "1", "2", "170", "513", "702", "9999", "10000", "65536", "2000000", "4294967296", "0.5",
            "1e308", "-0.0", "inf", "nan", "9223372036854775807",
        ])), 1..6)
    ) {
        let places: Vec<usize> = BASE.match_indices("= ").map(|(i, _)| i + 2)
            .filter(|i| BASE.as_bytes()[*i].is_ascii_digit()).collect();
        let mut chosen: Vec<(usize, &str)> = edits.iter().map(|(at, n)| (places[at.index(places.len())], *n)).collect();
        chosen.sort_unstable();
        chosen.dedup_by_key(|(at, _)| *at);
        let mut text = BASE.to_owned();
        for (at, number) in chosen.iter().rev() {
            let end = text[*at..].find(|c: char| !c.is_ascii_digit() && c != '.').map_or(text.len(), |i| at + i);
            text.replace_range(*at..end, number);
        }
        judge(&text);
    }
}

fn judge(text: &str) {
    match parse("mutilated.toml", text) {
        Ok(floor) => {
            let tables = Tables::compile(&floor);
            let slots: usize = tables
                .outputs
                .iter()
                .flat_map(|o| &o.parts)
                .map(|part| usize::from(part.len))
                .sum();
            assert!(slots >= tables.pixels_mm.len());
        }
        Err(faults) => {
            assert!(!faults.list().is_empty());
            assert!(!faults.render(false).is_empty() && !faults.render(true).is_empty());
            assert_eq!(faults.rows().len(), faults.list().len());
        }
    }
}
