//! Many made-up shows in which joints open: `cargo run --release --example step_trials`.
//!
//! `step_trials ROW TRIALS FIRST` runs so many trials of the rows whose name holds ROW, from that seed on.
//! Seeds below 4,000,000 were used while rules were chosen; those from there on were not.

#[path = "../tests/support/dice.rs"]
#[expect(dead_code, reason = "others need more of it")]
mod dice;
#[path = "../tests/support/stepped.rs"]
mod stepped;

use dice::Dice as Chance;
use stepped::{Content, Event, Kind, LooseJoint, Stage, feeds, one_sensor, show, walk};

/// The first seed that no rule was chosen by.
const FRESH: u64 = 4_000_000;

/// One joint of each kind opens.
fn event(stage: &Stage, chance: &mut Chance, at_s: f64) -> Event {
    let group = chance.below(stage.groups.len());
    Event {
        group,
        at_s,
        share: 0.0,
        held: stage.groups[group].holds && chance.even() < 0.5,
        until_s: f64::INFINITY,
    }
}

/// Mean level of what an event takes, in the seconds after it.
fn lit(stage: &Stage, event: &Event, for_s: u32) -> f64 {
    let mut sum = 0.0;
    for tenth in 0..for_s * 10 {
        let levels = stage.levels(event.at_s + f64::from(tenth) / 10.0);
        let takes = &stage.groups[event.group].takes;
        let mean = takes.iter().map(|item| levels[*item as usize]).sum::<f64>();
        sum += mean / f64::from(u32::try_from(takes.len()).unwrap());
    }
    sum / f64::from(for_s * 10)
}

#[derive(Default)]
struct Sums {
    trials: u32,
    lit: u32,
    named: u32,
    named_10: u32,
    noticed_1: u32,
    noticed_2: u32,
    panel_10: u32,
    wrong: u32,
    wrong_certain: u32,
    wrong_panel_certain: u32,
    times: Vec<f64>,
}

fn percent(part: u32, of: u32) -> f64 {
    100.0 * f64::from(part) / f64::from(of.max(1))
}

fn one_opens(name: &str, kind: Kind, only_supply: bool, end_s: f64, trials: u64, first: u64) {
    let mut sums = Sums::default();
    for seed in first..first + trials {
        let mut stage = Stage::new(kind, seed);
        let mut chance = Chance::new(seed ^ 0x0be4);
        let mut event = event(&stage, &mut chance, 0.0);
        while only_supply && stage.groups[event.group].holds {
            event = self::event(&stage, &mut chance, 0.0);
        }
        event.at_s = chance.even();
        let is_lit = lit(&stage, &event, 10) >= 0.1;
        let shown = show(&mut stage, 20.0, end_s, &[event], |_, _| {});
        sums.trials += 1;
        let truth = &stage.groups[event.group];
        // A data joint before the same items of the same panel can't be told from one of the supply.
        let right = |items: &[u32]| items == truth.takes;
        let mut named_s = None;
        for (s, one) in &shown.opened {
            if right(&one.items) && one.panel == truth.panel {
                named_s.get_or_insert(s - event.at_s);
            } else {
                sums.wrong += 1;
                sums.wrong_certain += u32::from(one.chance >= 0.999);
                if one.panel != truth.panel {
                    sums.wrong_panel_certain += u32::from(one.chance >= 0.999);
                    println!("  {seed}: {one:?} instead of {truth:?} {event:?}");
                }
            }
        }
        for (_, panel, sure) in &shown.panels {
            if *panel != truth.panel {
                sums.wrong_panel_certain += u32::from(*sure >= 0.999);
                println!("  {seed}: panel {panel} {sure} instead of {truth:?}");
            }
        }
        if is_lit {
            sums.lit += 1;
            sums.named += u32::from(named_s.is_some());
            sums.named_10 += u32::from(named_s.is_some_and(|s| s <= 10.0));
            sums.noticed_1 += u32::from(shown.noticed_s.is_some_and(|s| s <= 1.0));
            sums.noticed_2 += u32::from(shown.noticed_s.is_some_and(|s| s <= 2.0));
            let in_panel = shown
                .panels
                .iter()
                .any(|(s, panel, _)| *panel == truth.panel && s - event.at_s <= 10.0);
            sums.panel_10 += u32::from(in_panel || named_s.is_some_and(|s| s <= 10.0));
            sums.times.extend(named_s);
            if named_s.is_none_or(|s| s > 10.0) {
                println!(
                    "  {seed}: late {named_s:?}, lit {:.2}, takes {:?}, held {}: {:?}",
                    lit(&stage, &event, 10),
                    (truth.panel, truth.takes.len()),
                    event.held,
                    shown.last
                );
            }
        }
    }
    sums.times.sort_by(f64::total_cmp);
    let at = |share: f64| {
        let last = sums.times.len().saturating_sub(1);
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            clippy::cast_precision_loss,
            reason = "a place in a short list"
        )]
        let place = (share * last as f64).round() as usize;
        sums.times.get(place).copied().unwrap_or(f64::NAN)
    };
    println!(
        "{name}: {} trials, {} lit; named within 10 s {:.1} %, at all {:.1} %, median {:.1} s, 95 % {:.1} s; \
         noticed within 1 s {:.1} %, 2 s {:.1} %; panel or more within 10 s {:.1} %; \
         named wrongly {}, certain {}; wrong panel called certain {}",
        sums.trials,
        sums.lit,
        percent(sums.named_10, sums.lit),
        percent(sums.named, sums.lit),
        at(0.5),
        at(0.95),
        percent(sums.noticed_1, sums.lit),
        percent(sums.noticed_2, sums.lit),
        percent(sums.panel_10, sums.lit),
        sums.wrong,
        sums.wrong_certain,
        sums.wrong_panel_certain
    );
}

