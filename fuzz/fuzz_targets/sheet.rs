//! A spreadsheet with a patch: the first byte says how large panels are and where universes begin.
#![no_main]

use libfuzzer_sys::fuzz_target;
use litfloor::cli::patch::import_bytes;
use litfloor_fuzz::MADE;

fuzz_target!(|data: &[u8]| {
    let Some((&how, sheet)) = data.split_first() else {
        return;
    };
    let alike = match how >> 1 & 3 {
        0 => None,
        1 => Some((60, 3)),
        2 => Some((512, 4)),
        _ => Some((8, 8)),
    };
    let size = alike.ok_or(&*MADE.floor);
    match import_bytes(sheet, size, u16::from(how & 1)) {
        Ok(text) => {
            let table: toml::Table = text.parse().unwrap_or_else(|why| panic!("{why}: {text}"));
            let runs = table.get("run").and_then(toml::Value::as_array);
            assert!(runs.is_some_and(|runs| !runs.is_empty()), "no runs: {text}");
        }
        Err(why) => {
            assert!(!why.trim().is_empty(), "refused without a reason");
            let wild = |letter: char| letter.is_control() && letter != '\n';
            assert!(
                !why.contains(wild),
                "the terminal is told what to do: {why:?}"
            );
        }
    }
});
