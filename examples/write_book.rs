//! Writes into a book of repairs what it reads, one JSON object a line, and answers each: `done`, or
//! `refused` and why. For tests that kill it, take its disk away, or read the file with something else.

use std::io::{self, BufRead, Write};
use std::path::PathBuf;
use std::process::ExitCode;
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use litfloor::store::book::{
    BenchEntry, Book, BookPlace, ByHand, FaultState, Found, NotDone, Signature, Step,
};
use serde::Deserialize;

/// What to write.
#[derive(Deserialize)]
#[serde(tag = "do", rename_all = "snake_case")]
enum Entry {
    Note {
        serial: String,
        text: String,
    },
    Bench {
        serial: String,
        passed: bool,
        note: String,
        signature: Option<Signature>,
    },
    Place {
        serial: String,
        position: String,
    },
    Unplace {
        position: String,
    },
    Found {
        key: String,
        position: Option<String>,
        text: String,
    },
    ByHand {
        serial: String,
        text: String,
    },
    Step {
        id: i64,
        state: FaultState,
        note: String,
    },
    Prove {
        id: i64,
    },
}

/// One line.
#[derive(Deserialize)]
struct Line {
    #[serde(flatten)]
    entry: Entry,
    /// Milliseconds since 1970.
    at_ms: u64,
    who: String,
}

fn write(book: &Book, line: Line) -> Result<(), NotDone> {
    let at: SystemTime = UNIX_EPOCH + Duration::from_millis(line.at_ms);
    let who = line.who;
    match line.entry {
        Entry::Note { serial, text } => book.note(&serial, &text, &who, at),
        Entry::Bench {
            serial,
            passed,
            note,
            signature,
        } => {
            let test = BenchEntry {
                passed,
                who,
                note,
                signature,
            };
            book.bench(&serial, &test, at)
        }
        Entry::Place { serial, position } => book.place(&serial, &position, &who, at).map(drop),
        Entry::Unplace { position } => book.unplace(&position, at).map(drop),
        Entry::Found {
            key,
            position,
            text,
        } => {
            let found = Found {
                key,
                serial: None,
                place: position.clone().unwrap_or_else(|| "the floor".to_owned()),
                position,
                cause: "supply_open".to_owned(),
                text,
                sure: "certain".to_owned(),
                evidence: Some("Survey 3 found it dead.".to_owned()),
                same_place: Vec::new(),
            };
            book.found(&found, at).map(drop)
        }
        Entry::ByHand { serial, text } => {
            let seen = ByHand {
                serial: Some(serial),
                position: None,
                text,
                who,
            };
            book.by_hand(&seen, at).map(drop)
        }
        Entry::Step { id, state, note } => {
            let step = Step { state, who, note };
            book.step(id, &step, at).map(drop)
        }
        Entry::Prove { id } => book.prove(id, "Survey 4 found it good.", at).map(drop),
    }
}

fn main() -> ExitCode {
    let Some(path) = std::env::args_os().nth(1).map(PathBuf::from) else {
        eprintln!("usage: write_book FILE");
        return ExitCode::from(2);
    };
    let book = match Book::open(&BookPlace::File(path)) {
        Ok(book) => book,
        Err(why) => {
            eprintln!("{why}");
            return ExitCode::from(1);
        }
    };
    let mut out = io::stdout();
    for line in io::stdin().lock().lines().map_while(Result::ok) {
        let line = serde_json::from_str(&line).expect("an entry as JSON");
        let told = match write(&book, line) {
            Ok(()) => writeln!(out, "done"),
            Err(why) => writeln!(out, "refused {}: {why}", why.word()),
        };
        if told.and_then(|()| out.flush()).is_err() {
            break;
        }
    }
    ExitCode::SUCCESS
}
