//! The book of repairs under `kill -9`: a process writes entries and says of each when it is done, and is
//! killed at any moment. What it said is there, whole, and no more than one entry beside.

use std::collections::BTreeSet;
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, UNIX_EPOCH};

use litfloor::store::book::{BenchEntry, Book, BookPlace, FaultState, Found, NAME, Step};

/// How often it is killed.
const KILLS: u64 = 100;

/// Where the killed process finds its book and the number of its first entry.
const BOOK: &str = "LITFLOOR_TEST_BOOK";
const FIRST: &str = "LITFLOOR_TEST_FIRST";

/// Not a test by itself: what is killed.
#[test]
#[ignore = "this is the process that is killed; the other test starts it"]
fn writes_until_it_is_killed() {
    let path = std::env::var_os(BOOK).expect("started by the other test");
    let first = std::env::var(FIRST).unwrap().parse().unwrap();
    let book = Book::open(&BookPlace::File(path.into())).unwrap();
    for number in first.. {
        write(&book, number);
        println!("written {number}");
    }
}

/// Entries of every kind take turns; each bears its number.
fn write(book: &Book, number: u64) {
    let at = UNIX_EPOCH + Duration::from_millis(1_795_771_800_000 + number);
    let text = number.to_string();
    // So many panels and places that they push each other aside.
    let (serial, position) = (format!("M{}", number % 13), format!("A{}", number % 7));
    match number % 4 {
        0 => book.note(&serial, &text, "Ida", at).unwrap(),
        1 => {
            let signature = [("red_a".to_owned(), 0.5), ("white_a".to_owned(), 1.43)];
            let test = BenchEntry {
                passed: true,
                who: "Ida".to_owned(),
                note: text,
                signature: Some(signature.into()),
            };
            book.bench(&serial, &test, at).unwrap();
        }
        2 => drop(book.place(&serial, &position, &text, at).unwrap()),
        _ => {
            let found = Found {
                key: text,
                serial: None,
                position: Some(position),
                cause: "supply_open".to_owned(),
                place: "A1".to_owned(),
                text: "dark".to_owned(),
                sure: "certain".to_owned(),
                evidence: None,
                same_place: Vec::new(),
            };
            // The process before may have been killed between writing it and saying so.
            let fault = book.found(&found, at).unwrap().unwrap_or_else(|| {
                let faults = book.faults().unwrap();
                let mut same = faults.into_iter().filter(|fault| fault.key == found.key);
                same.next().unwrap()
            });
            if fault.state != FaultState::Found {
                return;
            }
            // The step is an entry of its own, acknowledged with the fault's.
            let step = Step {
                state: FaultState::BeingRepaired,
                who: "Ida".to_owned(),
                note: String::new(),
            };
            book.step(fault.id, &step, at).unwrap();
        }
    }
}

/// The numbers of all entries that are whole in the book.
fn numbers(book: &Book) -> BTreeSet<u64> {
    let mut texts = Vec::new();
    for row in book.panels().unwrap() {
        let page = book.panel(&row.serial).unwrap().unwrap();
        texts.extend(page.notes.into_iter().map(|note| note.text));
        for bench in page.benches {
            assert_eq!(bench.signature.map_or(0, |signature| signature.len()), 2);
            texts.push(bench.note);
        }
        texts.extend(page.positions.into_iter().map(|span| span.who));
    }
    for fault in book.faults().unwrap() {
        // Its step may be what was not written any more.
        if fault.steps.len() == 2 {
            texts.push(fault.key);
        }
    }
    texts.iter().map(|text| text.parse().unwrap()).collect()
}

fn start(book: &Path, first: u64) -> Child {
    let arguments = [
        "--exact",
        "writes_until_it_is_killed",
        "--ignored",
        "--nocapture",
    ];
    Command::new(std::env::current_exe().unwrap())
        .args(arguments)
        .env(BOOK, book)
        .env(FIRST, first.to_string())
        .stdout(Stdio::piped())
        .stderr(Stdio::inherit())
        .spawn()
        .unwrap()
}

/// A random number below `most`: splitmix64, by its public description.
fn random(seed: &mut u64, most: u64) -> u64 {
    *seed = seed.wrapping_add(0x9E37_79B9_7F4A_7C15);
    let mut mixed = *seed;
    mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    (mixed ^ (mixed >> 31)) % most
}

#[test]
fn what_was_acknowledged_outlives_a_hundred_kills() {
    let directory = tempfile::tempdir_in(env!("CARGO_TARGET_TMPDIR")).unwrap();
    let path = directory.path().join(NAME);
    let mut journal = path.clone().into_os_string();
    journal.push("-journal");
    let mut seed = 20_261_127;
    let mut acknowledged = BTreeSet::new();
    let (mut before, mut first, mut halfway) = (BTreeSet::new(), 0, 0);
    for kill in 0..KILLS {
        let mut child = start(&path, first);
        let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
        let said = |line: String| {
            line.strip_prefix("written ")
                .map(|number| number.parse::<u64>().unwrap())
        };
        let wanted = random(&mut seed, 8);
        let mut heard = 0;
        // Some are killed before they have begun.
        while heard < wanted {
            let line = lines.next().expect("it writes until it is killed").unwrap();
            if let Some(number) = said(line) {
                acknowledged.insert(number);
                heard += 1;
            }
        }
        // Anywhere in what it does next.
        for _ in 0..random(&mut seed, 2_000_000) {
            std::hint::spin_loop();
        }
        child.kill().unwrap();
        child.wait().unwrap();
        // What it had said by then, too. A line that was cut off in the middle says nothing.
        acknowledged.extend(lines.map_while(Result::ok).filter_map(said));
        halfway += u32::from(std::path::Path::new(&journal).exists());

        let book = Book::open(&BookPlace::File(path.clone())).unwrap();
        let there = numbers(&book);
        let lost: Vec<_> = acknowledged.difference(&there).collect();
        assert!(
            lost.is_empty(),
            "kill {kill}: {lost:?} were acknowledged and are lost"
        );
        let more = there
            .difference(&before)
            .filter(|number| !acknowledged.contains(number));
        assert!(
            more.count() <= 1,
            "kill {kill}: it writes one after the other"
        );
        acknowledged.extend(&there);
        first = there.last().map_or(first, |last| last + 1) + 1;
        before = there;
    }
    println!(
        "{} entries, {halfway} kills in the middle of one",
        before.len()
    );
    assert!(before.len() > 100, "it wrote something");
}
