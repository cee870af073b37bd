use super::*;

/// Numbers that look random; good enough to step about with.
struct Dice(u64);

impl Dice {
    /// 0 to `below` - 1 (Knuth's MMIX constants, from memory; any full-period ones would do).
    fn roll(&mut self, below: u64) -> u64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % below
    }
}

const PANELS: u32 = 24;
const EACH: u16 = 4;

/// A floor whose switches are stepped on.
struct Evening {
    seen: Vec<SwitchSeen>,
    judge: Switches,
    now: Time,
}

impl Evening {
    fn new() -> Self {
        let of_panel = |panel| (1..=EACH).map(move |switch| (panel, switch));
        let seen = (0..PANELS)
            .flat_map(of_panel)
            .map(|(panel, switch)| SwitchSeen {
                panel,
                switch,
                down: Some(false),
                ..SwitchSeen::default()
            });
        let mut evening = Self {
            seen: seen.collect(),
            judge: Switches::new(RULES),
            now: Time::from_s(1),
        };
        evening.look();
        evening
    }

    fn look(&mut self) {
        self.judge.see(&self.seen, self.now);
    }

    fn at(&mut self, panel: u32, switch: u16) -> &mut SwitchSeen {
        &mut self.seen[(panel * u32::from(EACH)) as usize + usize::from(switch - 1)]
    }

    /// One foot, down and up again, with so many more changes of the level.
    fn step(&mut self, panel: u32, switch: u16, lasts_ms: u64, bounces: u32) {
        let since = self.now;
        let seen = self.at(panel, switch);
        seen.down = Some(true);
        seen.since = since;
        seen.presses += 1;
        seen.changes += 2 + bounces;
        seen.chattered += u32::from(bounces > 0);
        self.look();
        self.now = self.now.plus_ms(lasts_ms);
        let now = self.now;
        let seen = self.at(panel, switch);
        (seen.down, seen.since) = (Some(false), now);
        seen.ended += 1;
        seen.ended_ms += lasts_ms;
        seen.longest_ms = seen.longest_ms.max(lasts_ms);
        self.look();
    }

    /// So many minutes of people who favour some places, some of whom stand for long; every thirtieth
    /// press bounces. `sound` says whether a switch works.
    fn pass(&mut self, minutes: u64, dice: &mut Dice, sound: impl Fn(u32, u16) -> bool) {
        let until = self.now.plus_ms(minutes * 60_000);
        while self.now < until {
            let far = dice.roll(u64::from(PANELS) * 2).min(u64::from(PANELS) - 1);
            let panel = u32::try_from(far).unwrap();
            for _ in 0..=dice.roll(3) {
                let switch = 1 + u16::try_from(dice.roll(6).min(3)).unwrap();
                let lasts = 80 + dice.roll(10) * dice.roll(300);
                if sound(panel, switch) {
                    self.step(panel, switch, lasts, u32::from(dice.roll(30) == 0));
                }
                self.now = self.now.plus_ms(300 + dice.roll(2_000));
            }
            self.look();
        }
    }

    fn found(&mut self) -> Vec<(u32, u16, Cause)> {
        let found = self.judge.findings(self.now);
        let place = |one: &SwitchFinding| (one.panel, one.switch, one.cause);
        found.iter().map(place).collect()
    }
}

#[test]
fn sound_switches_under_uneven_feet_are_left_alone() {
    for seed in 1..=6 {
        let mut evening = Evening::new();
        let mut dice = Dice(seed);
        for _ in 0..4 {
            evening.pass(60, &mut dice, |_, _| true);
            assert_eq!(evening.found(), [], "seed {seed}");
        }
    }
}

#[test]
fn what_stays_pressed_while_others_come_and_go_is_stuck() {
    let mut evening = Evening::new();
    let mut dice = Dice(7);
    evening.pass(30, &mut dice, |_, _| true);
    let now = evening.now;
    let seen = evening.at(3, 2);
    (seen.down, seen.since) = (Some(true), now);
    seen.presses += 1;
    seen.changes += 1;
    evening.pass(9, &mut dice, |panel, switch| (panel, switch) != (3, 2));
    assert_eq!(evening.found(), [], "somebody may stand there");
    evening.pass(3, &mut dice, |panel, switch| (panel, switch) != (3, 2));
    assert_eq!(evening.found(), [(3, 2, Cause::SwitchStuck)]);
    let finding = evening.judge.findings(evening.now).remove(0);
    assert_eq!(finding.since, now);
    assert!(finding.chance > 0.999, "{}", finding.chance);
    assert!(
        finding
            .evidence
            .starts_with("Pressed for 12 minutes, while")
    );
    // It lets go.
    let now = evening.now;
    let seen = evening.at(3, 2);
    (seen.down, seen.since) = (Some(false), now);
    evening.look();
    assert_eq!(evening.found(), []);
}

