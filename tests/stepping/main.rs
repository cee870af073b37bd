//! The stepping mode against a simulated installer and someone truthful, who share no code with
//! it: what is found and named, and in how many taps.

#[path = "../daemon/mod.rs"]
mod daemon;
mod floors;
mod over_http;
mod person;

use litfloor::floor::model::Position;
use litfloor::sim::installer::{Blunder, Installed};
use litfloor::sim::link::Chance;
use litfloor::stepping::{Answer, Ask, Kept, Report, Walk, What};

use floors::{floor_of, random_floor};
use person::walk_across;

/// What a walk found of a floor with some mistakes.
struct Outcome {
    report: Report,
    taps: usize,
    panels: usize,
    walk: Walk,
}

fn walked(text: &str, installed: &Installed) -> Outcome {
    let plan = floors::read(text);
    let panels = plan.panels.len();
    let mut walk = Walk::new(plan.clone()).unwrap();
    let taps = walk_across(&mut walk, &plan, installed);
    Outcome {
        report: walk.report(),
        taps,
        panels,
        walk,
    }
}

/// Whether a difference names a mistake: its kind, and where it is.
fn names(report: &Report, blunder: &Blunder) -> bool {
    let at = |what: What, position: &Position| {
        report.differences.iter().any(|difference| {
            difference.what == what && difference.positions.contains(&position.to_string())
        })
    };
    let run = |what: What, run: usize| {
        let mut all = report.differences.iter();
        all.any(|difference| difference.what == what && difference.run == Some(run))
    };
    match blunder {
        Blunder::Swapped(a, b) => at(What::Swapped, a) && at(What::Swapped, b),
        Blunder::Turned(position, _) => at(What::Turned, position),
        Blunder::Mirrored(position) => at(What::Mirrored, position),
        Blunder::Reversed(at) => run(What::Reversed, *at),
        Blunder::Shifted(at, _) => run(What::Shifted, *at),
        Blunder::KindColours(..) => report
            .differences
            .iter()
            .any(|difference| difference.what == What::Colours),
        Blunder::PanelColours(position, _) => {
            at(What::Colours, position)
                // Of a kind with one panel it is the same thing.
                || report.differences.iter().any(|d| d.what == What::Colours && d.positions.is_empty())
        }
        Blunder::Dark(position) => at(What::Dark, position),
    }
}

#[test]
fn a_floor_as_planned_takes_one_tap_a_panel() {
    for seed in 0..40 {
        let text = random_floor(&mut Chance::new(seed));
        let installed = Installed::by_plan(&floors::read(&text));
        let outcome = walked(&text, &installed);
        assert!(
            outcome.report.differences.is_empty(),
            "{:#?}",
            outcome.report
        );
        assert_eq!(outcome.taps, outcome.panels);
    }
}

/// Whether one of the mistakes is a run wired from its other end, and another is in that run: then
/// a look may show two mistakes at once.
fn entangled(text: &str, blunders: &[Blunder]) -> bool {
    let plan = floors::read(text);
    let run_of = |position: &Position| plan.panels[plan.panel_at(*position).unwrap()].run;
    let reversed = blunders.iter().filter_map(|blunder| match blunder {
        Blunder::Reversed(run) => Some(*run),
        _ => None,
    });
    let reversed: Vec<usize> = reversed.collect();
    blunders.iter().any(|blunder| match blunder {
        Blunder::Swapped(a, b) => [a, b].iter().any(|at| reversed.contains(&run_of(at))),
        Blunder::Turned(at, _)
        | Blunder::Mirrored(at)
        | Blunder::PanelColours(at, _)
        | Blunder::Dark(at) => reversed.contains(&run_of(at)),
        Blunder::Shifted(run, _) => reversed.contains(run),
        Blunder::Reversed(_) | Blunder::KindColours(..) => false,
    })
}