/// Two joints of the supply open within some seconds, on one feed.
fn two_open(name: &str, kind: Kind, trials: u64, first: u64) {
    let (mut both, mut wrong, mut certain) = (0, 0, 0);
    for seed in first..first + trials {
        let mut stage = Stage::new(kind, seed);
        let mut chance = Chance::new(seed ^ 0x02be);
        let mut events: Vec<Event> = Vec::new();
        while events.len() < 2 {
            let group = chance.below(stage.groups.len());
            let panel = stage.groups[group].panel;
            let other = events.first().map(|one| stage.groups[one.group].panel);
            let fits = other.is_none_or(|other| other != panel && other / 8 == panel / 8);
            if !stage.groups[group].holds && fits {
                events.push(Event {
                    group,
                    at_s: if other.is_some() {
                        4.0 * chance.even()
                    } else {
                        0.0
                    },
                    share: 0.0,
                    held: false,
                    until_s: f64::INFINITY,
                });
            }
        }
        let shown = show(&mut stage, 20.0, events[1].at_s + 10.0, &events, |_, _| {});
        let is = |items: &[u32], event: &Event| items == stage.groups[event.group].takes;
        let named = events.iter().all(|event| {
            let mut last = shown.last.opened.iter();
            last.any(|one| is(&one.items, event))
        });
        both += u32::from(named);
        for (_, one) in &shown.opened {
            if !events.iter().any(|event| is(&one.items, event)) {
                wrong += 1;
                certain += u32::from(one.chance >= 0.999);
                println!("  {seed}: {one:?} instead of {events:?}");
            }
        }
        if !named {
            println!("  {seed}: {:?} by {:?}", events, shown.last);
        }
    }
    println!(
        "{name}: {trials} trials; both named 10 s after the second {both}, named wrongly {wrong}, certain {certain}"
    );
}

/// Hours in which nothing opens; sensors may jump.
fn nothing_opens(name: &str, kind: Kind, jumps: bool, trials: u64, first: u64) {
    let (mut opened, mut panels, mut unclear, mut sensors) = (0, 0, 0, 0);
    for seed in first..first + trials {
        let mut stage = Stage::new(kind, seed);
        let mut chance = Chance::new(seed ^ 0x1a5f);
        let shown = show(&mut stage, 60.0, 540.0, &[], |stage, _| {
            // Once in five minutes.
            if jumps && chance.even() < 0.1 / 300.0 {
                let sensor = chance.below(stage.kind.sensors);
                if chance.even() < 0.5 {
                    let offset_a = stage.kind.full_a * 2.0 * chance.normal();
                    stage.jump(sensor, offset_a, 0.0);
                } else {
                    stage.jump(sensor, 0.0, 0.05 * chance.normal());
                }
            }
        });
        opened += shown.opened.len();
        panels += shown.panels.len();
        unclear += shown.unclear;
        sensors += shown.sensors;
        if !shown.opened.is_empty() || !shown.panels.is_empty() {
            println!("  {seed}: {:?} {:?}", shown.opened, shown.panels);
        }
    }
    println!(
        "{name}: {:.1} hours; named {opened}, panels {panels}, seconds unclear {unclear}, sensors found changed {sensors}",
        f64::from(u32::try_from(trials).unwrap()) / 6.0
    );
}