/// An empty floor tells nothing: something may stand on it since it was laid.
#[test]
fn nothing_is_stuck_where_nobody_comes() {
    let mut evening = Evening::new();
    evening.pass(30, &mut Dice(9), |_, _| true);
    let now = evening.now;
    let seen = evening.at(0, 1);
    (seen.down, seen.since) = (Some(true), now);
    evening.look();
    evening.now = now.plus_ms(3_600_000);
    evening.look();
    assert_eq!(evening.found(), []);
}

#[test]
fn what_is_never_pressed_though_its_panel_is_visited_is_dead() {
    let mut evening = Evening::new();
    let mut dice = Dice(11);
    let sound = |panel, switch| (panel, switch) != (23, 4);
    let mut hours = 0;
    while evening.found().is_empty() && hours < 24 {
        evening.pass(60, &mut dice, sound);
        hours += 1;
    }
    assert_eq!(evening.found(), [(23, 4, Cause::SwitchDead)], "{hours} h");
    // One press takes it back.
    evening.step(23, 4, 200, 0);
    assert_eq!(evening.found(), []);
}

/// 96 switches, 1/16 a visit, 1e-3 in all: ln(1e-3 / 96) / ln(15/16) = 177.7 (by hand).
#[test]
fn a_dead_switch_needs_178_visits_on_this_floor() {
    let mut evening = Evening::new();
    for visit in 0..180 {
        let expected = visit >= 178;
        let found = evening.found().contains(&(0, 4, Cause::SwitchDead));
        assert_eq!(found, expected, "after {visit} visits");
        for switch in [1, 2, 3, 1, 2, 3] {
            evening.step(0, switch, 200, 0);
        }
        evening.now = evening.now.plus_ms(RULES.visit_ms + 1);
        evening.look();
    }
}

/// Many steps of one person are one visit.
#[test]
fn somebody_who_dances_on_one_corner_proves_nothing() {
    let mut evening = Evening::new();
    for _ in 0..5_000 {
        evening.step(0, 1, 200, 0);
        evening.now = evening.now.plus_ms(500);
    }
    assert_eq!(evening.found(), []);
}

#[test]
fn one_that_chatters_far_more_than_the_others_is_named() {
    let mut evening = Evening::new();
    let mut dice = Dice(13);
    evening.pass(60, &mut dice, |_, _| true);
    for _ in 0..20 {
        evening.step(5, 1, 300, 8);
        evening.now = evening.now.plus_ms(2_000);
    }
    assert_eq!(evening.found(), [(5, 1, Cause::SwitchChatters)]);
    let finding = evening.judge.findings(evening.now).remove(0);
    assert!(finding.chance > 0.999 && finding.chance <= 1.0);
    assert!(
        finding.evidence.contains("times a press, theirs 2.0 times"),
        "{}",
        finding.evidence
    );
}

#[test]
fn where_all_chatter_none_is_named() {
    let mut evening = Evening::new();
    let mut dice = Dice(17);
    for _ in 0..3_000 {
        let panel = u32::try_from(dice.roll(PANELS.into())).unwrap();
        let switch = 1 + u16::try_from(dice.roll(4)).unwrap();
        evening.step(panel, switch, 200, u32::from(dice.roll(2) == 0));
        evening.now = evening.now.plus_ms(400);
    }
    assert_eq!(evening.found(), []);
}

/// A node that is silent says nothing of its switches, so its silence is no evidence.
#[test]
fn unknown_switches_miss_no_visits_and_are_not_stuck() {
    let mut evening = Evening::new();
    for switch in 2..=4 {
        evening.at(0, switch).down = None;
    }
    for _ in 0..400 {
        evening.step(0, 1, 200, 0);
        evening.now = evening.now.plus_ms(RULES.visit_ms + 1);
        evening.look();
    }
    assert_eq!(evening.found(), []);
}

#[test]
fn another_floor_begins_anew() {
    let mut evening = Evening::new();
    for _ in 0..200 {
        for switch in 1..=3 {
            evening.step(0, switch, 200, 0);
        }
        evening.now = evening.now.plus_ms(RULES.visit_ms + 1);
        evening.look();
    }
    assert_eq!(evening.found(), [(0, 4, Cause::SwitchDead)]);
    let fewer = evening.seen[..8].to_vec();
    evening.judge.see(&fewer, evening.now);
    assert_eq!(evening.found(), []);
}

/// `tests/vectors/chances.json`: tails of the F distribution by scipy.stats.
#[test]
fn long_presses_are_as_rare_as_scipy_says() {
    let text = include_str!("../../../tests/vectors/chances.json");
    let all: serde_json::Value = serde_json::from_str(text).unwrap();
    for row in all["longer"].as_array().unwrap() {
        let number = |at: usize| row[at].as_f64().unwrap();
        let ended = u32::try_from(row[1].as_u64().unwrap()).unwrap();
        let found = longer_than(number(0), ended, number(2));
        assert!((found / number(3) - 1.0).abs() < 1e-9, "{row}");
    }
}