/// What was found on one floor.
struct Judged {
    /// Why the report or its picture of the floor is wrong, if so.
    wrong: Option<String>,
    /// Taps beyond one for each panel.
    spare: usize,
}

fn judge(text: &str, installed: &Installed) -> Judged {
    let blunders = &installed.blunders;
    let outcome = walked(text, installed);
    let spare = outcome.taps - outcome.panels;
    let told = || format!("{blunders:?}\n {spare} taps more\n{:#?}", outcome.report);
    let named = blunders
        .iter()
        .all(|blunder| names(&outcome.report, blunder));
    let wrong = match floors::picture_is_true(text, &outcome.walk, installed) {
        Err(why) => Some(format!("{why}\n{}", told())),
        Ok(()) => (!named).then(told),
    };
    Judged { wrong, spare }
}

/// Some random floors that were walked across.
#[derive(Default)]
struct Series {
    floors: usize,
    /// What went wrong where no mistakes are entangled.
    wrong: Vec<String>,
    entangled: usize,
    entangled_wrong: usize,
    /// The most taps on one floor beyond one a panel, and the sum over all floors.
    most_spare: usize,
    all_spare: usize,
    /// Floors on which it took more than two for each mistake.
    lavish: usize,
}

/// Walks across `floors` random floors with `mistakes` random mistakes each.
fn many(floors: u64, mistakes: usize, salt: u64) -> Series {
    let mut series = Series::default();
    for seed in 0..floors {
        let mut chance = Chance::new(salt + seed);
        let text = random_floor(&mut chance);
        let mut installed = Installed::by_plan(&floors::read(&text));
        let mut tries = 0;
        while installed.blunders.len() < mistakes && tries < 200 {
            installed.random(&mut chance);
            tries += 1;
        }
        if installed.blunders.len() < mistakes {
            continue; // Too small for so many.
        }
        let knot = entangled(&text, &installed.blunders);
        let Judged { wrong, spare } = judge(&text, &installed);
        series.floors += 1;
        series.entangled += usize::from(knot);
        series.most_spare = spare.max(series.most_spare);
        series.all_spare += spare;
        series.lavish += usize::from(spare > 2 * mistakes);
        match wrong {
            Some(_) if knot => series.entangled_wrong += 1,
            Some(fault) => series.wrong.push(format!("seed {seed}: {fault}")),
            None => {}
        }
    }
    println!(
        "{mistakes} mistakes on each of {} floors: {} wrong; of {} entangled {}; taps beyond one \
         a panel: {}, at most {}; more than two for each mistake on {}",
        series.floors,
        series.wrong.len(),
        series.entangled,
        series.entangled_wrong,
        series.all_spare,
        series.most_spare,
        series.lavish,
    );
    series
}

#[test]
fn two_hundred_random_mistakes_are_found_and_named() {
    let series = many(200, 1, 1_000);
    assert!(series.wrong.is_empty(), "{}", series.wrong.join("\n"));
    assert_eq!((series.floors, series.entangled), (200, 0));
    assert!(series.most_spare <= 2, "{}", series.most_spare);
}

#[test]
fn two_mistakes_on_one_floor_are_found_and_named() {
    let series = many(100, 2, 50_000);
    assert!(series.wrong.is_empty(), "{}", series.wrong.join("\n"));
    // Measured: 10 floors have entangled mistakes, 3 of them go wrong; 2 floors take more than two
    // taps for each mistake, 9 at most.
    assert_eq!((series.floors, series.entangled), (100, 10));
    assert!(series.entangled_wrong <= 3, "{}", series.entangled_wrong);
    assert!(series.lavish <= 2, "{} floors", series.lavish);
    assert!(series.most_spare <= 9, "{} taps", series.most_spare);
}

