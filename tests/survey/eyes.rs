//! A person looks: what is dead, or lit though it should be dark, is found in a few questions.

use std::collections::BTreeSet;
use std::sync::Arc;

use litfloor::engine::command::Command;
use litfloor::engine::survey::about::About;
use litfloor::engine::survey::eyes::Eyes;
use litfloor::engine::survey::{By, What, Wish};

use super::bench::{Bench, floor};

/// What a person taps who sees what the nodes hold, on a floor where `dead` never light up and
/// `stuck` always do.
fn taps(
    bench: &Bench,
    eyes: &Eyes,
    dead: &BTreeSet<(usize, usize)>,
    stuck: &BTreeSet<(usize, usize)>,
) -> Vec<(String, u32)> {
    let world = &bench.world;
    let question = eyes.state().question.unwrap();
    let mut taps = Vec::new();
    for (panel, row) in world.tables.panels.iter().enumerate() {
        for segment in 0..row.segments.len() {
            let lights = row.segment(segment).any(|pixel| {
                world.tables.slots_of(pixel).iter().any(|place| {
                    let output = &world.tables.outputs[place.output as usize];
                    let node = &world.nodes[output.node.unwrap() as usize];
                    let frame = node.held(output.port_address);
                    frame.is_some_and(|frame| frame[usize::from(place.slot)] > 0)
                })
            });
            let at = (panel, segment);
            let seen = stuck.contains(&at) || (lights && !dead.contains(&at));
            let position = world.floor.panels[panel].position.to_string();
            let number = u32::try_from(segment).unwrap() + 1;
            let drawn = question.lit.iter();
            let drawn = drawn.filter(|one| one.position == position && one.segment == number);
            if (drawn.count() > 0) != seen {
                taps.push((position, number));
            }
        }
    }
    taps
}

/// Asks to the end; gives the eyes and how many questions it took.
fn ask(text: &str, dead: &[(usize, usize)], stuck: &[(usize, usize)]) -> (Eyes, u32) {
    let mut bench = Bench::new(text, 3);
    let wish = Wish {
        by: By::Eyes,
        owner: None,
    };
    bench.world.command(Command::Survey(wish)).unwrap();
    let news = bench.world.engine.survey_news().unwrap();
    let What::Begun(brief) = news.what else {
        panic!("{news:?}")
    };
    let about = About {
        positions: None,
        weak: false,
        level: 128,
    };
    let floor = Arc::clone(&bench.world.floor);
    let mut eyes = Eyes::new(floor, &bench.world.tables, brief, news.run, &about).unwrap();
    let (dead, stuck) = (
        dead.iter().copied().collect(),
        stuck.iter().copied().collect(),
    );
    let mut asked = 0;
    let mut undone = false;
    while let Some(light) = eyes.light() {
        bench.world.command(Command::SurveyLight(light)).unwrap();
        bench.pass(2_000, |world| {
            world.assert_within_limits();
        });
        let number = eyes.state().question.unwrap().number;
        let taps = taps(&bench, &eyes, &dead, &stuck);
        // A wrong tap in the second question is taken back.
        if number == 2 && !undone {
            undone = true;
            eyes.answer(2, &[("A1".to_owned(), 1), ("A1".to_owned(), 2)], 1.0)
                .unwrap();
            assert_eq!(eyes.answer(2, &[], 1.0).unwrap_err().code, "not_open");
            eyes.undo(3).unwrap();
            continue;
        }
        let none = [("Z9".to_owned(), 1)];
        assert_eq!(
            eyes.answer(number, &none, 1.0).unwrap_err().code,
            "no_such_segment"
        );
        eyes.answer(number, &taps, 1.0).unwrap();
        asked += 1;
    }
    (eyes, asked)
}

#[test]
fn a_person_finds_what_is_dead_and_what_is_stuck_in_a_few_questions() {
    let (eyes, asked) = ask(&floor(&[]), &[(0, 1), (0, 2), (5, 3)], &[(6, 0)]);
    let outcome = eyes.state().outcome.unwrap();
    let named = |found: &[litfloor::engine::survey::state::FoundItem]| -> Vec<(String, u32)> {
        let named = found.iter().map(|one| (one.position.clone(), one.segment));
        named.collect()
    };
    let dead = [("A1", 2), ("A1", 3), ("B2", 4)].map(|(at, segment)| (at.to_owned(), segment));
    assert_eq!(named(&outcome.dead), dead);
    assert_eq!(named(&outcome.stuck), [("C2".to_owned(), 1)]);
    assert_eq!((outcome.unknown, asked), (0, 4), "{}", outcome.text);
    // With nothing to see there is nothing to ask again.
    let (eyes, asked) = ask(&floor(&[]), &[], &[]);
    let state = eyes.state();
    assert_eq!((state.decided, state.items, asked), (32, 32, 3));
    assert!(state.outcome.unwrap().dead.is_empty());
}

/// Limits that leave light for three segments of a feed at a time ask for more looks, each within them.
#[test]
fn limits_are_kept_by_asking_more_often() {
    let text = floor(&[]).replace("fuse_a = 10", "fuse_a = 0.85");
    let (eyes, asked) = ask(&text, &[(3, 0)], &[]);
    let outcome = eyes.state().outcome.unwrap();
    assert_eq!((outcome.dead.len(), outcome.unknown), (1, 0));
    assert!(asked > 4, "{asked}");
}