/// People walk over a floor with so many loose joints, each in a panel and on a feed of its own or not.
fn feet(name: &str, kind: Kind, joints: usize, most_s: f64, trials: u64, first: u64) {
    let (mut found, mut all, mut wrong, mut certain, mut opened, mut elsewhere) =
        (0, 0, 0, 0, 0, 0);
    let (mut right_segment, mut wrong_segment) = (0, 0);
    let mut presses = Vec::new();
    for seed in first..first + trials {
        let mut stage = Stage::new(kind, seed);
        let mut chance = Chance::new(seed ^ 0x0fee);
        let mut loose: Vec<LooseJoint> = Vec::new();
        while loose.len() < joints {
            let group = chance.below(stage.groups.len());
            let panel = stage.groups[group].panel;
            // Joints of the supply within a panel: those that feet move.
            let taken = loose
                .iter()
                .any(|one| stage.groups[one.group].panel == panel);
            if !stage.groups[group].holds && !taken {
                loose.push(LooseJoint { group, often: 0.9 });
            }
        }
        let walked = walk(&mut stage, 6, &loose, 30, most_s);
        for (at, joint) in loose.iter().enumerate() {
            all += 1;
            match walked.found[at] {
                Some((count, _, segment)) if count <= 30 => {
                    found += 1;
                    presses.push(count);
                    let first = stage.groups[joint.group].takes[0] % 4;
                    right_segment += u32::from(segment == Some(first));
                    wrong_segment += u32::from(segment.is_some_and(|told| told != first));
                }
                other => println!("  {seed}: {joint:?} {other:?} after {:?}", walked.presses),
            }
        }
        wrong += walked.wrong.len();
        certain += walked.wrong.iter().filter(|one| one.2 >= 0.999).count();
        opened += walked.opened.len();
        elsewhere += (walked.opened.iter())
            .filter(|(_, one)| {
                let mut panels = loose.iter().map(|one| stage.groups[one.group].panel);
                panels.all(|panel| panel != one.panel)
            })
            .count();
        if !walked.wrong.is_empty() || !walked.opened.is_empty() {
            println!("  {seed}: wrong {:?} {:?}", walked.wrong, walked.opened);
        }
        if seed == first {
            println!("  {}", walked.words);
        }
    }
    presses.sort_unstable();
    let at = |share: usize| {
        presses.get((presses.len() * share / 100).min(presses.len().saturating_sub(1)))
    };
    println!(
        "{name}: found within 30 presses {found} of {all}, segment right {right_segment}, wrong {wrong_segment}, \
         presses median {:?}, 90 % {:?}; other panels called loose {wrong} ({certain} certain), called open for good {opened}, elsewhere {elsewhere}",
        at(50),
        at(90)
    );
}

fn main() {
    let mut arguments = std::env::args().skip(1);
    let row = arguments.next().unwrap_or_default();
    let trials: Option<u64> = arguments.next().and_then(|text| text.parse().ok());
    let first = arguments.next().and_then(|text| text.parse().ok());
    let first = first.unwrap_or(FRESH);
    let asked = |name: &str| name.contains(&row);
    let many = |trials_of: u64| trials.unwrap_or(trials_of);
    if asked("feeds-moving") {
        one_opens("feeds-moving", feeds(), false, 20.0, many(1_000), first);
    }
    if asked("feeds-two") {
        two_open("feeds-two", feeds(), many(100), first);
    }
    let panels = Kind {
        content: Content::Panels,
        ..feeds()
    };
    if asked("feeds-panels") {
        one_opens("feeds-panels", panels, true, 20.0, many(300), first);
    }
    let swell = Kind {
        content: Content::Swell,
        ..feeds()
    };
    if asked("feeds-swell") {
        one_opens("feeds-swell", swell, false, 30.0, many(100), first);
    }
    if asked("one-sensor") {
        one_opens("one-sensor", one_sensor(), false, 60.0, many(20), first);
    }
    // Two feeds of such a floor, so that people are close together.
    let crowded = Kind {
        panels: 16,
        sensors: 2,
        ..feeds()
    };
    if asked("feet-feeds") {
        feet("feet-feeds", crowded, 1, 3_000.0, many(200), first);
    }
    if asked("feet-two") {
        feet("feet-two", crowded, 2, 3_000.0, many(50), first);
    }
    if asked("feet-none") {
        feet("feet-none", crowded, 0, 1_800.0, many(20), first);
    }
    if asked("nothing-feeds") {
        nothing_opens("nothing-feeds", feeds(), false, many(60), first);
    }
    if asked("nothing-jumps") {
        nothing_opens("nothing-jumps", feeds(), true, many(60), first);
    }
}