#[test]
fn most_of_three_mistakes_on_one_floor_are_found_and_named() {
    let series = many(100, 3, 90_000);
    // Measured: of 100 floors, 22 of them with entangled mistakes, 10 go wrong; 5 take more than two
    // taps for each mistake, 18 at most.
    assert_eq!(series.floors, 100);
    let wrong = series.wrong.len() + series.entangled_wrong;
    assert!(wrong <= 10, "{wrong}\n{}", series.wrong.join("\n"));
    assert!(series.lavish <= 5, "{} floors", series.lavish);
    assert!(series.most_spare <= 18, "{} taps", series.most_spare);
}

#[test]
fn a_floor_of_five_hundred_panels_is_walked() {
    let mut chance = Chance::new(5);
    let text = floor_of(&mut chance, 25, 20);
    let mut installed = Installed::by_plan(&floors::read(&text));
    let (a, b) = ("C3".parse().unwrap(), "X17".parse().unwrap());
    assert!(installed.blunder(Blunder::Swapped(a, b)));
    let Judged { wrong, spare } = judge(&text, &installed);
    assert_eq!(wrong, None);
    assert!(spare <= 2);
}

#[test]
fn a_walk_is_taken_back_and_gone_on_with() {
    let text = floor_of(&mut Chance::new(9), 4, 2);
    let plan = floors::read(&text);
    let mut installed = Installed::by_plan(&plan);
    assert!(installed.blunder(Blunder::Turned("B1".parse().unwrap(), 90)));
    let mut walk = Walk::new(plan.clone()).unwrap();
    assert!(!walk.undo(), "nothing was answered yet");
    walk_across(&mut walk, &plan, &installed);
    let report = walk.report();
    let kept = serde_json::to_string(&walk.kept()).unwrap();
    let again = Walk::resume(plan.clone(), &serde_json::from_str(&kept).unwrap()).unwrap();
    assert_eq!(again.report(), report);
    assert_eq!(again.question(), None);
    // Taken back to the beginning, and all answered once more.
    let mut questions = Vec::new();
    while walk.undo() {
        questions.push(walk.question().unwrap());
    }
    assert_eq!(walk.question(), Walk::new(plan).unwrap().question());
    for answer in serde_json::from_str::<Kept>(&kept).unwrap().answers {
        assert_eq!(walk.question(), questions.pop());
        walk.answer(answer).unwrap();
    }
    assert_eq!(walk.report(), report);
}

#[test]
fn contradicting_answers_are_said_to_be_so() {
    let text = floor_of(&mut Chance::new(3), 3, 2);
    let plan = floors::read(&text);
    let mut walk = Walk::new(plan.clone()).unwrap();
    for wrong in [
        Answer::Drawing { drawing: 99 },
        Answer::Panel {
            position: "Z9".to_owned(),
        },
        Answer::Panel {
            position: "\0".to_owned(),
        },
        Answer::Point {
            position: "A1".to_owned(),
            x_mm: f64::NAN,
            y_mm: 1e300,
        },
    ] {
        assert!(walk.answer(wrong).is_err());
    }
    assert_eq!(walk.progress().taps, 0);
    // The same panel lights, whatever is sent.
    let mut taps = 0;
    while let Some(question) = walk.question() {
        let position = "A1".to_owned();
        let answer = match question.ask {
            Ask::Look => Answer::Panel { position },
            Ask::Tap => Answer::Point {
                position,
                x_mm: 399.0,
                y_mm: 1.0,
            },
            Ask::Colour => Answer::Colour {
                colour: litfloor::pattern::Light::Red,
            },
        };
        walk.answer(answer).unwrap();
        taps += 1;
        assert!(taps < 200, "it never ends");
    }
    let report = walk.report();
    let mut all = report.differences.iter();
    assert!(
        all.any(|difference| difference.what == What::Unexplained),
        "{report:#?}"
    );
    // Whatever comes of it is sound, or is refused with a reason.
    if let Ok(corrected) = walk.corrected("plan.toml", &text) {
        floors::read(&corrected.text);
    }
    assert!(walk.answer(Answer::Nothing).is_err(), "it is over");
}
